"""What the records say, and with what certainty: a posterior over everything unknown of one tank."""

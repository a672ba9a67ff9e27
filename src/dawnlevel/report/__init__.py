"""What leaves the house on paper: charts built from the desk's view models."""

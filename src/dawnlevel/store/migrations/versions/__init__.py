"""The steps, in the order their `down_revision` gives."""

"""Practice: the same pages on a simulated tank, whose time passes only when a button says so."""

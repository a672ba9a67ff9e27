"""A keeper beside a practice tank: the same use cases on a tank whose time can be moved."""

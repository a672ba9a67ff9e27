"""What lives in the tank: the ceiling, oxygen, and what a fault would do."""

"""What stands around the tank: cylinder, room, solutions, meters and kits."""

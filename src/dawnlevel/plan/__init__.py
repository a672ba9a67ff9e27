"""What to do next: the band, the hours ahead, the day's schedule, the needle, the fish."""

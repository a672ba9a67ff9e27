"""Who is let in: hosts, devices, pairing, sessions, form tokens, limits and headers."""

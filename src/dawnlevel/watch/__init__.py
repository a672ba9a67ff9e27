"""What changed: control charts, change points, and what a long log of a probe tells of the probe itself."""

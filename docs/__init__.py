"""Pages about Dawnlevel; some are written by `python -m docs.generate`."""

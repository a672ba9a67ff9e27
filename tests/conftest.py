"""What holds for all tests: none of them fails for being slow on a busy machine."""

from hypothesis import settings

settings.register_profile("untimed", deadline=None)  # speed is measured in benchmarks/
settings.load_profile("untimed")

"""The command line: parse, call one use case, show what it returned.

Only what a command needs is imported, so that help comes at once.
"""

import sys


def main() -> None:
    """Run `dawnlevel` with the process's arguments and leave with its exit code."""
    from dawnlevel.cli.app import run  # noqa: PLC0415 - importing the package must cost nothing

    sys.exit(run(sys.argv[1:]))

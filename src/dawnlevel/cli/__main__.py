"""`python -m dawnlevel.cli` is the command `dawnlevel`."""

from dawnlevel.cli import main

main()

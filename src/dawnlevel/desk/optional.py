"""Packages of the optional extras: imported where they are used, with the cure where they are missing."""

import importlib
from typing import Any

from dawnlevel.errors import NotInstalledError


def needed(module: str, what_for: str, extra: str) -> Any:  # noqa: ANN401 - a module
    """The module of a package that `extra` brings; NotInstalledError where it is not there."""
    try:
        return importlib.import_module(module)
    except ImportError as error:
        raise NotInstalledError(what_for, module.partition(".")[0], extra) from error

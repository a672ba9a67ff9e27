"""Where the tests find the published data files that are not part of this repository."""

import os
from pathlib import Path

import pytest

_BESIDE = Path(__file__).resolve().parents[2] / "shared" / "reference" / "data"


def data_file(name: str) -> Path:
    """The published data file `name`; the test is skipped, with the reason, where it is absent.

    Looked for in the folder that DAWNLEVEL_REFERENCE_DATA names, else in ../shared/reference/data.
    """
    folder = Path(os.environ.get("DAWNLEVEL_REFERENCE_DATA", _BESIDE))
    path = folder / name
    if not path.exists():
        pytest.skip(f"published data file {name} is not in {folder} (set DAWNLEVEL_REFERENCE_DATA)")
    return path

"""What figures were measured on, and with which source."""

import hashlib
import os
import platform
from collections.abc import Sequence
from importlib.metadata import version
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


def machine(packages: Sequence[str]) -> dict[str, object]:
    """Processor, load, system, Python and the versions of `packages`."""
    return {
        "processor": _processor(),
        "cores": os.cpu_count(),
        "load_1_min": round(os.getloadavg()[0], 2) if hasattr(os, "getloadavg") else None,
        "system": f"{platform.system()} {platform.machine()}",
        "python": platform.python_version(),
        "versions": {name: version(name) for name in packages},
    }


def _processor() -> str:
    """The processor's name, as far as the system tells it."""
    information = Path("/proc/cpuinfo")
    if information.exists():
        lines = information.read_text("utf-8").splitlines()
        named = [line.partition(":")[2].strip() for line in lines if line.startswith("model name")]
        if named:
            return named[0]
    return platform.processor() or platform.machine()


def source_digest() -> str:
    """A short digest of the program's and the benchmarks' source: figures of one digest belong together."""
    digest = hashlib.sha256()
    for folder in (ROOT / "src" / "dawnlevel", ROOT / "benchmarks"):
        for path in sorted(folder.rglob("*.py")):
            digest.update(path.relative_to(ROOT).as_posix().encode())
            digest.update(path.read_bytes())
    return digest.hexdigest()[:12]

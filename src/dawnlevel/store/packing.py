"""Minutes packed for the store: differences from one to the next, byte by byte in planes, deflated.

pH is kept to 0.001 and temperature to 0.01 degC: finer than any probe of the trade is stable (judgement). A
year of minutes takes about as many bytes as it has readings.

The packed form: three rows of whole numbers (minutes since 1970-01-01T00:00Z, pH in thousandths, temperature
in hundredths of a degree C or -32768 for none); of each row its first value and then the differences, signs
folded into the last bit (0, -1, 1, -2 ... become 0, 1, 2, 3 ...); as 32-bit little-endian numbers; of these
first every lowest byte, then every second one and so on, row by row; deflated as by zlib (RFC 1950).
"""

import hashlib
import zlib

import numpy as np
import numpy.typing as npt

from dawnlevel.tank.samples import Samples

Rows = npt.NDArray[np.int64]
PH_PARTS, TEMP_PARTS_C = 1000, 100
NO_TEMP = -32768


def rounded(samples: Samples) -> Rows:
    """Readings as the store keeps them, shape (3, n): minutes, thousandths of a pH, hundredths of a degC."""
    has_temp = ~np.isnan(samples.temp_c)
    warm = np.where(has_temp, np.round(np.where(has_temp, samples.temp_c, 0.0) * TEMP_PARTS_C), NO_TEMP)
    return np.stack(
        [samples.minute_utc, np.round(samples.ph * PH_PARTS).astype(np.int64), warm.astype(np.int64)]
    )


def as_samples(rows: Rows) -> Samples:
    """The readings that rows of whole numbers, shape (3, n), stand for."""
    warm = np.where(rows[2] == NO_TEMP, np.nan, rows[2] / TEMP_PARTS_C)
    return Samples(rows[0], rows[1] / PH_PARTS, warm)


def pack(rows: Rows) -> bytes:
    """Rows of whole numbers, shape (3, n), n > 0, packed."""
    return zlib.compress(_planes(rows), 6)


def _planes(rows: Rows) -> bytes:
    steps = np.diff(rows, axis=1, prepend=0)
    folded = np.ascontiguousarray((steps << 1) ^ (steps >> 63), dtype="<u4")
    return np.ascontiguousarray(folded.view(np.uint8).reshape(3, -1, 4).transpose(0, 2, 1)).tobytes()


def unpack(payload: bytes) -> Rows:
    """The rows, shape (3, n), that were packed; ValueError for anything else."""
    try:
        flat = np.frombuffer(zlib.decompress(payload), dtype=np.uint8)
    except zlib.error as error:
        raise ValueError(str(error)) from error
    planes = np.ascontiguousarray(flat.reshape(3, 4, -1).transpose(0, 2, 1))
    folded = planes.view("<u4")[:, :, 0].astype(np.int64)
    return np.cumsum((folded >> 1) ^ -(folded & 1), axis=1)


def digest_of(rows: Rows, source: str, step_min: int, recorded_at_us: int) -> str:
    """SHA-256 of what a batch says, whoever packed it."""
    head = f"{step_min}|{recorded_at_us}|{source}|".encode()
    return hashlib.sha256(head + _planes(rows)).hexdigest()


def digest_of_withdrawal(withdrawn: str, recorded_at_us: int) -> str:
    """SHA-256 of the withdrawal of the batch with the digest `withdrawn`."""
    return hashlib.sha256(f"withdraws|{recorded_at_us}|{withdrawn}".encode()).hexdigest()

"""The tables as SQLAlchemy Core sees them; the migrations make them.

Moments are whole microseconds since 1970-01-01T00:00:00Z, so that both databases sort and keep them
exactly. Descriptions and payloads are JSON, kept as text: both databases give back the very same letters,
and a few hundred of them are read in one go. Rows of `tank_versions`, `records`, `sample_batches`,
`sample_thinnings` and `sample_gatherings` are never updated or deleted: triggers refuse it. Only batches of a
probe's log that a thinning names may go, and small ones that one larger batch was made of.
"""

from datetime import UTC, datetime, timedelta

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Column,
    ForeignKey,
    Index,
    Integer,
    LargeBinary,
    MetaData,
    Table,
    Text,
)

KNOWN_VERSIONS = ("0001", "0002", "0003")
"""Every schema version this program can read, oldest first; each is a migration's revision."""

CURRENT_VERSION = KNOWN_VERSIONS[-1]
VERSION_TABLE = "dawnlevel_schema"
VOID = "void"
"""Kind of the row that withdraws the record it supersedes."""

metadata = MetaData()

tanks = Table(
    "tanks",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("name", Text, nullable=False, unique=True),
)

tank_versions = Table(
    "tank_versions",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tank_id", ForeignKey("tanks.id"), nullable=False, index=True),
    Column("valid_from_us", BigInteger, nullable=False),
    Column("recorded_at_us", BigInteger, nullable=False),
    Column("description", Text, nullable=False),
)

records = Table(
    "records",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tank_id", ForeignKey("tanks.id"), nullable=False),
    Column("kind", Text, nullable=False),
    Column("at_us", BigInteger, nullable=False),
    Column("payload", Text, nullable=False),
    Column("recorded_at_us", BigInteger, nullable=False),
    Column("supersedes", ForeignKey("records.id"), unique=True),
    CheckConstraint(f"kind <> '{VOID}' OR supersedes IS NOT NULL", name="a_void_withdraws_a_record"),
    Index("ix_records_tank_id_at_us", "tank_id", "at_us"),
)

sample_batches = Table(
    "sample_batches",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tank_id", ForeignKey("tanks.id"), nullable=False),
    Column("source", Text, nullable=False),
    Column("step_min", Integer, nullable=False),
    Column("first_minute", BigInteger, nullable=False),
    Column("last_minute", BigInteger, nullable=False),
    Column("readings", Integer, nullable=False),
    Column("payload", LargeBinary, nullable=False),
    Column("recorded_at_us", BigInteger, nullable=False),
    Column("digest", Text, nullable=False),
    Column("withdraws", ForeignKey("sample_batches.id"), unique=True),
    Index("ix_sample_batches_tank_id_first_minute", "tank_id", "first_minute"),
)

sample_thinnings = Table(
    "sample_thinnings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tank_id", ForeignKey("tanks.id"), nullable=False, index=True),
    Column("before_minute", BigInteger, nullable=False),
    Column("step_min", Integer, nullable=False),
    Column("up_to_batch", Integer, nullable=False),
    Column("readings_before", BigInteger, nullable=False),
    Column("readings_after", BigInteger, nullable=False),
    Column("recorded_at_us", BigInteger, nullable=False),
)

sample_gatherings = Table(
    "sample_gatherings",
    metadata,
    Column("id", Integer, primary_key=True),
    Column("tank_id", ForeignKey("tanks.id"), nullable=False, index=True),
    Column("from_batch", Integer, nullable=False),
    Column("up_to_batch", Integer, nullable=False),
    Column("into_batch", Integer, nullable=False),
    Column("batches", Integer, nullable=False),
    Column("recorded_at_us", BigInteger, nullable=False),
)

TABLES = {
    "0001": ("tanks", "tank_versions", "records"),
    "0002": ("tanks", "tank_versions", "records", "sample_batches", "sample_thinnings"),
    "0003": (
        "tanks", "tank_versions", "records", "sample_batches", "sample_thinnings", "sample_gatherings",
    ),
}  # fmt: skip
"""The tables that hold facts, by schema version."""

_EPOCH = datetime(1970, 1, 1, tzinfo=UTC)
_MICROSECOND = timedelta(microseconds=1)


def to_us(moment: datetime) -> int:
    """An aware moment as whole microseconds since 1970-01-01T00:00:00Z, exact."""
    return (moment - _EPOCH) // _MICROSECOND


def from_us(moment_us: int) -> datetime:
    """The moment (UTC) that is `moment_us` microseconds after 1970-01-01T00:00:00Z, exact."""
    return _EPOCH + timedelta(microseconds=moment_us)

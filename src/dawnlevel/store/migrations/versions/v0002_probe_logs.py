"""Probe logs in batches that are never changed, and the thinnings that alone may take old ones away."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None

_ALLOWED = (
    "EXISTS (SELECT 1 FROM sample_thinnings AS thinning WHERE thinning.tank_id = OLD.tank_id "
    "AND OLD.id <= thinning.up_to_batch AND OLD.last_minute < thinning.before_minute)"
)
"""A batch may go where a thinning that is written down names its tank, its time and its number."""


def _tables() -> None:
    op.create_table(
        "sample_batches",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("tank_id", sa.Integer, sa.ForeignKey("tanks.id"), nullable=False),
        sa.Column("source", sa.Text, nullable=False),
        sa.Column("step_min", sa.Integer, nullable=False),
        sa.Column("first_minute", sa.BigInteger, nullable=False),
        sa.Column("last_minute", sa.BigInteger, nullable=False),
        sa.Column("readings", sa.Integer, nullable=False),
        sa.Column("payload", sa.LargeBinary, nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger, nullable=False),
        sa.Column("digest", sa.Text, nullable=False),
        sa.Column("withdraws", sa.Integer, sa.ForeignKey("sample_batches.id"), unique=True),
    )
    op.create_index("ix_sample_batches_tank_id_first_minute", "sample_batches", ["tank_id", "first_minute"])
    op.create_table(
        "sample_thinnings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("tank_id", sa.Integer, sa.ForeignKey("tanks.id"), nullable=False, index=True),
        sa.Column("before_minute", sa.BigInteger, nullable=False),
        sa.Column("step_min", sa.Integer, nullable=False),
        sa.Column("up_to_batch", sa.Integer, nullable=False),
        sa.Column("readings_before", sa.BigInteger, nullable=False),
        sa.Column("readings_after", sa.BigInteger, nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger, nullable=False),
    )


def _guard_sqlite() -> None:
    refuse = "SELECT RAISE(ABORT, 'rows here are never changed or deleted')"
    for table in ("sample_batches", "sample_thinnings"):
        op.execute(f"CREATE TRIGGER {table}_no_update BEFORE UPDATE ON {table} BEGIN {refuse}; END")
    op.execute(
        "CREATE TRIGGER sample_batches_no_delete BEFORE DELETE ON sample_batches "
        f"WHEN NOT {_ALLOWED} BEGIN {refuse}; END"
    )
    op.execute(
        f"CREATE TRIGGER sample_thinnings_no_delete BEFORE DELETE ON sample_thinnings BEGIN {refuse}; END"
    )


def _guard_postgresql() -> None:
    op.execute(
        "CREATE FUNCTION dawnlevel_refuse_batch_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN IF TG_OP = 'DELETE' AND {_ALLOWED} THEN RETURN OLD; END IF; "
        "RAISE EXCEPTION 'rows here are never changed or deleted'; END $$"
    )
    for table, function in (
        ("sample_batches", "dawnlevel_refuse_batch_change"),
        ("sample_thinnings", "dawnlevel_refuse_change"),
    ):
        op.execute(
            f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
            f"FOR EACH ROW EXECUTE FUNCTION {function}()"
        )


def upgrade() -> None:
    """Make the two tables and guard the facts in them."""
    _tables()
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgresql()


def downgrade() -> None:
    """Readings are facts: no step ever takes them away."""
    message = "A store is never taken back to an older version; restore an archive instead."
    raise RuntimeError(message)

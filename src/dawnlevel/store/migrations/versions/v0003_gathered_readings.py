"""Readings that came in one by one may be gathered into one batch; what was gathered is written down."""

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

_THINNED = (
    "EXISTS (SELECT 1 FROM sample_thinnings AS thinning WHERE thinning.tank_id = OLD.tank_id "
    "AND OLD.id <= thinning.up_to_batch AND OLD.last_minute < thinning.before_minute)"
)
_GATHERED = (
    "(OLD.withdraws IS NULL AND EXISTS (SELECT 1 FROM sample_gatherings AS gathering "
    "JOIN sample_batches AS whole ON whole.id = gathering.into_batch "
    "WHERE gathering.tank_id = OLD.tank_id AND OLD.id BETWEEN gathering.from_batch AND gathering.up_to_batch "
    "AND OLD.id < whole.id AND whole.tank_id = OLD.tank_id AND whole.source = OLD.source "
    "AND whole.step_min = OLD.step_min AND OLD.first_minute >= whole.first_minute "
    "AND OLD.last_minute <= whole.last_minute))"
)
"""A batch may also go where one that is there holds its source and time, and says that it was made of it."""


def _table() -> None:
    op.create_table(
        "sample_gatherings",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("tank_id", sa.Integer, sa.ForeignKey("tanks.id"), nullable=False, index=True),
        sa.Column("from_batch", sa.Integer, nullable=False),
        sa.Column("up_to_batch", sa.Integer, nullable=False),
        sa.Column("into_batch", sa.Integer, nullable=False),
        sa.Column("batches", sa.Integer, nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger, nullable=False),
    )


def _guard_sqlite() -> None:
    refuse = "SELECT RAISE(ABORT, 'rows here are never changed or deleted')"
    op.execute("DROP TRIGGER sample_batches_no_delete")
    op.execute(
        "CREATE TRIGGER sample_batches_no_delete BEFORE DELETE ON sample_batches "
        f"WHEN NOT ({_THINNED} OR {_GATHERED}) BEGIN {refuse}; END"
    )
    for change in ("update", "delete"):
        op.execute(
            f"CREATE TRIGGER sample_gatherings_no_{change} BEFORE {change.upper()} ON sample_gatherings "
            f"BEGIN {refuse}; END"
        )


def _guard_postgresql() -> None:
    op.execute(
        "CREATE OR REPLACE FUNCTION dawnlevel_refuse_batch_change() RETURNS trigger LANGUAGE plpgsql AS "
        f"$$ BEGIN IF TG_OP = 'DELETE' AND ({_THINNED} OR {_GATHERED}) THEN RETURN OLD; END IF; "
        "RAISE EXCEPTION 'rows here are never changed or deleted'; END $$"
    )
    op.execute(
        "CREATE TRIGGER sample_gatherings_no_change BEFORE UPDATE OR DELETE ON sample_gatherings "
        "FOR EACH ROW EXECUTE FUNCTION dawnlevel_refuse_change()"
    )


def upgrade() -> None:
    """Make the table and let go what it names."""
    _table()
    if op.get_bind().dialect.name == "sqlite":
        _guard_sqlite()
    else:
        _guard_postgresql()


def downgrade() -> None:
    """Readings are facts: no step ever takes them away."""
    message = "A store is never taken back to an older version; restore an archive instead."
    raise RuntimeError(message)

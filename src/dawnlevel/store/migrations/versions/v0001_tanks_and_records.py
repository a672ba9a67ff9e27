"""Tanks, the versions of their descriptions, and records that can be superseded but never changed."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None
branch_labels = None
depends_on = None

_FACTS = ("tank_versions", "records")


def _forbid_changes_sqlite(table: str) -> None:
    for verb in ("UPDATE", "DELETE"):
        op.execute(
            f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            "BEGIN SELECT RAISE(ABORT, 'rows here are never changed or deleted'); END"
        )


def _forbid_changes_postgresql(table: str) -> None:
    op.execute(
        f"CREATE TRIGGER {table}_no_change BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION dawnlevel_refuse_change()"
    )


def upgrade() -> None:
    """Make the first three tables and guard the facts in them."""
    op.create_table(
        "tanks",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("name", sa.Text, nullable=False, unique=True),
    )
    op.create_table(
        "tank_versions",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("tank_id", sa.Integer, sa.ForeignKey("tanks.id"), nullable=False, index=True),
        sa.Column("valid_from_us", sa.BigInteger, nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger, nullable=False),
        sa.Column("description", sa.Text, nullable=False),
    )
    op.create_table(
        "records",
        sa.Column("id", sa.Integer, primary_key=True),
        sa.Column("tank_id", sa.Integer, sa.ForeignKey("tanks.id"), nullable=False),
        sa.Column("kind", sa.Text, nullable=False),
        sa.Column("at_us", sa.BigInteger, nullable=False),
        sa.Column("payload", sa.Text, nullable=False),
        sa.Column("recorded_at_us", sa.BigInteger, nullable=False),
        sa.Column("supersedes", sa.Integer, sa.ForeignKey("records.id"), unique=True),
        sa.CheckConstraint("kind <> 'void' OR supersedes IS NOT NULL", name="a_void_withdraws_a_record"),
    )
    op.create_index("ix_records_tank_id_at_us", "records", ["tank_id", "at_us"])
    if op.get_bind().dialect.name == "sqlite":
        for table in _FACTS:
            _forbid_changes_sqlite(table)
        return
    op.execute(
        "CREATE FUNCTION dawnlevel_refuse_change() RETURNS trigger LANGUAGE plpgsql AS "
        "$$ BEGIN RAISE EXCEPTION 'rows here are never changed or deleted'; END $$"
    )
    for table in _FACTS:
        _forbid_changes_postgresql(table)


def downgrade() -> None:
    """Records are facts: no step ever takes them away."""
    message = "A store is never taken back to an older version; restore an archive instead."
    raise RuntimeError(message)

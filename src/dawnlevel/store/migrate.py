"""Bring a store's tables to the version this program reads; Alembic is loaded only when they are not."""

from pathlib import Path

from sqlalchemy import Connection, Engine, column, inspect, select, table, text

from dawnlevel.errors import StoreUnreachableError
from dawnlevel.store.engine import keep_write_ahead_log, writer_of
from dawnlevel.store.patience import Patience
from dawnlevel.store.schema import CURRENT_VERSION, KNOWN_VERSIONS, VERSION_TABLE, metadata

MIGRATIONS = Path(__file__).parent / "migrations"
_ADVISORY_LOCK = 0x6461776E  # "dawn": one program migrates a PostgreSQL store at a time


def stored_version(connection: Connection) -> str | None:
    """The schema version that stands in the store; None where there is none yet."""
    if not inspect(connection).has_table(VERSION_TABLE):
        return None
    version: str | None = connection.scalar(select(column("version_num")).select_from(table(VERSION_TABLE)))
    return version


def _refuse_strangers(connection: Connection, version: str | None, place: str) -> None:
    """Raise StoreUnreachableError for a newer store and for a database that is not ours."""
    if version is not None and version not in KNOWN_VERSIONS:
        raise StoreUnreachableError(
            f"The store was written by a newer Dawnlevel (schema {version}, this one reads "
            f"{CURRENT_VERSION}); nothing was changed.",
            where=place,
            cure="Update Dawnlevel, or choose another store with --store.",
        )
    if version is None:
        present = set(inspect(connection).get_table_names())
        strangers = present if connection.dialect.name == "sqlite" else present & set(metadata.tables)
        if strangers:
            raise StoreUnreachableError(
                f"The database holds other tables ({', '.join(sorted(strangers)[:3])}) and is no Dawnlevel "
                "store; nothing was changed.",
                where=place,
                cure="Choose another store with --store.",
            )


def ensure_current(engine: Engine, place: str, patience: Patience) -> None:
    """Upgrade the store in one transaction where it is behind; do nothing where it is current.

    Several programs may do so at once: the first does it, the others wait for it. What strangers keep in an
    SQLite file is left as it is; PostgreSQL shows what another program commits between two looks, so there
    only those under the lock count.
    """
    with engine.connect() as connection:
        version = stored_version(connection)
        if version == CURRENT_VERSION:
            return
        if engine.dialect.name == "sqlite":
            _refuse_strangers(connection, version, place)
    if engine.dialect.name == "sqlite":
        keep_write_ahead_log(engine, patience)
    with writer_of(engine).begin() as connection:
        if connection.dialect.name == "postgresql":
            connection.execute(text("SELECT pg_advisory_xact_lock(:key)"), {"key": _ADVISORY_LOCK})
        version = stored_version(connection)
        if version == CURRENT_VERSION:  # another program was quicker
            return
        _refuse_strangers(connection, version, place)
        upgrade(connection)


def upgrade(connection: Connection, revision: str = "head") -> None:
    """Run the migrations up to `revision` inside the transaction of `connection`."""
    from alembic import command  # noqa: PLC0415 - slow to import, seldom needed
    from alembic.config import Config  # noqa: PLC0415 - the same

    config = Config()
    config.set_main_option("script_location", str(MIGRATIONS).replace("%", "%%"))
    config.attributes["connection"] = connection
    command.upgrade(config, revision)

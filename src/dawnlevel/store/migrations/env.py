"""Alembic's entry: runs the steps on the connection that is handed over, inside its transaction."""

from alembic import context

from dawnlevel.store.schema import VERSION_TABLE, metadata

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=metadata,
    version_table=VERSION_TABLE,
    transactional_ddl=True,
)
with context.begin_transaction():
    context.run_migrations()

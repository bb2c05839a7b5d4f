"""Runs the migrations on a connection that webapp.store.migrate has opened; there is no other way in."""

from alembic import context

from webapp.store.tables import metadata

connection = context.config.attributes["connection"]
context.configure(
    connection=connection,
    target_metadata=metadata,
    render_as_batch=True,
    compare_type=True,
)
with context.begin_transaction():
    context.run_migrations()

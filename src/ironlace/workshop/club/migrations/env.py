"""Alembic's entry: runs the migrations on the connection that the ledger hands over."""

from alembic import context

from ironlace.workshop.club.tables import ClubTable

context.configure(
    connection=context.config.attributes["connection"],
    target_metadata=ClubTable.metadata,
    render_as_batch=True,  # SQLite alters a table by copying it
)
with context.begin_transaction():
    context.run_migrations()

"""The history of the tables (Alembic)."""

"""The history of the club's tables, for Alembic."""

"""Receipts for what a phone sends, which may send it again."""

import sqlalchemy as sa
from alembic import op

revision = "0004"
down_revision = "0003"


def upgrade() -> None:
    op.create_table(
        "receipt",
        sa.Column("key", sa.String(length=64), nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("entry", sa.String(length=40), nullable=False),
        sa.Column("again", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("key"),
    )

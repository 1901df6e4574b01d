"""Changes by hand to drawings that are being worked on, and lenses that were measured."""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"


def upgrade() -> None:
    op.create_table(
        "hand_change",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("drawing", sa.Integer(), nullable=False),
        sa.Column("svg", sa.String(length=64), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("change", sa.JSON(), nullable=False),
        sa.Column("taken_back", sa.Boolean(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "lens",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("name", sa.String(length=120), nullable=False),
        sa.Column("focal_35mm", sa.Double(), nullable=True),
        sa.Column("told", sa.JSON(), nullable=False),
        sa.Column("report", sa.JSON(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("hand_change_of_drawing", "hand_change", ["record_id", "drawing"])

"""A survey that a club keeps: where it is, which report is which there, what was sent."""

import sqlalchemy as sa
from alembic import op

revision = "0007"
down_revision = "0006"


def upgrade() -> None:
    op.create_table(
        "club_link",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("survey_id", sa.Integer(), nullable=False),
        sa.Column("address", sa.String(length=500), nullable=False),
        sa.Column("club", sa.String(length=36), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("key", sa.String(length=36), nullable=False),
        sa.Column("seen_to", sa.Integer(), nullable=False),
        sa.Column("exchanged_at", sa.String(length=32), nullable=True),
        sa.Column("left_at", sa.String(length=32), nullable=True),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["survey_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_table(
        "club_report",
        sa.Column("link_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("key", sa.Integer(), nullable=False),
        sa.Column("last_change", sa.Integer(), nullable=False),
        sa.Column("told", sa.JSON(), nullable=True),
        sa.ForeignKeyConstraint(["link_id"], ["club_link.id"]),
        sa.PrimaryKeyConstraint("link_id", "number"),
        sa.UniqueConstraint("link_id", "key"),
    )
    op.create_table(
        "club_sent",
        sa.Column("sent", sa.String(length=36), nullable=False),
        sa.Column("link_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.Integer(), nullable=False),
        sa.Column("change", sa.Integer(), nullable=False),
        sa.Column("came_of", sa.String(length=20), nullable=False),
        sa.Column("says", sa.Text(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.ForeignKeyConstraint(["link_id"], ["club_link.id"]),
        sa.PrimaryKeyConstraint("sent"),
    )


def downgrade() -> None:
    for table in ("club_sent", "club_report", "club_link"):
        op.drop_table(table)

"""What a person said is to leave the workshop, or to stay, for each audience."""

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"


def upgrade() -> None:
    op.create_table(
        "leaving",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("audience", sa.String(length=20), nullable=False),
        sa.Column("said", sa.JSON(), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("leaving_of_record", "leaving", ["record_id", "audience"])

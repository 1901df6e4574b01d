"""The first tables."""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None


def upgrade() -> None:
    op.create_table(
        "original",
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("size", sa.Integer(), nullable=False),
        sa.Column("suffix", sa.String(length=8), nullable=False),
        sa.Column("media_type", sa.String(length=60), nullable=False),
        sa.Column("width", sa.Integer(), nullable=True),
        sa.Column("height", sa.Integer(), nullable=True),
        sa.Column("focal_mm", sa.Double(), nullable=True),
        sa.Column("focal_35mm", sa.Double(), nullable=True),
        sa.Column("taken", sa.String(length=40), nullable=True),
        sa.Column("came_as", sa.String(length=300), nullable=False),
        sa.Column("added_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("sha256"),
    )
    op.create_table(
        "record",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("slug", sa.String(length=80), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("slug"),
    )
    op.create_table(
        "change",
        sa.Column("number", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.Integer(), nullable=False),
        sa.Column("entry", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.Column("undoes", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["record.id"],
        ),
        sa.ForeignKeyConstraint(
            ["undoes"],
            ["change.number"],
        ),
        sa.PrimaryKeyConstraint("number"),
    )
    with op.batch_alter_table("change", schema=None) as batch_op:
        batch_op.create_index("change_of_entry", ["record_id", "kind", "key"], unique=False)

    op.create_table(
        "job",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=True),
        sa.Column("task", sa.String(length=40), nullable=False),
        sa.Column("asked", sa.JSON(), nullable=False),
        sa.Column("state", sa.String(length=12), nullable=False),
        sa.Column("stage", sa.String(length=120), nullable=False),
        sa.Column("fraction", sa.Double(), nullable=False),
        sa.Column("result", sa.JSON(none_as_null=True), nullable=True),
        sa.Column("error", sa.Text(), nullable=False),
        sa.Column("crashes", sa.Integer(), nullable=False),
        sa.Column("worker", sa.String(length=80), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("beat_at", sa.String(length=32), nullable=True),
        sa.Column("ended_at", sa.String(length=32), nullable=True),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["record.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
    )
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.create_index("job_by_state", ["state"], unique=False)

    op.create_table(
        "entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(length=20), nullable=False),
        sa.Column("key", sa.Integer(), nullable=False),
        sa.Column("first_change", sa.Integer(), nullable=False),
        sa.Column("last_change", sa.Integer(), nullable=False),
        sa.Column("entry", sa.JSON(), nullable=False),
        sa.ForeignKeyConstraint(
            ["first_change"],
            ["change.number"],
        ),
        sa.ForeignKeyConstraint(
            ["last_change"],
            ["change.number"],
        ),
        sa.ForeignKeyConstraint(
            ["record_id"],
            ["record.id"],
        ),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("record_id", "kind", "key"),
    )


def downgrade() -> None:
    op.drop_table("entry")
    with op.batch_alter_table("job", schema=None) as batch_op:
        batch_op.drop_index("job_by_state")

    op.drop_table("job")
    with op.batch_alter_table("change", schema=None) as batch_op:
        batch_op.drop_index("change_of_entry")

    op.drop_table("change")
    op.drop_table("record")
    op.drop_table("original")

"""Surveys: records of their own, which machines point to; the reports move into them.

Each machine that ever had a report gets a survey. Only the number of the record is written anew in
the rows of its reports, and `through` keeps which it was: going back writes it into its old place.
"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0005"


def upgrade() -> None:
    # without a foreign key, which SQLite could not drop again; `check` looks after it
    op.execute("ALTER TABLE record ADD COLUMN kind VARCHAR(12) NOT NULL DEFAULT 'machine'")
    op.execute("ALTER TABLE change ADD COLUMN through INTEGER")
    op.create_index("change_through", "change", ["through"])
    op.create_table(
        "survey_link",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("record_id", sa.Integer(), nullable=False),
        sa.Column("survey_id", sa.Integer(), nullable=False),
        sa.Column("own_report", sa.Integer(), nullable=True),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["record_id"], ["record.id"]),
        sa.ForeignKeyConstraint(["survey_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("id"),
    )
    op.create_index("survey_link_of_record", "survey_link", ["record_id"])
    op.create_table(
        "release",
        sa.Column("id", sa.Integer(), autoincrement=True, nullable=False),
        sa.Column("survey_id", sa.Integer(), nullable=False),
        sa.Column("number", sa.Integer(), nullable=False),
        sa.Column("last_change", sa.Integer(), nullable=False),
        sa.Column("released", sa.JSON(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
        sa.Column("made_by", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(["survey_id"], ["record.id"]),
        sa.PrimaryKeyConstraint("id"),
        sa.UniqueConstraint("survey_id", "number"),
    )
    connection = op.get_bind()
    machines = connection.execute(
        sa.text(
            "SELECT id, slug, title, made_at FROM record WHERE id IN "
            "(SELECT record_id FROM change WHERE kind = 'report') ORDER BY id"
        )
    ).all()
    taken = set(connection.execute(sa.text("SELECT slug FROM record")).scalars())
    for number, slug, title, made_at in machines:
        survey = _free(f"{slug}-survey", taken)
        taken.add(survey)
        connection.execute(
            sa.text(
                "INSERT INTO record (slug, title, made_at, kind) "
                "VALUES (:slug, :title, :made_at, 'survey')"
            ),
            {"slug": survey, "title": f"Survey of {title}"[:300], "made_at": made_at},
        )
        of = connection.execute(
            sa.text("SELECT id FROM record WHERE slug = :slug"), {"slug": survey}
        ).scalar_one()
        told = {"machine": number, "survey": of, "made_at": made_at}
        for statement in (
            "INSERT INTO survey_link (record_id, survey_id, made_at, made_by) "
            "VALUES (:machine, :survey, :made_at, '')",
            "UPDATE change SET through = record_id, record_id = :survey "
            "WHERE record_id = :machine AND kind = 'report'",
            "UPDATE entry SET record_id = :survey WHERE record_id = :machine AND kind = 'report'",
        ):
            connection.execute(sa.text(statement).bindparams(**_of(statement, told)))


def downgrade() -> None:
    """Put each report back where it came through.

    A survey that holds reports which came through no machine stays, as a record with these.
    """
    for statement in (
        "UPDATE entry SET record_id = (SELECT through FROM change "
        "WHERE change.number = entry.last_change) WHERE kind = 'report' AND "
        "(SELECT through FROM change WHERE change.number = entry.last_change) IS NOT NULL",
        "UPDATE change SET record_id = through WHERE through IS NOT NULL",
        "DROP TABLE survey_link",
        "DROP TABLE release",
        "DELETE FROM record WHERE kind = 'survey' AND id NOT IN (SELECT record_id FROM change)",
        "DROP INDEX change_through",
        "ALTER TABLE change DROP COLUMN through",
        "ALTER TABLE record DROP COLUMN kind",
    ):
        op.execute(statement)


def _free(stem: str, taken: set[str]) -> str:
    name, number = stem, 2
    while name in taken:
        name, number = f"{stem}-{number}", number + 1
    return name


def _of(statement: str, told: dict[str, object]) -> dict[str, object]:
    return {name: value for name, value in told.items() if f":{name}" in statement}

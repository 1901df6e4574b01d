"""Who may do what with a club's survey: rights that the database itself keeps (PostgreSQL).

Three roles without a login, named after the database; its keeper gives them to members by
``GRANT treadle_reporter TO anna``. What is not granted the database refuses, whatever program asks.
"""

from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection

READER, REPORTER, REVIEWER = "reader", "reporter", "reviewer"
_READ = ("club", "report_number", "club_change", "standing", "alembic_version")
_COLUMNS = {
    REPORTER: {"offer": "sent, report, after, told"},
    REVIEWER: {
        "report_number": "sent",
        "club_change": "sent, report, after, offer, told",
        "decision": "offer, kept, reason",
    },
}
"""What may be added, by column: number, moment and name are written by the database alone."""


@dataclass(frozen=True, slots=True)
class Rights:
    """What a member may do."""

    report: bool
    review: bool

    def in_words(self) -> str:
        """Say it."""
        if self.review:
            return "You may read, send reports in, and review."
        if self.report:
            return "You may read and send reports in; a reviewer decides on them."
        return "You may read; nothing is sent from here."

    def as_dict(self) -> dict[str, Any]:
        """It by name."""
        return {"read": True, "report": self.report, "review": self.review}


def rights_of(connection: Connection) -> Rights:
    """What whoever is connected may do, as the database has it; on SQLite all."""
    if connection.dialect.name == "sqlite":
        return Rights(report=True, review=True)
    asks = "SELECT has_any_column_privilege('offer', 'INSERT'), "
    row = connection.exec_driver_sql(
        asks + "has_any_column_privilege('club_change', 'INSERT')"
    ).one()
    return Rights(report=bool(row[0]), review=bool(row[1]))


def role_names(database: str) -> dict[str, str]:
    """The three roles of a database."""
    return {kind: f"{database}_{kind}" for kind in (READER, REPORTER, REVIEWER)}


def grant(connection: Connection, database: str) -> dict[str, str]:
    """Make the roles that are not there, and give each what it may do; return their names.

    A reporter may what a reader may, a reviewer what a reporter may. What was sent in is seen by
    its sender and the reviewers.
    """
    names = role_names(database)
    there = set(connection.exec_driver_sql("SELECT rolname FROM pg_roles").scalars())
    quoted = {kind: _quoted(name) for kind, name in names.items()}
    schema = _quoted(str(connection.exec_driver_sql("SELECT current_schema()").scalar_one()))
    every = [f"CREATE ROLE {quoted[kind]} NOLOGIN" for kind in names if names[kind] not in there]
    every += [
        f"GRANT {quoted[READER]} TO {quoted[REPORTER]}",
        f"GRANT {quoted[REPORTER]} TO {quoted[REVIEWER]}",
        f"GRANT USAGE ON SCHEMA {schema} TO {quoted[READER]}",
        f"GRANT SELECT ON {', '.join(_READ)} TO {quoted[READER]}",
        f"GRANT SELECT ON offer, decision TO {quoted[REPORTER]}",
        *(
            f"GRANT INSERT ({columns}) ON {table} TO {quoted[kind]}"
            for kind, tables in _COLUMNS.items()
            for table, columns in tables.items()
        ),
        "ALTER TABLE offer ENABLE ROW LEVEL SECURITY",
        "ALTER TABLE decision ENABLE ROW LEVEL SECURITY",
        *_policy("offer_own", "offer", quoted[REPORTER], "made_by = session_user"),
        *_policy("offer_all", "offer", quoted[REVIEWER], "true"),
        *_policy(
            "decision_seen",
            "decision",
            quoted[REPORTER],
            "EXISTS (SELECT 1 FROM offer WHERE offer.number = decision.offer)",
        ),
    ]
    for statement in every:
        connection.exec_driver_sql(statement)
    return names


def _policy(name: str, table: str, role: str, which: str) -> tuple[str, str]:
    """Which rows of a table a role sees; any that it has a right to add it may add."""
    return (
        f"DROP POLICY IF EXISTS {name} ON {table}",
        f"CREATE POLICY {name} ON {table} TO {role} USING ({which}) WITH CHECK (true)",
    )


def _quoted(name: str) -> str:
    return '"' + name.replace('"', '""') + '"'

"""The first tables, and the triggers by which the database itself keeps order.

A change must follow the last one of its report: that is checked in the database under one lock, so
that numbers are given in the order in which changes can be seen, and a reader who knows all up to a
number has missed none. Who wrote a row, and when, is said by the database.
"""

import sqlalchemy as sa
from alembic import op

revision = "0001"
down_revision = None

_NOW_SQLITE = "(strftime('%Y-%m-%dT%H:%M:%f000+00:00', 'now'))"
_STANDS = ("reads", "strings", "how", "dated_is", "dated", "variant", "same_as")


def upgrade() -> None:
    sqlite = op.get_bind().dialect.name == "sqlite"
    big = sa.BigInteger().with_variant(sa.Integer(), "sqlite")

    def number() -> sa.Column[int]:
        return sa.Column("number", big, sa.Identity(), primary_key=True)

    def by_whom() -> tuple[sa.Column[str], sa.Column[str]]:
        now = sa.text(_NOW_SQLITE) if sqlite else None
        return (
            sa.Column("made_at", sa.String(length=32), nullable=False, server_default=now),
            sa.Column(
                "made_by",
                sa.String(length=200),
                nullable=False,
                server_default="" if sqlite else None,
            ),
        )

    op.create_table(
        "club",
        sa.Column("id", sa.Integer(), primary_key=True, autoincrement=False),
        sa.Column("uid", sa.String(length=36), nullable=False),
        sa.Column("title", sa.String(length=300), nullable=False),
        sa.Column("made_at", sa.String(length=32), nullable=False),
    )
    op.create_table(
        "report_number",
        number(),
        sa.Column("sent", sa.String(length=36), nullable=False, unique=True),
    )
    report = "report_number.number"
    op.create_table(
        "offer",
        number(),
        sa.Column("sent", sa.String(length=36), nullable=False, unique=True),
        sa.Column("report", big, sa.ForeignKey(report), nullable=True),
        sa.Column("after", sa.BigInteger(), nullable=False),
        sa.Column("told", sa.JSON(), nullable=True),
        *by_whom(),
    )
    op.create_table(
        "club_change",
        number(),
        sa.Column("sent", sa.String(length=36), nullable=False, unique=True),
        sa.Column("report", big, sa.ForeignKey(report), nullable=False),
        sa.Column("after", sa.BigInteger(), nullable=False),
        sa.Column("offer", big, sa.ForeignKey("offer.number"), nullable=True),
        sa.Column("told", sa.JSON(), nullable=True),
        *by_whom(),
        sa.UniqueConstraint("report", "after"),
    )
    op.create_table(
        "decision",
        number(),
        sa.Column("offer", big, sa.ForeignKey("offer.number"), nullable=False, unique=True),
        sa.Column("kept", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        *by_whom(),
    )
    op.create_table(
        "standing",
        sa.Column("report", big, sa.ForeignKey(report), primary_key=True, autoincrement=False),
        sa.Column("last_change", sa.BigInteger(), nullable=False),
        *(sa.Column(name, sa.Text(), nullable=True) for name in _STANDS),
        sa.Column("counts", sa.Boolean(), nullable=False),
        sa.Column("told", sa.JSON(), nullable=True),
    )
    op.create_index("standing_changed", "standing", ["last_change"])
    if sqlite:
        statements = _triggers_sqlite()
    else:
        schema = op.get_bind().exec_driver_sql("SELECT quote_ident(current_schema())").scalar_one()
        statements = _triggers_postgresql(str(schema))
    for statement in statements:
        op.execute(statement)


def downgrade() -> None:
    for table in ("standing", "decision", "club_change", "offer", "report_number", "club"):
        op.drop_table(table)
    if op.get_bind().dialect.name != "sqlite":
        for function in ("club_change_begins", "club_change_stands", "club_says_who"):
            op.execute(f"DROP FUNCTION {function}()")


def _stand(of: dict[str, str], counts: str) -> str:
    """The statement by which a change becomes what stands."""
    names = ("report", "last_change", *_STANDS, "counts", "told")
    values = ("NEW.report", "NEW.number", *(of[name] for name in _STANDS), counts, "NEW.told")
    again = ", ".join(f"{name} = excluded.{name}" for name in names[1:])
    return (
        f"INSERT INTO standing ({', '.join(names)}) VALUES ({', '.join(values)}) "
        f"ON CONFLICT (report) DO UPDATE SET {again};"
    )


def _triggers_sqlite() -> tuple[str, ...]:
    of = {name: f"json_extract(NEW.told, '$.{name}')" for name in _STANDS}
    counts = "NEW.told IS NOT NULL AND coalesce(json_extract(NEW.told, '$.counts'), 1)"
    return (
        "CREATE TRIGGER club_change_begins BEFORE INSERT ON club_change WHEN NEW.after <> "
        "coalesce((SELECT last_change FROM standing WHERE report = NEW.report), 0) "
        "BEGIN SELECT RAISE(ABORT, 'changed meanwhile'); END",
        "CREATE TRIGGER club_change_stands AFTER INSERT ON club_change "
        f"BEGIN {_stand(of, counts)} END",
    )


def _triggers_postgresql(schema: str) -> tuple[str, ...]:
    of = {name: f"NEW.told->>'{name}'" for name in _STANDS}
    counts = "NEW.told IS NOT NULL AND coalesce((NEW.told->>'counts')::boolean, true)"
    who = (
        "NEW.made_at := to_char(clock_timestamp() AT TIME ZONE 'UTC', "
        '\'YYYY-MM-DD"T"HH24:MI:SS.US"+00:00"\'); NEW.made_by := session_user;'
    )
    # a definer's function: who may add a change need not be let write what stands; its names are
    # looked up in this schema, and never first among the tables that a caller made for himself
    definer = f"LANGUAGE plpgsql SECURITY DEFINER SET search_path = {schema}, pg_temp"
    return (
        f"CREATE FUNCTION club_change_begins() RETURNS trigger {definer} AS $$ BEGIN "
        "PERFORM pg_advisory_xact_lock(hashtext('club_change'), hashtext(current_schema())); "
        "IF NEW.after <> coalesce("
        "(SELECT last_change FROM standing WHERE report = NEW.report), 0) THEN "
        "RAISE EXCEPTION 'changed meanwhile' USING ERRCODE = 'unique_violation'; END IF; "
        "NEW.number := nextval(pg_get_serial_sequence('club_change', 'number')); "
        f"{who} RETURN NEW; END $$",
        "CREATE TRIGGER club_change_begins BEFORE INSERT ON club_change "
        "FOR EACH ROW EXECUTE FUNCTION club_change_begins()",
        f"CREATE FUNCTION club_change_stands() RETURNS trigger {definer} AS $$ BEGIN "
        f"{_stand(of, counts)} RETURN NULL; END $$",
        "CREATE TRIGGER club_change_stands AFTER INSERT ON club_change "
        "FOR EACH ROW EXECUTE FUNCTION club_change_stands()",
        f"CREATE FUNCTION club_says_who() RETURNS trigger {definer} AS $$ BEGIN "
        f"{who} RETURN NEW; END $$",
        "CREATE TRIGGER offer_says_who BEFORE INSERT ON offer "
        "FOR EACH ROW EXECUTE FUNCTION club_says_who()",
        "CREATE TRIGGER decision_says_who BEFORE INSERT ON decision "
        "FOR EACH ROW EXECUTE FUNCTION club_says_who()",
    )

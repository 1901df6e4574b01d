"""The club's database: one order of changes, rights that it keeps itself, nothing twice."""

import threading
import uuid

import pytest
from alembic.autogenerate import compare_metadata
from alembic.migration import MigrationContext
from sqlalchemy import create_engine
from sqlalchemy.exc import DBAPIError

from ironlace.evidence.errors import ConflictError, NotFoundError
from ironlace.workshop.club.address import ClubError, LostError, NotLetError, address_of
from ironlace.workshop.club.ledger import NEWEST_OF_CLUB, Ledger
from ironlace.workshop.club.tables import ClubTable
from ironlace.workshop.store.database import migrate


def told(reads="4.96.217", **more):
    return {"reads": reads, "how": "photograph", "grade": "seen", "counts": True} | more


def key():
    return str(uuid.uuid4())


@pytest.fixture
def two(reviewers):
    ledgers = [Ledger(address_of(address)) for address in reviewers]
    yield ledgers
    for ledger in ledgers:
        ledger.close()


def test_the_tables_are_what_the_migrations_make_and_can_be_taken_back(two):
    one, _ = two
    with one._engine.connect() as connection:
        context = MigrationContext.configure(connection)
        assert context.get_current_revision() == NEWEST_OF_CLUB
        assert compare_metadata(context, ClubTable.metadata) == []


def test_a_club_is_made_again_unharmed_and_taken_back_whole(tmp_path):
    url = address_of(f"sqlite:///{tmp_path / 'club.sqlite'}")
    with Ledger.make(url, "Treadle Circle")[0] as first:
        first.write(key(), told(), report=None, after=0)
    with Ledger.make(url, "")[0] as again:
        assert again.club().title == "Treadle Circle"
        assert again.how_many() == (1, 1)
        migrate(again._writer, "base", "ironlace.workshop.club:migrations")
        with pytest.raises(ClubError, match="no club's survey"):
            again.club()
    with pytest.raises(ClubError, match="called"):
        Ledger.make(address_of(f"sqlite:///{tmp_path / 'other.sqlite'}"), " ")
    assert not (tmp_path / "other.sqlite").exists()


def test_of_two_who_change_one_report_the_second_is_told(two):
    anna, dora = two
    first = anna.write(key(), told(), report=None, after=0)
    assert dora.changes_since(0) == [first]
    hers = dora.write(key(), told("4.96.247"), report=first.report, after=first.number)
    with pytest.raises(ConflictError, match=f"report {first.report} meanwhile"):
        anna.write(key(), told("4.96.211"), report=first.report, after=first.number)
    assert anna.standing(first.report)["reads"] == "4.96.247"
    assert anna.changes_since(first.number) == [hers]
    assert [change.told["reads"] for change in anna.history(first.report)] == [
        "4.96.217",
        "4.96.247",
    ]
    gone = anna.write(key(), None, report=first.report, after=hers.number)
    assert dora.standing(first.report) is None
    assert dora.changes_since(hers.number) == [gone]
    assert dora.how_many() == (0, gone.number)
    for bad in (
        lambda: anna.write(key(), told(), report=first.report, after=0),
        lambda: anna.write(key(), told(), report=first.report, after=gone.number + 7),
    ):
        with pytest.raises(ConflictError):
            bad()
    with pytest.raises(NotFoundError):
        anna.write(key(), told(), report=99, after=0)


def test_what_is_sent_twice_stands_once(two):
    anna, dora = two
    sent, offered = key(), key()
    first = anna.write(sent, told(), report=None, after=0)
    assert anna.write(sent, told(), report=None, after=0) == first
    for _ in range(2):
        anna.offer(offered, told("5.96.31"), report=None, after=0)
    (waits,) = dora.offers()
    assert waits.sent == offered
    kept = dora.decide(waits.number, kept=True)
    with pytest.raises(ConflictError, match="before: it was kept"):
        anna.decide(waits.number, kept=False, reason="a slip")
    assert anna.offers() == []
    (heard,) = anna.offers([offered])
    assert (heard.kept, heard.became) == (True, kept.report)
    assert anna.how_many()[0] == 2


def test_a_correction_that_came_too_late_is_not_kept(two):
    anna, dora = two
    first = anna.write(key(), told(), report=None, after=0)
    dora.offer(key(), told("4.96.2?7"), report=first.report, after=first.number)
    anna.write(key(), told("4.96.227"), report=first.report, after=first.number)
    (waits,) = anna.offers()
    with pytest.raises(ConflictError, match="was changed since"):
        anna.decide(waits.number, kept=True)
    assert anna.offers() == [waits]
    with pytest.raises(ClubError, match="why"):
        anna.decide(waits.number, kept=False)
    anna.decide(waits.number, kept=False, reason="already read better")
    assert anna.offers([waits.sent])[0].reason == "already read better"
    with pytest.raises(NotFoundError):
        anna.decide(99, kept=True)


def test_a_second_sighting_waits_for_what_it_is_one_of(two):
    anna, _ = two
    one, two_ = key(), key()
    anna.offer(one, told(), report=None, after=0)
    anna.offer(two_, told(same_as=f"sent:{one}"), report=None, after=0)
    first, second = anna.offers()
    with pytest.raises(ConflictError, match=f"as {first.number}"):
        anna.decide(second.number, kept=True)
    became = anna.decide(first.number, kept=True)
    assert anna.decide(second.number, kept=True).told["same_as"] == str(became.report)


def test_changes_are_seen_in_the_order_of_their_numbers(two):
    """Who knows all up to a number has missed none, whatever many write meanwhile."""
    anna, dora = two
    seen, faults = [], []

    def write(ledger):
        try:
            for _ in range(15):
                ledger.write(key(), told(), report=None, after=0)
        except Exception as fault:  # noqa: BLE001  (in a thread it would be lost)
            faults.append(fault)

    threads = [threading.Thread(target=write, args=(one,)) for one in (anna, dora, anna)]
    for thread in threads:
        thread.start()
    reader = Ledger(dora.url)
    while any(thread.is_alive() for thread in threads) or reader.how_many()[1] > (
        seen[-1].number if seen else 0
    ):
        seen += reader.changes_since(seen[-1].number if seen else 0)
    reader.close()
    assert not faults
    assert len(seen) == 45
    assert len({change.report for change in seen}) == 45


def test_the_database_itself_says_who_may_what(club):
    anna, ben, cora = (Ledger(address_of(club[who])) for who in ("anna", "ben", "cora"))
    first = anna.write(key(), told(), report=None, after=0)
    assert first.made_by == "anna"
    assert [str(one.rights().in_words()[:40]) for one in (anna, ben, cora)] == [
        "You may read, send reports in, and revie",
        "You may read and send reports in; a revi",
        "You may read; nothing is sent from here.",
    ]
    for ledger in (ben, cora):
        assert ledger.standing(first.report)["reads"] == "4.96.217"
        with pytest.raises(NotLetError, match="does not let"):
            ledger.write(key(), told("1.90.1"), report=first.report, after=first.number)
        with pytest.raises(NotLetError):
            ledger.write(key(), told("1.90.1"), report=None, after=0)
    with pytest.raises(NotLetError):
        cora.offer(key(), told(), report=None, after=0)
    ben.offer(key(), told("5.96.31"), report=None, after=0)
    anna.offer(key(), told("5.96.32"), report=None, after=0)
    assert [offer.made_by for offer in ben.offers()] == ["ben"]  # no other's
    waiting = {offer.made_by: offer for offer in anna.offers()}
    assert set(waiting) == {"ben", "anna"}
    with pytest.raises(NotLetError):
        ben.decide(waiting["ben"].number, kept=True)
    anna.decide(waiting["ben"].number, kept=False, reason="the same as another")
    assert ben.offers([waiting["ben"].sent])[0].reason == "the same as another"
    stranger = Ledger(address_of(club["nobody_there"]))
    with pytest.raises(NotLetError):
        stranger.changes_since(0)
    unknown = Ledger(address_of(club["anna"].replace("anna@", "erna@")))
    with pytest.raises((NotLetError, ClubError), match="erna"):
        unknown.club()
    for ledger in (anna, ben, cora, stranger, unknown):
        ledger.close()


ANEW = (
    "UPDATE club_change SET told = NULL",
    "DELETE FROM club_change",
    "UPDATE standing SET reads = '1'",
    "INSERT INTO standing (report, last_change, counts) VALUES (1, 1, true)",
    "INSERT INTO club_change (sent, report, after, made_by) VALUES ('k', 1, 0, 'dora')",
    "INSERT INTO club_change (number, sent, report, after) VALUES (900, 'k', 1, 0)",
    "UPDATE decision SET kept = true",
    "TRUNCATE offer",
    "UPDATE club SET title = 'mine'",
    "DROP TABLE club",
)


def test_history_cannot_be_written_anew_by_any_member(club):
    with Ledger(address_of(club["anna"])) as anna:
        anna.write(key(), told(), report=None, after=0)
    engine = create_engine(address_of(club["anna"]))
    for statement in ANEW:
        with pytest.raises(DBAPIError) as refused, engine.begin() as connection:
            connection.exec_driver_sql(statement)
        assert refused.value.orig.sqlstate == "42501", statement
    engine.dispose()


def test_what_is_wrong_with_the_way_is_said_without_a_password(club, server, tmp_path):
    for address in ("anna", "http://club.example/", "postgresql://", "sqlite://"):
        with pytest.raises(ClubError, match="postgresql://you@computer/database"):
            address_of(address)
    with pytest.raises(ClubError, match="no database"):
        Ledger(address_of(f"sqlite:///{tmp_path / 'none.sqlite'}"))
    with Ledger(address_of(f"postgresql://anna:hushhush@/x?host={tmp_path}")) as gone:
        with pytest.raises(LostError) as lost:
            gone.club()
        assert "hushhush" not in str(lost.value)
        assert "hushhush" not in gone.in_words()
    server.ask("postgres", "CREATE DATABASE empty_one")
    with (
        Ledger(address_of(server.address("anna", "empty_one"))) as empty,
        pytest.raises(ClubError, match="holds no club's survey"),
    ):
        empty.club()


def test_an_address_leads_over_an_encrypted_way_unless_it_says_otherwise():
    assert address_of("postgres://anna@club.example/t").query["sslmode"] == "require"
    assert address_of("postgresql://a@club.example/t?sslmode=verify-full").query == {
        "sslmode": "verify-full"
    }
    assert "sslmode" not in address_of("postgresql://a@localhost/t").query

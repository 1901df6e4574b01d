"""Many who write to a club's survey while the server cuts their connections at random.

Used by a test and, longer, by `bench/club_database.py`.
"""

import threading
import uuid
from collections import Counter
from contextlib import suppress
from dataclasses import dataclass

import numpy as np
import psycopg

from ironlace.evidence.errors import ConflictError
from ironlace.workshop.club.address import LostError, address_of
from ironlace.workshop.club.ledger import Ledger


@dataclass(frozen=True)
class Told:
    """What came of it."""

    cuts: int
    felt: int
    confirmed: int
    changed: int
    conflicts: int


class Writer(threading.Thread):
    """Adds reports and changes those of others until told to stop; repeats what was lost."""

    def __init__(self, address, number, seed, stop):
        super().__init__(daemon=True)
        self.url, self.number, self.rng = address_of(address), number, np.random.default_rng(seed)
        self.stop_asked, self.confirmed, self.changed = stop, {}, {}
        self.lost, self.conflicts, self.fault = 0, 0, None

    def run(self):
        try:
            with Ledger(self.url) as ledger:
                turn = 0
                while not self.stop_asked.is_set():
                    turn += 1
                    self._write(ledger, f"{self.number + 1}·9{turn % 10}·{turn}")
        except BaseException as fault:  # for whoever waits: in a thread it would be lost
            self.fault = fault
            raise

    def _write(self, ledger, reads):
        """Write a new report, or change somebody's; with a key, until it is so."""
        key = str(uuid.UUID(bytes=self.rng.bytes(16)))
        told = {"reads": reads, "how": "photograph", "grade": "seen", "counts": True}
        report, after = None, 0
        if self.rng.random() < 0.4:
            with suppress(LostError):
                some = ledger.changes_since(0)
                if some:
                    one = some[int(self.rng.integers(len(some)))]
                    report, after = one.report, one.number
        while True:
            try:
                change = ledger.write(key, told, report=report, after=after)
            except LostError:
                self.lost += 1
                continue
            except ConflictError:
                self.conflicts += 1
                return
            kept = self.confirmed if report is None else self.changed
            kept[key] = (change.number, change.report, reads)
            return


def cut(server, database, members, rng, *, writers, cuts, pause=0.03):
    """Let so many write while connections are cut; check all that was confirmed.

    Raises AssertionError where a confirmed change is not there, or is there twice.
    """
    stop = threading.Event()
    addresses = [server.address(members[k % len(members)], database) for k in range(writers)]
    many = [Writer(a, k, int(rng.integers(1 << 32)), stop) for k, a in enumerate(addresses)]
    for writer in many:
        writer.start()
    done = 0
    which = "usename = ANY(%s) AND datname = %s AND state <> 'idle'"
    with psycopg.connect(
        host=str(server.folder), dbname="postgres", user="postgres", autocommit=True
    ) as keeper:
        while done < cuts and all(writer.fault is None for writer in many):
            asked = f"SELECT pid FROM pg_stat_activity WHERE {which}"
            busy = [row[0] for row in keeper.execute(asked, (list(members), database))]
            if busy:
                pid = busy[int(rng.integers(len(busy)))]
                done += keeper.execute("SELECT pg_terminate_backend(%s)", (pid,)).fetchone()[0]
            stop.wait(float(rng.uniform(0, pause)))
    stop.set()
    for writer in many:
        writer.join()
        if writer.fault is not None:
            raise writer.fault
    _compare(server, database, many)
    return Told(
        done,
        sum(writer.lost for writer in many),
        sum(len(writer.confirmed) for writer in many),
        sum(len(writer.changed) for writer in many),
        sum(writer.conflicts for writer in many),
    )


def _compare(server, database, many):
    rows = server.ask(database, "SELECT sent, number, report, told->>'reads' FROM club_change")
    there = {sent: (number, report, reads) for sent, number, report, reads in rows}
    assert len(there) == len(rows)
    confirmed = {}
    for writer in many:
        confirmed |= writer.confirmed | writer.changed
    assert {key: there.get(key) for key in confirmed} == confirmed
    # nothing stands that nobody was told of, as each is asked for until it is answered
    assert set(there) == set(confirmed)
    follows = Counter(server.ask(database, "SELECT report, after FROM club_change"))
    assert max(follows.values(), default=1) == 1
    (folded,) = server.ask(
        database,
        "SELECT count(*) FROM standing s WHERE last_change <> "
        "(SELECT max(number) FROM club_change c WHERE c.report = s.report)",
    )
    assert folded == (0,)

"""A club's survey on PostgreSQL: cut connections, and a million reports.

    python bench/club_database.py --cuts 200 --writers 20 --seed 1
    python bench/club_database.py --reports 1000000

Starts a server of its own, which waits for the disk as a real one does. The first run checks that
each confirmed report is there once. The second counts, compares, and adds one more report; beside
it stands a bound measured in the same run: the standing rows through a bare cursor.
"""

import argparse
import resource
import sys
import time
import uuid
from pathlib import Path

import numpy as np
import psycopg

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
sys.path.insert(0, str(Path(__file__).parent))

from survey_speed import drawn

import database_server
from cut_connections import cut
from ironlace.survey.answers.comparison import compare
from ironlace.survey.answers.next_report import with_report
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import read_reports
from ironlace.workshop.club.address import address_of
from ironlace.workshop.club.counts import club_table
from ironlace.workshop.club.ledger import Ledger

DATABASE = "treadle"


def made(server):
    """A club with two reviewers."""
    for name in ("keeper", "anna", "dora"):
        server.ask("postgres", f"CREATE ROLE {name} LOGIN")
    server.ask(
        "postgres", "ALTER ROLE keeper CREATEROLE", f"CREATE DATABASE {DATABASE} OWNER keeper"
    )
    server.ask(DATABASE, "GRANT ALL ON SCHEMA public TO keeper")
    ledger, roles = Ledger.make(address_of(server.address("keeper", DATABASE)), "Treadle Circle")
    ledger.close()
    server.ask(DATABASE, *(f"GRANT {roles['reviewer']} TO {name}" for name in ("anna", "dora")))


def lap(what, since, more=""):
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"  {what:40s} {time.perf_counter() - since:8.2f} s  {peak:5.0f} MB  {more}", flush=True)
    return time.perf_counter()


def filled(server, count, rng):
    """So many reports, by the database's own way in."""
    marks = [str(one.mark) for one in drawn(min(count, 200_000), rng)]
    with psycopg.connect(
        host=str(server.folder), dbname=DATABASE, user="keeper", autocommit=False
    ) as connection:
        connection.execute(
            "INSERT INTO report_number (sent) SELECT 'r' || g FROM generate_series(1, %s) g",
            (count,),
        )
        connection.execute("CREATE TEMP TABLE m (k INT, reads TEXT)")
        with connection.cursor().copy("COPY m FROM STDIN") as copy:
            for k, mark in enumerate(marks):
                copy.write_row((k, mark))
        connection.execute(
            "INSERT INTO club_change (sent, report, after, told) SELECT 'c' || g, g, 0, "
            "json_build_object('reads', m.reads, 'how', 'photograph', 'grade', 'seen', "
            "'counts', true, 'same_as', '') FROM generate_series(1, %s) g "
            "JOIN m ON m.k = g %% %s",
            (count, len(marks)),
        )


def speed(count):
    rng = np.random.default_rng(5)
    with database_server.running(safe=True) as server:
        made(server)
        at = time.perf_counter()
        filled(server, count, rng)
        server.ask(DATABASE, "ANALYZE")  # as the server does by itself within a minute
        at = lap(f"{count} reports laid in", at)
        address = server.address("anna", DATABASE)
        rows = server.ask(DATABASE, "SELECT reads, how, variant, dated, dated_is FROM standing")
        at = lap("bound: the rows through a bare cursor", at, f"{len(rows)} rows")
        del rows
        text = club_table(address)
        at = lap("the table that the database counts", at, f"{text.count(chr(10)) - 1} rows")
        survey = Reports.from_table(read_reports(text))
        reports = survey.to_compare()
        at = lap("read as any table", at, f"{len(reports)} machines")
        found = compare(reports)
        at = lap("compared", at, f"leads: {found.best.name}")
        with Ledger(address_of(address)) as ledger:
            seen = ledger.how_many()[1]
            told = {"reads": "7·94·12", "how": "photograph", "grade": "seen", "counts": True}
            at = time.perf_counter()
            ledger.write(str(uuid.uuid4()), told, report=None, after=0)
            (new,) = ledger.changes_since(seen)
            at = lap("one more written, and seen by another", at, new.told["reads"])
        more = Reports.from_table(read_reports("id,mark\nnew,7·94·12\n")).sightings[0]
        with_report(found, more)
        lap("and in the odds", at)


def main():
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--cuts", type=int, default=0)
    parser.add_argument("--writers", type=int, default=20)
    parser.add_argument("--reports", type=int, default=0)
    parser.add_argument("--seed", type=int, default=1)
    asked = parser.parse_args()
    if asked.cuts:
        with database_server.running(safe=True) as server:
            made(server)
            rng = np.random.default_rng(asked.seed)
            members = ("anna", "dora")
            at = time.perf_counter()
            told = cut(
                server, DATABASE, members, rng, writers=asked.writers, cuts=asked.cuts, pause=0.3
            )
            lap("cut at random", at)
            print(told)
    if asked.reports:
        speed(asked.reports)


if __name__ == "__main__":
    main()

"""Tables of readings, readings given up and intended work in the account."""

import csv
import json

from ironlace.dossier import account_of
from ironlace.dossier.account.blocks import Heading, Item, Struck, Tabular, all_blocks
from ironlace.dossier.readings_as_csv import readings_csv, readings_metadata, table_file_name
from ironlace.record import Record, parse_entry
from ironlace.record.entries import EntryKind

TABLE = {
    "text": "dial; pull [cN]; gap [in]\n1; 30.0; 1/16\n2; 35.5;",
    "with_what": "pull: spring balance, ± 0.5",
    "struck": "row 2, pull: 45.5, read upside down (R. Bell)",
}
READINGS = {"kind": "readings", "what": "Pull by dial", "grade": "measured", "table": TABLE}
MARK = {
    "kind": "mark",
    "reads": "B.93.482",
    "where": "bed",
    "grade": "seen",
    "other_readings": ["B.93.432: R. Bell, given up: a burr", "B.93.4(8)2: A. Fitter"],
}
BADGE = {"kind": "lettering", "says": "THE WONDER, Co.", "where": "badge", "grade": "seen"}


def treatment(what, stage):
    return {
        "kind": "treatment",
        "what": what,
        "aim": "restoration",
        "undoing": "nothing to undo",
        "stage": stage,
    }


def account(*payloads):
    entries = {(EntryKind(p["kind"]), n): parse_entry(p) for n, p in enumerate(payloads, 1)}
    return account_of(Record("m", "A machine", entries), {}, {})


def test_a_table_is_told_as_a_table_with_what_was_struck_out():
    section = account(READINGS).section("measurements")
    blocks = list(all_blocks(section.blocks))
    (table,) = [b for b in blocks if isinstance(b, Tabular)]
    assert table.heads == ("dial", "pull [cN]", "gap [in]")
    assert [[cell.words for cell in row.cells] for row in table.rows] == [
        ["1", "30.0", "1/16"],
        ["2", "35.5", ""],
    ]
    assert table.rows[1].cells[1].below == ("45.5 struck out",)
    (struck,) = [b for b in blocks if isinstance(b, Struck)]
    assert struck.reads == "45.5"
    assert struck.words == "in row 2, pull: read upside down (R. Bell) (35.5 stands)."


def test_its_csv_and_description_hold_it():
    entry = parse_entry(READINGS)
    assert table_file_name("readings 1", entry) == "readings-1-pull-by-dial.csv"
    assert list(csv.reader(readings_csv(entry).splitlines())) == [
        ["dial", "pull [cN]", "gap [in]"],
        ["1", "30.0", "1/16"],
        ["2", "35.5", ""],
    ]
    described = json.loads(readings_metadata(entry, "x.csv"))
    dial, pull, gap = described["tableSchema"]["columns"]
    assert (pull["schema:unitText"], pull["datatype"]) == ("cN", "number")
    assert pull["dc:description"] == "spring balance, ± 0.5 cN"
    assert "schema:unitText" not in dial
    assert gap["datatype"] == "string"
    assert described["notes"][0]["read"] == "45.5"


def test_a_reading_given_up_is_struck_out_with_the_reason():
    blocks = list(all_blocks(account(MARK).section("marks").blocks))
    (struck,) = [b for b in blocks if isinstance(b, Struck)]
    assert struck.reads == "B·93·432"
    assert struck.words == "read by R. Bell, given up: a burr (3 misread for 8)."


def test_lettering_stands_with_the_marks_and_is_none():
    told = account(MARK, BADGE)
    assert "THE WONDER, Co." in repr(told.section("marks"))
    assert told.first_mark.written == "B·93·482"
    alone = account(BADGE)
    assert alone.first_mark is None


def test_what_is_intended_stands_apart():
    section = account(treatment("gilding", "intended"), treatment("oiling", "done")).section(
        "treatments"
    )
    told = [b.words if isinstance(b, Heading) else b.heading for b in section.blocks]
    assert told == ["oiling", "intended, not done", "gilding"]
    last = section.blocks[-1]
    assert isinstance(last, Item)
    assert last.margin.lines[0] == "Intended, not done"

"""A table of readings in a record: kept as it was read, misread figures struck out and not lost."""

import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.record import parse_entry
from ironlace.record.entries import kept_entry, to_keep
from ironlace.record.readings import ReadingTable

PULLS = {
    "text": "dial; pull [cN]; gap [in]\n1; 30.0; 1/16\n2; 35.5;\n3; ; 3/32",
    "with_what": "pull: spring balance, ± 0.5\ngap: feelers, ± 0.001 in",
    "struck": "row 2, pull: 45,5, read upside down (R. Bell)\n3 gap 3/16: the wrong leaf",
}


def entry(table, **more):
    return parse_entry(
        {"kind": "readings", "what": "pull", "grade": "measured", "table": table, **more}
    )


def test_it_is_kept_as_it_was_read_and_reads_back():
    made = entry(PULLS, by="R. Bell", date="4 May 1893")
    table = made.table
    assert table.rows == (("1", "30.0", "1/16"), ("2", "35.5", ""), ("3", "", "3/32"))
    assert [(c.name, c.unit, c.instrument, c.error) for c in table.columns] == [
        ("dial", "", "", ""),
        ("pull", "cN", "spring balance", "0.5"),
        ("gap", "in", "feelers", "0.001"),
    ]
    assert [str(one) for one in table.struck] == [
        "row 2, pull: 45.5, read upside down (R. Bell)",
        "row 3, gap: 3/16, the wrong leaf",
    ]
    assert kept_entry(to_keep(made)) == made
    assert parse_entry(made.model_dump(mode="json")) == made
    assert ReadingTable.model_validate(table.as_parts()) == table


def test_an_analysis_gets_numbers_and_gaps():
    dial, pull, gap = entry(PULLS).table.known_columns()
    assert pull.values == (30.0, 35.5, None)
    assert (pull.unit, pull.error) == ("cN", 0.5)
    assert gap.values == (0.0625, None, 0.09375)
    assert dial.error is None  # unsaid is unsaid


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"struck": "row 2, pull: 35.5, x"}, "35.5 is struck out and still stands"),
        ({"struck": "row 9, pull: 3, x"}, "the table has 3 rows"),
        ({"struck": "row 1, push: 3, x"}, "names no column of the table"),
        ({"struck": "row 1, pull: 3"}, "does not say what is struck out"),
        ({"with_what": "pull: scale, ± 3 mm"}, "cannot be its error"),
        ({"with_what": "pull:"}, "does not say with what"),
        ({"text": "dial; pull [cN]\n1; 2\n2; many"}, "row 2, 'pull': 'many' is not a figure"),
    ],
)
def test_what_is_wrong_is_told(wrong, says):
    with pytest.raises(IronlaceError) as told:
        entry({**PULLS, **wrong})
    assert says in str(told.value)


def test_a_table_of_a_file_of_entries_is_checked_like_a_pasted_one():
    columns = [{"name": "a", "unit": "mm"}]
    assert entry({"columns": columns, "rows": [["1,5"], [""]]}).table.rows == (("1.5",), ("",))
    for wrong, says in (
        ({"rows": [["1", "2"]]}, "row 1 has 2 cells"),
        ({"rows": [["x"]]}, "'x' is not a figure"),
        ({"columns": [{"name": "a", "unit": "smoots"}]}, "'smoots' is not a unit"),
        ({"struck": [{"row": 1, "column": "b", "read": "2", "why": "x"}]}, "name one of these"),
    ):
        with pytest.raises(IronlaceError, match=says):
            entry({"columns": columns, "rows": [["1"]], **wrong})

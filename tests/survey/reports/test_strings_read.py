import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.survey import read_reports, write_reports
from ironlace.survey.errors import RowError
from ironlace.survey.reports.strings_read import left_to_others, read_strings, written


@given(
    weights=st.dictionaries(
        st.text("0123456789.", min_size=1, max_size=9).filter(lambda t: t.strip(".")),
        st.floats(0.001, 1.0),
        min_size=1,
        max_size=6,
    ),
    rest=st.floats(0.0, 0.9),
)
@settings(max_examples=25, deadline=None)
def test_a_cell_reads_back_to_the_same_strings(weights, rest):
    total = sum(weights.values()) / (1.0 - rest)
    cell = "; ".join(f"{text} {weight / total}" for text, weight in weights.items())
    strings = read_strings(cell, str(rest))
    assert read_strings(written(strings)) == strings
    assert left_to_others(strings) == pytest.approx(rest, abs=1e-9)


@pytest.mark.parametrize(
    ("cell", "rest"),
    [
        ("4.96.217", ""),
        ("4.96.217 likely", ""),
        ("4.96.217 0", ""),
        ("4.96.217 nan", ""),
        ("4.96.217 62", ""),
        ("4.96.21? 0.6", ""),
        ("4.96.[23]17 0.6", ""),
        ("4.96.217 0.7; 4.96.211 0.6", ""),
        ("4.96.217 0.7; 4.96.211 0.2", "0.4"),
        ("4.96.217 0.7", "some"),
        ("", "0.3"),
        ("; ".join(f"{n} 0.001" for n in range(401)), ""),
    ],
)
def test_what_makes_no_whole_is_refused_in_one_sentence(cell, rest):
    with pytest.raises(RowError, match=r"\.$"):
        read_strings(cell, rest)


def test_a_table_keeps_its_strings_and_sets_aside_those_of_another_number():
    rows = ["A,4.96.21[17],4.96.217 0.6; 4.96.211 0.3,0.1", "B,12.1,,", "C,5.97,5.98 0.9,"]
    table = read_reports("\n".join(["id,mark,strings,rest_p", *rows]))
    assert [len(r.strings) for r in table.reports] == [2, 0]
    assert table.set_aside[0].why == "a mark and strings that do not agree"
    assert read_reports(write_reports(table.reports)).reports == table.reports
    # a table without such a reading has no such column
    assert "strings" not in write_reports(table.reports[1:])

"""Tables of readings as people paste them: what is understood, and what is asked about."""

import pytest

from ironlace.evidence.reading_tables import (
    ReadingsError,
    heading,
    number_of,
    read_readings,
)


@pytest.mark.parametrize(
    ("text", "columns", "rows"),
    [
        (
            "angle [deg]\theight, mm\n0\t12,5\n10\t",
            (("angle", "deg"), ("height", "mm")),
            (("0", "12.5"), ("10", "")),
        ),
        ("weight (g)\n3.20", (("weight", "g"),), (("3.20",),)),
        ("weight, g\n1,5", (("weight", "g"),), (("1.5",),)),
        ("x, y\n1.5, 2", (("x", ""), ("y", "")), (("1.5", "2"),)),
        ("angle;pull\ndeg;cN\n0;1", (("angle", "deg"), ("pull", "cN")), (("0", "1"),)),
        ("a   b [mm]\n1   2", (("a", ""), ("b", "mm")), (("1", "2"),)),
        (
            "| a | b |\n|---|---|\n| 1 | - |\n| 2 | 3 |",
            (("a", ""), ("b", "")),
            (("1", ""), ("2", "3")),
        ),
        ("height (left);set (a)\n1;2", (("height (left)", ""), ("set (a)", "")), (("1", "2"),)),
        ("gap [in]\n1 1/4\n−3/16", (("gap", "in"),), (("1 1/4",), ("-3/16",))),
        ("x;y\n1,234;2,5", (("x", ""), ("y", "")), (("1.234", "2.5"),)),
        ("\ufeffx;y\n1.234;2", (("x", ""), ("y", "")), (("1.234", "2"),)),
    ],
)
def test_what_people_paste_is_understood(text, columns, rows):
    read = read_readings(text)
    assert read.columns == columns
    assert read.rows == rows


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "There is no table"),
        ("a\n", "headings and no rows"),
        ("1;2\n3;4", "holds figures only"),
        ("a;a\n1;2", "Two columns are called 'a'"),
        ("a;;b\n1;2;3", "Column 2 has no heading"),
        ("a [mm];b\n1;broke", "Row 1, 'b': 'broke' is not a figure"),
        ("a [smoots]\n1", "'smoots' is not a unit"),
        ("a,b\n1,5,2", "Row 1 has 3 cells under 2 headings"),
        ("a;b\n1;\n2;", "Column 'b' holds no figure"),
        ("a;b\n1,234;2", "could be two figures; write 1234 or 1.2340"),
        ("a;b\n1.234;2,5", "'1.234' could be two figures"),
        ("a;b\n1/0;2", "cannot be used as a number"),
        ("a;b\n1e999;2", "cannot be used as a number"),
        (";".join(f"c{n}" for n in range(30)) + "\n1", "30 columns"),
        ("a\n" + "1\n" * 5001, "5001 rows"),
        ('a;b\n"1;2', "Check that every quotation mark is closed"),
        (f"{'x' * 90}\n1", "too long"),
    ],
)
def test_what_is_wrong_is_told_with_its_place(text, says):
    with pytest.raises(ReadingsError) as told:
        read_readings(text)
    assert says in str(told.value)


def test_headings_and_figures_read_back():
    for name, unit in (("height", "mm"), ("dial", ""), ("set (g)", ""), ("pull (left)", "cN")):
        assert read_readings(f"{heading(name, unit)}\n1").columns == ((name, unit),)
    assert number_of("-1 1/4") == -1.25
    assert number_of("") is None

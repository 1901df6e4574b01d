"""What is asked next while readings are called out."""

from dataclasses import replace

import pytest

from ironlace.evidence.analyses import KnownColumn, KnownTable
from ironlace.running.motion.called import (
    CalledFor,
    as_far_as_read,
    called_next,
    first_settings,
    read_next,
)

from .test_turned import evening, worked  # noqa: F401  (the fixture)

FIRST = {"lowest": 180.0, "meets": 210.0, "meeting": 24.0}
TIMING = CalledFor("timing", ("needle bar", "shuttle"), first=FIRST)
STROKES = CalledFor("strokes", ("needle bar", "take-up"))


def test_a_timing_first_asks_where_the_needle_is_lowest_and_where_it_meets():
    for number, key in enumerate(FIRST):
        settled = dict(list(FIRST.items())[:number])
        ask, done = called_next(replace(TIMING, first=settled), [], None)
        assert (ask.key, ask.setting) == (key, -1)
        assert [one.key for one in done] == list(settled)


def test_the_settings_of_a_timing_pass_the_wheel_once_as_it_sews():
    settings = first_settings(TIMING)
    assert len(settings) == 14
    turned = [one.wheel for one in settings]
    assert turned == sorted(turned)
    assert [len(one.parts) for one in settings] == [1] * 7 + [2] * 6 + [1]
    fallen = first_settings(replace(TIMING, numbers_fall=True, first={**FIRST, "meets": 150.0}))
    assert [one.wheel for one in fallen] == sorted((one.wheel for one in fallen), reverse=True)
    both = first_settings(replace(TIMING, both_ways=True))
    assert [one.way for one in both[14:]] == [-1] * 6


def test_needle_bar_and_shuttle_are_asked_at_the_same_setting():
    rows = [{"wheel": "90", "needle bar": "30"}] + [
        {"wheel": f"{170 + k}", "needle bar": "12"} for k in range(6)
    ]
    ask, _ = called_next(TIMING, rows, None)
    assert (ask.key, ask.row, ask.wheel, ask.same_setting) == ("needle bar", 7, 200.0, False)
    rows.append({"wheel": "201.5", "needle bar": "13"})
    ask, done = called_next(TIMING, rows, None)
    assert (ask.key, ask.row, ask.wheel, ask.same_setting) == ("shuttle", 7, 201.5, True)
    assert (done[-1].key, done[-1].row) == ("needle bar", 7)


def test_what_cannot_be_read_is_passed_with_or_without_a_row():
    passed = replace(STROKES, passed=((0, "needle bar"), (0, "take-up"), (1, "needle bar")))
    ask, done = called_next(passed, [], None)
    assert (ask.key, ask.setting, ask.row, ask.wheel) == ("take-up", 1, 0, 15.0)
    assert [one.row for one in done] == [None, None, None]
    ask, _ = called_next(passed, [{"wheel": "15", "take-up": "3"}], None)
    assert (ask.key, ask.setting, ask.row, ask.wheel) == ("needle bar", 2, 1, 30.0)


def test_two_pointers_are_asked_before_the_parts():
    ask, _ = called_next(replace(STROKES, two_pointers=True), [], None)
    assert (ask.key, ask.unit) == ("opposite", "deg")


def test_without_a_fit_nothing_is_asked_after_the_settings():
    rows = [{"wheel": str(15 * k), "needle bar": "1", "take-up": "2"} for k in range(28)]
    ask, done = called_next(STROKES, rows, None)
    assert ask is None
    assert len(done) == 56
    assert read_next(STROKES, None) is None


def test_a_setting_that_two_readings_contradict_is_asked_once_more():
    of = CalledFor("strokes", ("needle bar",))
    rows = [{"wheel": f"{one.wheel:g}", "needle bar": "12"} for one in first_settings(of)]
    asked, _ = called_next(of, rows, None, again=90.0)
    assert (asked.key, asked.wheel, asked.row) == ("needle bar", 90.0, len(rows))


def test_the_fit_asks_where_the_rise_is_narrowed_most(evening):  # noqa: F811
    made, read = evening
    from ironlace.evidence.analyses import Known

    found = worked(read, turning="rise", meeting=Known(made.meeting, 0.05, "mm"))
    asked = replace(TIMING, had=len(read["wheel"]))
    rows = [{"wheel": f"{w:g}", "needle bar": "1", "shuttle": "1"} for w in read["wheel"]]
    ask, done = called_next(asked, rows, found)
    assert done == ()
    assert ask.left == found.met_next.left < 1.0
    assert (ask.key, ask.row, ask.of) == ("needle bar", len(rows), 0)
    # the row that it asked for is completed at its own setting
    more = [*rows, {"wheel": f"{ask.wheel:g}", "needle bar": "1"}]
    again, done = called_next(asked, more, found)
    assert (again.key, again.same_setting, again.wheel) == ("shuttle", True, ask.wheel)
    assert [one.key for one in done] == ["needle bar"]


def test_a_stroke_that_is_not_told_is_read_where_it_lacks(evening):  # noqa: F811
    _, read = evening
    gone = {name: values[:18] for name, values in read.items()}  # 0 to 255 degrees
    found = worked(gone, turning="rise")
    setting = read_next(replace(STROKES, had=18), found)
    assert setting.wheel == pytest.approx(307.0, abs=3.0)


def test_a_motion_read_too_seldom_waits():
    few = (1.0, 2.0, 3.0, None, None, None)
    many = tuple(float(k) for k in range(6))
    table = KnownTable(
        tuple(
            KnownColumn(name, unit, values)
            for name, unit, values in (
                ("wheel", "deg", many),
                ("needle bar", "mm", many),
                ("shuttle", "mm", few),
            )
        )
    )
    assert [one.name for one in as_far_as_read(table).columns] == ["wheel", "needle bar"]
    assert as_far_as_read(replace(table, columns=(table.columns[0], table.columns[2]))) is None

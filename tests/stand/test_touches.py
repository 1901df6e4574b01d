"""What touches the machine: nothing assumed, what is missing named, a new screw first."""

import pytest

from ironlace.evidence.progress import Steps
from ironlace.stand.errors import StandError
from ironlace.stand.touches import (
    TOUCHES,
    FittedThing,
    FittedThings,
    TouchesAsked,
    rows_of_things,
    table_of_things,
)

HEAD = "thing,between,comes_off,leaves,screws\n"
WHOLE = f"{HEAD}base,felt,lift the head off,nothing,none\n"


def worked(table=WHOLE, *things):
    return TOUCHES.work(FittedThings(things), TouchesAsked(table), Steps())


def said(found):
    return " ".join(TOUCHES.answer(found).sentences)


def test_a_list_wholly_told_says_so():
    assert said(worked()) == (
        "1 thing touches the machine, and each is told: what lies between, how it comes off, what "
        "it leaves. Every screw used was already there."
    )


def test_what_the_record_tells_of_is_named_as_missing_until_it_is_said():
    belt = FittedThing("belt", "finding 2")
    assert "Missing of 'belt': what lies between, how it comes off" in said(worked(WHOLE, belt))
    found = worked(f"{WHOLE}Belt,nothing: it runs in the groove,open it,nothing,none\n", belt)
    assert [one.thing for one in found.things] == ["base", "belt"]
    assert "Missing" not in said(found)


def test_how_it_comes_off_by_the_treatment_stands_until_another_is_said():
    lamp = FittedThing("lamp", "treatment 1", "undo the strap")
    assert worked(WHOLE, lamp).things[1].comes_off == "undo the strap"
    told = f"{WHOLE}lamp,,cut the strap,,\n"
    assert worked(told, lamp).things[1].comes_off == "cut the strap"


def test_a_new_screw_is_told_before_anything_else():
    found = worked(f"{HEAD}base,felt,lift it off,nothing,none\nhandle,,,,new\n")
    assert said(found).startswith("'handle' is held by a screw that was not there before")


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (HEAD, "No thing is named"),
        (f"{HEAD},felt,,,\n", "Thing 1 has no name"),
        (f"{WHOLE}Base,,,,\n", "there twice"),
        (f"{HEAD}base,,,,glue\n", "'glue' under screws"),
        (f"{HEAD}base,{'x' * 300},,,\n", "over 200 letters"),
        ("thing,x_px,y_px\nbase,12,\n", "lies at 12, \\?"),
        ("thing,x_px,y_px\nbase,-3,4\n", "lies at -3, 4"),
    ],
)
def test_what_cannot_be_is_refused(table, says):
    with pytest.raises(StandError, match=says):
        worked(table)


def test_a_thing_is_numbered_where_it_was_pointed_at_and_the_table_reads_back():
    table = "thing,x_px,y_px\nbase,12.5,40\nbelt,,\n"
    found = worked(table, FittedThing("felt of the base", "finding 1"))
    assert [(one.thing, one.at_px) for one in found.things] == [
        ("base", (12.5, 40.0)),
        ("belt", None),
        ("felt of the base", None),
    ]
    assert rows_of_things(table_of_things(rows_of_things(WHOLE)))[0]["leaves"] == "nothing"

import pytest

from ironlace.record.entries import EntryError, kept_entry, parse_entry, to_keep


def payload(**changes):
    points = [
        {"photograph": "photograph 1", "x_px": 10, "y_px": 20, "does": "spool", "known": "seen"},
        {"photograph": "photograph 1", "x_px": 30, "y_px": 40, "does": "pin", "side": "left"},
    ]
    pictures = [{"photograph": "photograph 1", "width_px": 400, "height_px": 300}]
    return {"kind": "threading", "name": "Head", "pictures": pictures, "points": points} | changes


def test_a_plan_is_kept_as_it_was_said_and_makes_up_no_grade():
    entry = parse_entry(payload())
    kept = to_keep(entry)
    assert "known" not in kept["points"][1]
    assert kept_entry(kept) == entry
    assert entry.in_brief() == "Head, 2 steps"
    assert entry.grade is None
    assert [(one.number, one.side) for one in entry.plan().point] == [(1, ""), (2, "left")]


@pytest.mark.parametrize(
    ("at", "change", "says"),
    [
        (1, {"does": "pim"}, "did you mean 'pin'"),
        (1, {"x_px": 401}, "lies out of its picture 'photograph 1'"),
        (0, {"known": "old manual"}, "without a source"),
        (0, {"photograph": "photograph 2"}, "did you mean 'photograph 1'"),
        (0, {"colour": "red"}, "colour"),
    ],
)
def test_what_cannot_be_drawn_is_not_kept(at, change, says):
    spoilt = payload()
    spoilt["points"][at] |= change
    with pytest.raises(EntryError, match=says):
        parse_entry(spoilt)


def test_a_plan_of_one_point_is_not_kept():
    with pytest.raises(EntryError, match="has 1 point"):
        parse_entry(payload(points=payload()["points"][:1]))


def test_photographs_that_are_not_to_be_named_become_bare_sheets():
    entry = parse_entry(payload())
    assert entry.without({"photograph 9"}) is entry
    public = entry.without({"photograph 1"})
    assert "photograph" not in str(to_keep(public)["points"][0]["photograph"])
    assert [one.at for one in public.plan().point] == [one.at for one in entry.plan().point]

"""Only values of one thing contradict."""

import pytest

from ironlace.dossier.rivals import rivals
from ironlace.record import parse_entry
from ironlace.record.choices import Topic


def said(topic, *says):
    return [
        parse_entry({"kind": "statement", "about": topic.value, "says": one, "grade": "seen"})
        for one in says
    ]


@pytest.mark.parametrize(
    ("topic", "says"),
    [
        (Topic.NEEDLE, ("15 x 1, round shank", "threaded from left to right")),
        (Topic.DRIVE, ("hand crank", "belt groove for a treadle")),
        (Topic.FINISH, ("black japan", "gilt scrolls")),
        (Topic.KIND, ("family machine", "sews with two threads")),
        (Topic.MAKER, ("Calder Vane Works", "calder vane works")),
        (Topic.MAKER, ("Calder Vane Works", "Calder Vane Works, at Lower Pell")),
        (Topic.MADE, ("1893", "1893-04")),
        (Topic.MADE, ("before 1896", "1893")),
        (Topic.MADE, ("after 1890", "before 1896", "1893")),
        (Topic.MADE, ("about 1885", "1886")),
        (Topic.STITCH, ("lockstitch",)),
        (Topic.MAKER, ()),
    ],
)
def test_statements_that_agree_or_tell_of_two_things_are_no_rivals(topic, says):
    assert not rivals(topic, said(topic, *says))
    assert not rivals(topic, said(topic, *reversed(says)))


@pytest.mark.parametrize(
    ("topic", "says"),
    [
        (Topic.MAKER, ("Calder Vane Works", "Pell Works")),
        (Topic.STITCH, ("lockstitch", "not lockstitch")),
        (Topic.STITCH, ("lockstitch", "lockstitch", "chain stitch")),
        (Topic.MADE, ("1893", "1894")),
        (Topic.MADE, ("before 1890", "1893-04")),
        (Topic.MADE, ("after 1895", "1890 to 1893")),
        (Topic.SHUTTLE, ("long", "long or round", "vibrating")),
    ],
)
def test_different_values_of_one_thing_are_rivals(topic, says):
    assert rivals(topic, said(topic, *says))
    assert rivals(topic, said(topic, *reversed(says)))

"""A request to trace: read from what people, files and earlier versions write, and refused."""

import json
import re

import pytest

from ironlace.evidence.analyses import AskedError, Known, asked_as_dict, asked_fields, asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.ornament import OtherPhotograph, TraceAsked
from ironlace.ornament.gilt.scan_and_rubbing import DPI
from ironlace.ornament.trace_asked import SCAN_DPI, asked_before, check_asked, check_inside

LENS = {"matrix": [[900.0, 0, 320.0], [0, 910.0, 240.0], [0, 0, 1]], "distortion": [0.1]}
BEFORE = {
    "photograph": "photograph 1",
    "how": "strip",
    "strip": "wrap",
    "surface": "cone",
    "gilt": [[10, 20.5]],
    "ground": [],
    "region": None,
    "mirror": True,
    "repeat": True,
    "lens": LENS,
    "colours": {"red": [[1, 2]]},
    "card": [[5, 6]],
    "others": [
        {"photograph": "photograph 2", "shows": "example", "called": "the mill's"},
        {"photograph": "photograph 3", "shows": "machine", "called": ""},
        {"photograph": "photograph 4"},
    ],
}
"""As a drawing kept by the version before holds it."""


def test_what_the_version_before_kept_is_read():
    asked = asked_from(TraceAsked, asked_before({"asked": BEFORE, "report": {}}))
    assert (asked.strip, asked.surface, asked.mirror, asked.repeat) == ("wrap", "cone", True, True)
    assert asked.gilt == ((10.0, 20.5),)
    assert asked.region == ()
    assert asked.card == ((5.0, 6.0),)
    assert asked.colours == {"red": ((1.0, 2.0),)}
    assert asked.lens.focal_px == (900.0, 910.0)
    assert [other.grade for other in asked.others] == [Grade.INFERRED, Grade.SEEN, Grade.SEEN]
    assert [o.label for o in asked.others] == ["the mill's", "photograph 3", "photograph 4"]
    # it knew neither: what it did is what is asked when nothing is said
    assert (asked.tolerance_mm, asked.bridges) == (0.04, True)
    assert not asked.upright and TraceAsked().upright  # nothing was turned then
    assert [asked.lens_of(n) for n in range(4)] == [asked.lens] * 4


def test_it_is_kept_and_read_again_the_same():
    asked = asked_from(TraceAsked, asked_before({"asked": BEFORE}))
    plain = json.loads(json.dumps(asked_as_dict(asked)))
    assert asked_from(TraceAsked, asked_before({"asked": plain})) == asked
    new = asked_as_dict(TraceAsked())
    assert asked_from(TraceAsked, asked_before({"asked": new})).upright
    assert asked_before({}) == {}  # what is kept of something else asks for nothing


def test_sizes_go_by_what_the_strip_itself_measures():
    asked = asked_from(TraceAsked, {"strip": "wrap", "strip_mm": "7 1/2 in ± 0.2 mm"})
    assert asked.layout.longer_mm == pytest.approx(190.5)
    assert asked.layout.by_key.keys() == asked.drawn_layout.by_key.keys()
    kept = json.loads(json.dumps(asked_as_dict(asked)))
    assert asked_from(TraceAsked, kept) == asked


def test_places_are_read_from_text_and_from_lists():
    text = asked_from(TraceAsked, {"gilt": "1, 2; 3 4\n5.5,6", "measured": "1 2, 0, 0\n3,4,5,6"})
    assert text.gilt == ((1.0, 2.0), (3.0, 4.0), (5.5, 6.0))
    assert text.measured == ((1.0, 2.0, 0.0, 0.0), (3.0, 4.0, 5.0, 6.0))
    assert asked_from(TraceAsked, {"gilt": [[1, 2], [3, 4], [5.5, 6]]}).gilt == text.gilt


def test_each_photograph_has_the_lens_that_is_said_of_it():
    others = [
        {"photograph": "b", "lens": LENS},
        {"photograph": "c", "lens": "estimated"},
        {"photograph": "d"},
    ]
    first = {**LENS, "distortion": []}
    asked = asked_from(TraceAsked, {"photograph": "a", "lens": first, "others": others})
    assert asked.lens_of(0).distortion[0] == 0.0
    assert asked.lens_of(1).distortion[0] == 0.1
    assert asked.lens_of(2) is None
    assert asked.lens_of(3) == asked.lens_of(0)


def test_another_photograph_is_never_called_as_the_first_one_is():
    assert OtherPhotograph("photograph 2", called="here").label == "photograph 2"


@pytest.mark.parametrize(
    ("given", "says"),
    [
        ({"strip": "ladder"}, "use one of frame"),
        ({"gilt": "here"}, "'here' is not a point"),
        ({"gilt": [[1]]}, "list of points"),
        ({"gilt": [[1, float("nan")]]}, "not finite"),
        ({"measured": "1, 2, 3"}, "four figures"),
        ({"measured": [[1, 2, 3]]}, "x px, y px, x mm, y mm"),
        ({"others": "photograph 1"}, "a list"),
        ({"others": [3]}, "'3' is not a photograph"),
        ({"others": [{"photograph": "b", "shows": "a cow"}]}, "'a cow' says not"),
        ({"lens": {"matrix": 3}}, "lens"),
        ({"colours": {str(n): [] for n in range(6)}}, "at most 5 colours"),
        ({"tolerance_mm": 0}, "give 0.001 to 1 mm"),
        ({"ribbon": 1}, "is not asked for here"),
    ],
)
def test_what_cannot_be_read_is_refused_in_a_sentence(given, says):
    with pytest.raises(IronlaceError, match=re.escape(says)) as caught:
        asked_from(TraceAsked, given)
    assert "\n" not in str(caught.value)
    assert str(caught.value).endswith(".")


PLACES = tuple((float(n), float(n % 3), float(n), float(n % 3)) for n in range(4))


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        (TraceAsked("a", others=(OtherPhotograph("a"),)), "named twice"),
        (TraceAsked("a", how="scan"), "say its dpi"),
        (TraceAsked("a", how="scan", dpi=300, others=(OtherPhotograph("b"),)), "by itself"),
        (TraceAsked("a", how="points", measured=PLACES[:3]), "at least 4"),
        (TraceAsked("a", how="points", surface="cone", measured=PLACES), "at least 7"),
        (
            TraceAsked("a", how="points", measured=PLACES, others=(OtherPhotograph("b"),)),
            "0 measured places were given in b",
        ),
        (
            TraceAsked(
                "a",
                how="points",
                measured=PLACES,
                others=(OtherPhotograph("b", measured=PLACES * 60),),
            ),
            "240 places for 'measured'",
        ),
        (TraceAsked(strip_mm=Known(100.0, None, "mm")), "drawn 248 mm long"),
        (TraceAsked(how="scan", dpi=300, strip_mm=Known(248.0, None, "mm")), "leave it out"),
        (TraceAsked(region=((1, 2),)), "two corners"),
        (TraceAsked(axis=((1, 2),)), "axis needs two places, not 1"),
        (TraceAsked(step=((1, 2),) * 3), "step needs two places, not 3"),
        (TraceAsked(card=((1, 2),) * 2), "one place, not 2"),
        (TraceAsked(ground=((1, 2),) * 201), "more than 200"),
    ],
)
def test_what_does_not_fit_together_is_refused(asked, says):
    with pytest.raises(AskedError, match=re.escape(says)) as caught:
        check_asked(asked)
    assert caught.value.field in {one.name for one in asked_fields(TraceAsked)}


def test_places_beside_the_photograph_are_refused_wherever_they_were_pointed():
    for outside in (
        TraceAsked(gilt=((641, 2),)),
        TraceAsked(colours={"red": ((3, -1),)}),
        TraceAsked(measured=((3, 481, 0, 0),)),
    ):
        with pytest.raises(AskedError, match="which is 640 × 480 px") as caught:
            check_inside(outside, 640, 480)
        assert getattr(outside, caught.value.field)
    check_inside(TraceAsked(gilt=((640, 480),)), 640, 480)


def test_a_scan_has_the_resolution_that_it_is_laid_flat_with():
    assert SCAN_DPI == DPI
    for dpi in ("nan", "inf", "0", "9601"):
        with pytest.raises(AskedError, match="give 50 to 9600"):
            asked_from(TraceAsked, {"how": "scan", "dpi": dpi})

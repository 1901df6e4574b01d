"""The spare screw: limits against the printed tables, drawing read by other libraries."""

import io
from dataclasses import replace
from xml.etree import ElementTree

import ezdxf
import pytest

from ironlace.care.errors import CareError
from ironlace.care.spare_screw import SPARE_SCREW, SpareAsked
from ironlace.evidence.analyses import Known, Nothing
from ironlace.evidence.progress import Steps


def mm(value):
    return Known(value, None, "mm")


M5 = SpareAsked(
    mm(5.0), mm(0.8), mm(12.0), "cheese", 60.0, mm(9.0), mm(8.5), mm(3.3), mm(1.2), mm(1.6)
)


def worked(asked):
    return SPARE_SCREW.work(Nothing(), asked, Steps())


def test_an_m5_has_the_limits_of_the_tables():
    low, high = worked(M5).major
    # ISO 965-2, M5 6g: 4.976 to 4.826 (secondary tables)
    assert (low, high) == pytest.approx((4.826, 4.976), abs=0.002)


def test_the_drawing_is_true_to_scale_in_svg_and_dxf():
    files = {one.name: one for one in SPARE_SCREW.answer(worked(M5)).files}
    svg = ElementTree.fromstring(files["spare.svg"].content())
    paths = {one.get("id"): one.get("d") for one in svg if one.get("id")}
    places = [tuple(map(float, one.split())) for one in paths["outline-0"][1:].split("L")]
    xs, ys = zip(*places, strict=True)
    assert max(xs) - min(xs) == pytest.approx(12.0 + 3.3, abs=0.001)
    assert max(ys) - min(ys) == pytest.approx(8.5, abs=0.001)
    assert svg.get("width").removesuffix("mm") == svg.get("viewBox").split()[2]
    document = ezdxf.read(io.StringIO(files["spare.dxf"].content().decode("utf-8")))
    ring = next(iter(document.modelspace().query('LWPOLYLINE[layer=="OUTLINE"]')))
    across = [x for x, *_ in ring.get_points()]
    assert max(across) - min(across) == pytest.approx(15.3, abs=0.001)
    assert files["spare.svg"].on_paper


@pytest.mark.parametrize("head", ["countersunk", "round", "fillister", "none"])
def test_every_head_is_drawn_closed(head):
    answer = SPARE_SCREW.answer(worked(replace(M5, head=head)))
    assert b'id="outline-0"' in answer.files[0].content()
    assert "<path" in answer.plots[0].svg


@pytest.mark.parametrize(
    ("change", "says"),
    [
        ({"threaded": mm(13.0)}, "cannot be"),
        ({"pitch": mm(4.0)}, "pitch of 4 mm"),
        ({"head_diameter": mm(4.0)}, "no wider than the thread"),
        ({"head_height": None}, "not given"),
        ({"slot_deep": mm(4.0)}, "goes through"),
    ],
)
def test_what_cannot_be_is_refused(change, says):
    with pytest.raises(CareError, match=says):
        worked(replace(M5, **change))


@pytest.mark.parametrize(("head", "wide"), [("cheese", 8.5), ("cheese", 12.0), ("none", 5.0)])
def test_a_slot_as_wide_as_the_head_is_refused(head, wide):
    with pytest.raises(CareError, match="leaves nothing of a head"):
        worked(
            replace(
                M5,
                head=head,
                head_diameter=mm(8.5) if head == "cheese" else None,
                slot_wide=mm(wide),
            )
        )


def test_a_pitch_that_does_not_go_with_the_diameter_is_doubted_first():
    said = SPARE_SCREW.answer(worked(replace(M5, diameter=mm(2.5)))).sentences
    assert said[0].startswith("A pitch of 0.8 mm is coarser")

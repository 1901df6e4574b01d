"""An unknown screw in photographs made by casting rays; for large counts bench/care_screw.py."""

from dataclasses import replace

import numpy as np
import pytest

from ironlace.care.errors import CareError
from ironlace.care.screw_photograph import ScrewCase, measure_screw
from ironlace.care.screw_plots import thread_stands
from ironlace.photographs import GivenLens, PhotographsError, StripLayout, strip_sheet
from photographed_screws import photograph, photographed_m5

SMALL = (1150, 780)


def case(shot, **changes):
    lens = GivenLens(tuple(map(tuple, shot.matrix)), tuple(shot.distortion))
    asked = ScrewCase(shot.caliper_mm, shot.axis_mm, shot.caliper_sd_mm, shot.axis_sd_mm, lens)
    return replace(asked, **changes)


def measured(shot, image=None, layout=None, **changes):
    return measure_screw(
        shot.image if image is None else image,
        layout or StripLayout.from_csv(shot.layout_csv),
        case(shot, **changes),
    )


@pytest.mark.parametrize("kind", ["workshop", "window"])
def test_an_m5_is_measured_and_named(kind):
    shot = photographed_m5(kind)
    found = measured(shot)
    low, value, high = found.interval(found.pitch_mm, found.pitch_sd_mm)
    assert found.reliable
    assert low < shot.pitch_mm < high
    assert value == pytest.approx(shot.pitch_mm, rel=0.003)
    assert found.threads == pytest.approx(shot.threads, abs=0.9)
    assert found.angle.angle_deg == pytest.approx(60.0, abs=5.0)
    assert abs(found.angle.angle_deg - 60.0) < 1.645 * found.angle.sd_deg
    assert found.named.forms[0].form.size == "M5"
    # what is worn is no more than what is missing, and blur takes little of an M5
    missing = 1.0 - thread_stands(found)[1]
    assert shot.told["wear"] - 0.05 < missing < shot.told["wear"] + 0.25
    assert sum(found.named.families.values()) == pytest.approx(1.0)


def test_without_a_lens_the_distance_tells_the_pitch_all_the_same():
    shot = photographed_m5()
    found = measured(shot, lens=None, camera_distance_mm=shot.distance_mm)
    assert found.pitch_mm == pytest.approx(shot.pitch_mm, rel=0.003)


@pytest.mark.parametrize(
    ("changes", "says"),
    [
        ({"caliper_mm": 3.0}, "caliper"),
        ({"axis_above_card_mm": 59.0, "lens": None, "camera_distance_mm": 90.0}, "check both"),
    ],
)
def test_figures_that_contradict_the_picture_are_refused(changes, says):
    with pytest.raises(CareError, match=says):
        measured(photographed_m5(), **changes)


def test_a_card_in_mm_typed_as_inches_is_refused():
    shot = photographed_m5()
    lines = shot.layout_csv.splitlines()
    inches = [
        ",".join([*one.split(",")[:3], *(f"{float(v) * 25.4:.3f}" for v in one.split(",")[3:])])
        for one in lines[1:]
    ]
    with pytest.raises(CareError, match=r"to scale|inches"):
        measured(shot, layout=StripLayout.from_csv("\n".join([lines[0], *inches])))


def test_markers_of_another_card_are_refused():
    with pytest.raises(PhotographsError, match="markers"):
        measured(photographed_m5(), layout=strip_sheet("chart").layout)


def test_a_card_without_a_screw_is_refused():
    shot = photographed_m5()
    bare = shot.image.copy()
    # paper laid over the middle of the card
    h, w = bare.shape[:2]
    bare[int(h * 0.27) : int(h * 0.73), int(w * 0.16) : int(w * 0.84)] = bare[h // 2, int(w * 0.15)]
    with pytest.raises(CareError, match="No screw"):
        measured(shot, image=bare)


def test_a_screw_that_leaves_the_picture_is_refused():
    shot = photographed_m5()
    cut = shot.image[:, : shot.image.shape[1] // 2]
    with pytest.raises(CareError, match="leaves the picture"):
        measured(shot, image=np.ascontiguousarray(cut), lens=None)


def test_a_plain_pin_has_no_thread():
    pin = photograph(np.random.default_rng(3), size=SMALL, given=("metric", 5.0, 0.8, 179.0))
    with pytest.raises(CareError, match=r"No thread|threads are seen"):
        measured(pin)

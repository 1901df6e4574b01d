"""Pictures that cannot bear an answer, one for each way that they come."""

import dataclasses

import numpy as np
import pytest

from ironlace.running.errors import RunningError
from ironlace.running.seam.bearing import Origin, bearing
from ironlace.running.seam.seam_measured import Scale, measure_seam
from ironlace.running.seam.seam_picture import SeamPicture
from sewn_seams import Case, sewn

PLAIN = {"long_mm": 28.0, "skip_share": 0.0, "cv": 0.02}


def judged(case):
    made = sewn(np.random.default_rng(3), case)
    dpi = made.dpi or 25.4 * made.picture.shape[1] * 0.9 / made.width_mm
    found = measure_seam(SeamPicture(made.picture, dpi / 25.4), Scale("dpi"))
    return bearing(found, Origin(), dpi)


@pytest.fixture(scope="module")
def good():
    made = sewn(np.random.default_rng(4), Case("twill", length=2.4, **PLAIN))
    return measure_seam(SeamPicture(made.picture, 600 / 25.4), Scale("dpi"))


def test_a_good_seam_is_reliable(good):
    assert bearing(good, Origin(600.0), 600.0).reliable


@pytest.mark.parametrize(
    ("case", "word"),
    [
        (Case("linen slub", length=2.2, stitch="zigzag", **PLAIN), "zigzag"),
        (Case("twill", length=2.6, stitch="chain", **PLAIN), "chain stitch"),
        (Case("twill", length=2.4, blur_mm=0.2, **PLAIN), "out of focus"),
        (Case("twill", length=2.4, seams=2, **PLAIN), "two seams"),
        (Case("twill", length=0.65, **PLAIN), "outside of 0.8 to 6"),
        (Case("twill", length=6.5, **{**PLAIN, "long_mm": 50.0}), "outside of 0.8 to 6"),
        (Case("twill", "phone", length=2.5, with_strip=False, slant=0.6, **PLAIN), ""),
    ],
    ids=["zigzag", "chain", "blurred", "two", "short", "long", "slant"],
)
def test_what_cannot_be_borne_is_said(case, word):
    told = judged(case)
    assert not told.reliable
    assert word in " ".join(told.why)


def test_a_resolution_that_is_not_the_files_is_said(good):
    told = bearing(good, Origin(300.0), 600.0)
    assert any("the file says 300" in reason for reason in told.why)


def test_a_file_that_gives_no_resolution_is_said(good):
    def said(dpi):
        return any(
            "rests on the 600 stated" in n for n in bearing(good, Origin(dpi), 600.0).notices
        )

    assert said(None)
    assert not said(600.0)


def test_a_camera_has_no_one_resolution(good):
    told = bearing(good, Origin(None, by_camera=True), 600.0)
    assert any("a camera's" in reason for reason in told.why)


def test_thread_of_the_cloths_own_colour_is_said():
    told = judged(Case("linen slub", length=2.4, same_colour=True, **PLAIN))
    assert any("own colour" in said for said in (*told.why, *told.notices))


def test_a_curved_hem_is_said():
    told = judged(Case("linen slub", length=2.2, radius=60.0, **PLAIN))
    assert any("curved" in said for said in told.notices)


def test_the_other_threads_loops_ask_for_the_side():
    told = judged(Case("twill", length=2.4, loops=True, **PLAIN))
    assert any("taken for the front" in said for said in told.notices)


def test_a_mirrored_picture_shows_in_the_threads_twist():
    made = sewn(np.random.default_rng(3), Case("linen slub", "1200 dpi", length=2.6, **PLAIN))
    seen = measure_seam(SeamPicture(made.picture, 1200 / 25.4), Scale("dpi"))
    turned = measure_seam(SeamPicture(made.picture[:, ::-1].copy(), 1200 / 25.4), Scale("dpi"))
    assert seen.twist > 0 > turned.twist
    told = bearing(dataclasses.replace(turned, twist=-6.0), Origin(), 1200.0)
    assert any("mirrored" in said for said in told.notices)


@pytest.mark.parametrize(
    ("pixels", "scale", "word"),
    [
        (np.zeros((300, 900, 3), np.uint8), 4.0, "dots to the inch"),
        (np.zeros((60, 100, 3), np.uint8), 24.0, "at least 8 mm"),
        (np.zeros((300, 9000, 3), np.uint8), 24.0, "cut it to the seam"),
        (np.zeros((300, 900, 3), np.uint8), float("nan"), "dots to the inch"),
        (np.full((400, 1800, 3), 235, np.uint8), 600 / 25.4, "Nothing in the picture is like"),
    ],
    ids=["coarse", "small", "large", "nan", "blank"],
)
def test_what_cannot_be_measured_in_is_refused(pixels, scale, word):
    with pytest.raises(RunningError, match=word):
        measure_seam(SeamPicture(pixels, scale), Scale("dpi"))


def test_thread_near_to_the_cloths_colour_and_stripes_beneath_are_told(good):
    def why(contrast, unlike, half_turned=False):
        seen = dataclasses.replace(
            good,
            thread=dataclasses.replace(good.thread, contrast=contrast),
            unlike=unlike,
            half_turned=half_turned,
        )
        return bearing(seen, Origin(), 600.0).why

    assert why(40.0, 1.0) == ()
    assert why(11.0, 1.0)[0].startswith("The thread has nearly the cloth's own colour")
    assert "all marks may stand beside the holes alike" in why(40.0, 5.0)[0]
    # plain holes about which the seam turns into itself are enough, but not on a lost line
    assert why(11.0, 5.0, half_turned=True) == ()
    assert why(3.0, 1.0, half_turned=True)[0].startswith("The thread has nearly")


def test_a_thread_without_plies_says_that_a_mirrored_scan_is_not_noticed(good):
    told = {
        twist: " ".join(bearing(dataclasses.replace(good, twist=twist), Origin(), 600.0).notices)
        for twist in (-9.0, 0.0, 9.0)
    }
    assert "may be mirrored" in told[-9.0]
    assert "a mirrored scan is not noticed" in told[0.0]
    assert "unless yours is an S-twist thread the picture is not mirrored" in told[9.0]


def test_a_doubted_end_at_the_rim_alone_is_no_reason(good):
    rim = np.zeros(len(good.doubtful), bool)
    rim[[0, -1]] = True
    within = np.roll(rim, 3)
    assert bearing(dataclasses.replace(good, doubtful=rim), Origin(), 600.0).reliable
    said = bearing(dataclasses.replace(good, doubtful=within), Origin(), 600.0).why
    assert any("ends are doubtful" in one for one in said)


def softened(good, scale):
    """The seam as it would be told with a soft edge of the thread, and a scale of its own."""
    looks = dataclasses.replace(good.thread, flank_mm=0.3, width_mm=0.32)
    return bearing(dataclasses.replace(good, thread=looks, scale=scale), Origin(600.0), None)


def test_a_soft_thread_beside_a_sharp_strip_is_not_out_of_focus(good):
    # traced with two lamps: 0.30 mm, the strip's edges blurred by 0.077
    told = softened(good, Scale("strip", 0.001, (20.0, 10.0, 300.0), 0.077))
    assert told.reliable
    assert any("shadows on both sides" in said for said in told.notices)


@pytest.mark.parametrize("blur_mm", [0.11, float("nan")])
def test_a_soft_thread_is_out_of_focus_where_the_strip_is_or_none_is_told(good, blur_mm):
    told = softened(good, Scale("strip", 0.001, (20.0, 10.0, 300.0), blur_mm))
    assert "out of focus" in told.why[0]


def test_why_ends_hardly_stand_out_is_named_by_what_was_measured(good):
    def why(contrast=40.0, flank=0.05, unlike=1.0):
        looks = dataclasses.replace(good.thread, contrast=contrast, flank_mm=flank, width_mm=0.3)
        ends = dataclasses.replace(good.ends, apart=1.0)
        seen = dataclasses.replace(good, thread=looks, ends=ends, unlike=unlike, half_turned=False)
        return next(one for one in bearing(seen, Origin(600.0), 600.0).why if "hardly" in one)

    assert why(contrast=8.0).endswith("The thread has the cloth's own colour.")
    assert why(flank=0.3).endswith("Blur does that.")
    assert why(unlike=6.0).endswith("a lamp that grazes it, does that.")
    assert "a taut thread that lies over closed holes" in why()


def test_a_few_skips_do_not_make_every_second_hole_none(good):
    skips = good.stitches.copy()
    skips[3::4] = 2
    seen = dataclasses.replace(good, stitches=skips)
    said = " ".join(bearing(seen, Origin(600.0), 600.0).why)
    assert "Every second hole" not in said

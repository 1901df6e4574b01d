"""Seams of which every hole is known, from two generators; the large counts are in bench/."""

import json
from pathlib import Path

import cv2
import numpy as np
import pytest

from ironlace.running.errors import RunningError
from ironlace.running.seam.bearing import ZIGZAG, Origin, bearing
from ironlace.running.seam.seam_analysis import seam_found
from ironlace.running.seam.seam_measured import Scale, measure_seam
from ironlace.running.seam.seam_picture import SeamPicture
from ironlace.running.seam.seam_told import seam_figures, seam_sentences
from ironlace.running.seam.two_seams import lengths_told
from sewn_seams import Case, sewn
from sewn_seams_drawn import drawn

FOLDER = Path(__file__).parents[2] / "fixtures" / "path_traced_seam"
"""Seams as a path tracer saw them (`bench/path_traced_seam.py`): each holds something that those
who paint all holes alike had hidden."""


def measured(made):
    return measure_seam(SeamPicture(made.picture, made.dpi / 25.4), Scale("dpi"))


@pytest.mark.parametrize(
    ("make", "case"),
    [
        (sewn, Case("linen slub", length=2.4, cv=0.04, lean=True, lint=True, long_mm=45.0)),
        (sewn, Case("jersey", length=2.1, cv=0.02, chalk=True, skip_share=0.0, across=True)),
        (drawn, Case("twill", pucker=True)),
    ],
)
def test_every_hole_is_found_where_it_is(make, case):
    made = make(np.random.default_rng(12), case)
    found = measured(made)
    far = np.linalg.norm(found.places_mm[:, None] - made.holes_mm[None], axis=2)
    inner = (made.holes_mm > 0.6).all(axis=1)
    inner &= (made.holes_mm < np.array([made.width_mm, made.height_mm]) - 0.6).all(axis=1)
    if case.across:
        inner = np.ones(len(made.holes_mm), bool)
        inner[[0, -1]] = False
    assert (far.min(axis=0)[inner] < 0.3).mean() >= 0.95
    assert (far.min(axis=1) > 0.3).sum() <= 1
    single = made.lengths_mm[~made.skipped]
    assert found.figures.mean_mm[1] == pytest.approx(single.mean(), rel=0.006)
    assert found.figures.cv[1] == pytest.approx(single.std(ddof=1) / single.mean(), abs=0.011)


def test_skipped_stitches_are_counted():
    made = sewn(np.random.default_rng(4), Case("twill", length=2.0, cv=0.03, skip_share=0.12))
    assert made.skipped.sum() >= 2
    assert abs(measured(made).skipped - made.skipped.sum()) <= 1


def test_plain_cloth_is_refused_or_told_unreliable():
    rng = np.random.default_rng(6)
    pixels = np.uint8(np.clip(150 + 12 * rng.normal(size=(260, 1100, 3)), 0, 255))
    try:
        found = measure_seam(SeamPicture(pixels, 600 / 25.4), Scale("dpi"))
    except RunningError as error:
        assert "Nothing in the picture is like a seam" in str(error)
    else:
        assert not bearing(found, Origin(), 600.0).reliable


def asked(name):
    told = json.loads((FOLDER / "truth.json").read_text())[name]
    pixels = cv2.cvtColor(cv2.imread(str(FOLDER / f"{name}.jpg")), cv2.COLOR_BGR2RGB)
    found = seam_found(pixels, Origin(told["dpi"]), dpi=told["dpi"], layout=None)
    return found, np.array(told["lengths_mm"])


@pytest.fixture(scope="module")
def dots():
    return asked("dots")


def held(found, lengths):
    """Share of the single lengths that lie in their interval of 90 %."""
    off = np.abs(found.measured.lengths_mm - lengths)
    return float((off <= found.measured.half_mm).mean())


def test_the_hole_in_which_a_thread_stops_is_told_as_vaguely_as_it_is_seen(dots):
    found, lengths = dots
    assert abs(found.measured.lengths_mm[0] - lengths[0]) > 0.15
    assert held(found, lengths) >= 0.85
    assert found.measured.left_out.nonzero()[0].tolist() == [0, len(lengths) - 1]
    inner = lengths[1:-1]
    low, _, high = found.measured.figures.cv
    assert low < inner.std(ddof=1) / inner.mean() < high


def test_what_is_left_out_is_said_and_not_compared(dots):
    found, lengths = dots
    figures = seam_figures(found.measured, found.judged)
    assert len(lengths_told(figures).lengths_mm) == len(lengths) - 2
    said = " ".join(seam_sentences(found.measured, found.judged))
    assert "In the first and in the last hole the thread stops" in said


def test_holes_that_look_unlike_one_another_are_told_less_surely():
    found, lengths = asked("calico")
    assert held(found, lengths) >= 0.85
    single = lengths.std(ddof=1) / lengths.mean()
    low, _, high = found.measured.figures.cv
    assert low < single < high


@pytest.fixture(scope="module")
def raking():
    return asked("raking")


def test_the_shadow_of_each_stitch_is_no_zigzag(raking):
    found, _ = raking
    assert found.measured.thread.side_to_side < ZIGZAG


def test_that_every_second_hole_may_be_none_is_said_first(raking):
    found, lengths = raking
    mean = found.measured.figures.mean_mm[1]
    assert mean == pytest.approx(0.5 * lengths.mean(), rel=0.1)
    first = seam_sentences(found.measured, found.judged)[0]
    assert first.startswith("Not reliable: Every second hole may be none")
    assert f"{2.0 * mean:.2f} mm long, twice what is told" in first


def test_what_is_seen_slantwise_is_told_less_surely():
    made = sewn(np.random.default_rng(4), Case("twill", length=2.4, long_mm=28.0))
    picture = SeamPicture(made.picture, made.dpi / 25.4)
    above, aside = (
        measure_seam(picture, Scale("strip", 0.001, (x, 5.0, 300.0))) for x in (14.0, 114.0)
    )
    # 100 mm aside of 300 a rise of 0.1 mm moves a hole by 0.03
    sd = np.sqrt(aside.single_sd_mm**2 - above.single_sd_mm**2)[1:-1]
    assert np.median(sd) == pytest.approx(0.1 / 3.0 / np.sqrt(2.0), rel=0.1)
    assert aside.lengths_mm == pytest.approx(above.lengths_mm)


def test_the_ribs_of_denim_are_no_second_seam():
    found, _ = asked("denim")
    assert not any("two seams" in reason for reason in found.judged.why)

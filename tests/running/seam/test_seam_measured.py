"""Seams of which every hole is known, from two generators; the large counts are in bench/."""

import numpy as np
import pytest

from ironlace.running.errors import RunningError
from ironlace.running.seam.bearing import Origin, bearing
from ironlace.running.seam.seam_measured import Scale, measure_seam
from ironlace.running.seam.seam_picture import SeamPicture
from sewn_seams import Case, sewn
from sewn_seams_drawn import drawn


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

"""Classes of seams and pictures that were once told wrongly without a word; counts in bench/."""

import numpy as np

from ironlace.running.seam.bearing import SLANT, Origin
from ironlace.running.seam.seam_analysis import seam_found
from shaded_seams import CLASSES, Habit, case_of, made


def measured(seed, **habit):
    """A short seam of this habit, and what is found of it."""
    habit = {"long": 40.0, "wide": 7.0, "fuzz": 0.3, **habit}
    return looked_at(made(np.random.default_rng(seed), Habit(**habit)))


def looked_at(case):
    """A seam and what is found of it."""
    return case, seam_found(case.pixels, Origin(), dpi=case.dpi, layout=None)


def of_class(name, number, seed=1):
    """The seam that the count in bench/ gives this number, in which the fault was seen."""
    rng = np.random.default_rng([seed, list(CLASSES).index(name), number])
    return looked_at(made(rng, case_of(rng, name)))


def off_mm(case, found):
    """How far each end lies from the nearest hole."""
    far = np.linalg.norm(found.measured.places_mm[:, None] - case.holes[None], axis=2)
    return far.min(axis=1)


def test_a_seam_that_leaves_the_picture_aslant_has_no_ends_beyond_it():
    case, found = measured(5, aslant=34.0, wide=18.0, stitch=2.0, cv=0.03, long=30.0)
    low = np.zeros(2)
    high = np.array(case.pixels.shape[1::-1]) / case.dpi * 25.4
    places = found.measured.places_mm
    assert ((places > low) & (places < high)).all()
    assert found.measured.figures.cv[1] < 0.06
    assert (off_mm(case, found) < 0.3).all()


def test_lint_beside_plain_thread_hides_no_skipped_stitch():
    case, found = of_class("skipped", 1)
    assert (off_mm(case, found) < 0.3).all()
    inner = ((case.holes > 0.5) & (case.holes < (59.5, 9.5))).all(axis=1)
    skips = int((case.stitches[inner[:-1] & inner[1:]] - 1).sum())
    assert found.measured.skipped == skips == 2


def test_the_few_holes_without_a_loop_are_not_told_as_skipped():
    case, found = of_class("loops", 5)
    assert (case.stitches == 1).all()
    assert found.measured.skipped == 0


def test_a_slanting_view_is_told_by_thread_and_stitches_together():
    _, found = measured(8, stitch=1.9, cv=0.02, tilt=0.12)
    assert abs(found.measured.thread.width_drift[0]) < SLANT
    assert "slantwise" in found.judged.why[0]


def test_a_glare_that_burns_stitches_out_is_told():
    _, found = measured(4, stitch=2.4, cv=0.03, glare=1.6)
    assert any("burnt out" in why for why in found.judged.why)


def test_even_and_odd_holes_are_placed_alike():
    case, found = of_class("uneven", 0)
    far = np.linalg.norm(found.measured.places_mm[:, None] - case.holes[None], axis=2)
    lengths = np.diff(case.holes[far.argmin(axis=1), 0])
    assert np.std(found.measured.lengths_mm - lengths) < 0.01


def test_two_kinds_of_hole_that_are_even_and_odd_ones_lie_alike_too():
    """In this shaken photograph they were told as two kinds, 0.05 mm apart."""
    case, found = of_class("shaken", 1, seed=11)
    far = np.linalg.norm(found.measured.places_mm[:, None] - case.holes[None], axis=2)
    lengths = np.diff(case.holes[far.argmin(axis=1), 0])
    assert np.std(found.measured.lengths_mm - lengths) < 0.03

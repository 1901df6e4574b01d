import numpy as np
import pytest

from eaten_plates import inked
from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.letter_shapes import letter_strikes
from ironlace.marks.reading.other_signs import (
    CUTS,
    GIVEN,
    Oddities,
    either_of,
    holes,
    maybe_pairs,
    oddities_of,
    odds_of_others,
    unseen,
)
from ironlace.marks.reading.places import Place
from ironlace.marks.reading.read_together import TOLD, read_together
from ironlace.marks.reading.relief_slopes import ReliefSlopes
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of

FIGURES = "0123456789"
BLOW = Blow(0.6, 3.0, 0.0, planed=False, blur=1.0)


@pytest.fixture(scope="module")
def odds():
    """Log-odds that each place shows a pair, or another sign, of a row in fine noise."""
    reader = ShapeReader(shapes_from_pictures({g: inked("demi", g) for g in FIGURES}))
    every = shapes_from_pictures({g: inked("demi", g) for g in (*FIGURES, *"GKS")})
    rng = np.random.default_rng(2)
    held = []
    for cell in ("0", "1", "47", "2", "4", "G", "5", "7", "K", "9", "6"):
        depth = np.max([placed(depth_left(every[g][0], BLOW), shape=WIDE) for g in cell], axis=0)
        slopes = slopes_of(depth) + rng.normal(0, 0.03, (2, *WIDE))
        held.append(held_down(slopes.astype(np.float32), 0.03))
    ground = [rng.normal(0, 0.03, (2, *WIDE)).astype(np.float32) for _ in range(5)]
    bare = BareMetal(tuple(held_down(one, 0.03) for one in ground), np.ones(24))
    over = overlaid(np.concatenate([reader.strikes, letter_strikes()]), held, bare)
    laid = held, over.places, over.bare
    figures = reader.strikes, reader.glyph_of, reader.upright
    return (
        odds_of_others(oddities_of(*laid, *figures), GIVEN),
        odds_of_others(oddities_of(held[:4], over.places[:4], (), *figures), GIVEN),
    )


def test_what_is_no_figure_stands_out(odds):
    found = either_of(odds[0])
    strange = np.isin(np.arange(11), [2, 5, 8])
    assert found[strange].min() > found[~strange].max()
    assert found[strange].min() > 3
    assert np.median(found[~strange]) < 0


def test_a_pair_is_told_from_a_letter(odds):
    pair, sign = odds[0].T
    assert pair[2] > sign[2] + 3
    assert (sign > pair)[[5, 8]].all()


def test_a_pair_is_shown_to_a_person_though_little_of_it_counts():
    near = np.array([-0.2, -0.1])
    odd = Oddities(np.array([0.1, 0.42]), near, near, np.array([-0.05, 0.18]), ((1, 7), (4, 8)))
    assert maybe_pairs(odd, CUTS).tolist() == [False, True]
    assert odds_of_others(odd, CUTS)[1, 0] == CUTS.most


def test_it_stands_out_among_few_fellows_without_bare_metal_too(odds):
    few = either_of(odds[1])
    assert few[2] > 3
    assert few[[0, 1, 3]].max() < 0


def test_the_chances_of_such_a_place_are_spread():
    clear = np.full((3, 10, 1, len(TOLD)), -5.0)
    clear[:, 4] = 40.0
    found = read_together(clear, clear[:0], others=np.array([-2.0, 6.0, -2.0]))
    p = found.shared.each()
    assert found.other[1] > 0.8
    assert found.other[[0, 2]].max() < 0.1
    assert p[1, 4] < 0.4
    assert p[[0, 2], 4].min() > 0.95


def test_a_place_far_deeper_than_any_strike_is_a_hole():
    assert (holes([0.1, 0.08, 0.5, 0.12]) > 0).tolist() == [False, False, True, False]
    assert (holes([0.16, 0.15, 0.5, 0.2]) > 0).tolist() == [False, False, True, False]
    assert not (holes([0.02, 0.03, 0.02, 0.15]) > 0).any()  # a pit on a worn plate
    assert not (holes([0.2, 0.38, 0.15, 0.18]) > 0).any()  # deep, by a relief half too steep


def test_a_figure_that_runs_off_the_picture_is_told_the_less_the_more_of_it_lacks():
    slopes = np.random.default_rng(3).normal(0, 0.1, (2, 200, 400)).astype(np.float32)
    slopes[:, 120:140, 330:370] = 0  # the relief knows nothing there
    relief = ReliefSlopes(slopes, 0.05)
    at = [Place("digit", 0, k, 50.0 * (k + 1), y, 48.0) for k, y in enumerate((60, 22, 14, 2))]
    at.append(Place("digit", 0, 5, 350.0, 130.0, 48.0))
    lacks = unseen(relief, at)
    assert lacks[:2].tolist() == [0.0, 0.0]
    assert 0.1 < lacks[2] < lacks[3] <= 1.0
    assert lacks[4] > 0.5

import numpy as np
import pytest

from eaten_plates import inked
from ironlace.marks.reading.bare_metal import BareMetal, overlaid
from ironlace.marks.reading.known_shapes import WIDE, ShapeReader, held_down, shapes_from_pictures
from ironlace.marks.reading.other_signs import GIVEN, holes, oddities_of, odds_of_others
from ironlace.marks.reading.read_together import TOLD, read_together
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of

FIGURES = "0123456789"
BLOW = Blow(0.6, 3.0, 0.0, planed=False, blur=1.0)


@pytest.fixture(scope="module")
def odds():
    """Log-odds that each place shows something else, of a row in fine noise."""
    reader = ShapeReader(shapes_from_pictures({g: inked("demi", g) for g in FIGURES}))
    every = shapes_from_pictures({g: inked("demi", g) for g in (*FIGURES, *"GKS")})
    rng = np.random.default_rng(2)
    held = []
    for cell in ("0", "1", "47", "2", "4", "G", "5", "7", "K", "9", "6"):
        depth = np.max([placed(depth_left(every[g][0], BLOW), shape=WIDE) for g in cell], axis=0)
        slopes = slopes_of(depth) + rng.normal(0, 0.03, (2, *WIDE))
        held.append(held_down(slopes.astype(np.float32), 0.03))
    laid = overlaid(reader.strikes, held, BareMetal((), np.ones(24))).places
    odd = oddities_of(held, laid, reader.strikes, reader.glyph_of, reader.upright)
    return odds_of_others(odd, GIVEN), odd


def test_what_is_no_figure_stands_out_of_its_fellows(odds):
    found, _ = odds
    strange = np.isin(np.arange(11), [2, 5, 8])
    assert found[strange].min() > found[~strange].max()
    assert found[strange].min() > 3
    assert np.median(found[~strange]) < 0


def test_few_digits_tell_nothing_of_their_spread(odds):
    assert not odds_of_others(odds[1][:4], GIVEN).any()


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
    assert not (holes([0.02, 0.03, 0.02, 0.15]) > 0).any()  # a pit on a worn plate

import numpy as np
import pytest

from ironlace.marks.reading.known_shapes import (
    WIDE,
    held_down,
    norms,
    shapes_from_pictures,
    windows_of,
)
from ironlace.marks.reading.numeral_styles import GLYPHS, NumeralStyle, drawn
from ironlace.marks.reading.period_shapes import BLOWS, template_of
from ironlace.marks.reading.same_punch import by_fellows
from ironlace.marks.reading.strikes import Blow, depth_left, placed, slopes_of
from struck_plates import face

_STYLE = NumeralStyle("", 0.55, 0.11, 0.055, 0.5, 0.05)
_STRIKES = np.stack([template_of(drawn(_STYLE, g), BLOWS[0], None) for g in GLYPHS])


def _place(rng, glyph, deep):
    depth = depth_left(
        shapes_from_pictures(face("book serif"))[glyph][0],
        Blow(deep, 2.0, 0.0, planed=False, blur=0.6),
    )
    noise = rng.normal(0, 0.1, (2, *WIDE))
    return held_down((slopes_of(placed(depth, shape=WIDE)) + noise).astype(np.float32), 0.1)


def _told(held, p, slopes=300.0):
    flat = _STRIKES.reshape(10, -1)
    laid = [((flat @ windows_of(one)) / norms(one).ravel()).astype(np.float32) for one in held]
    return by_fellows(held, laid, _STRIKES, np.arange(10), p, slopes)


def _sure_of(glyphs, last):
    p = np.full((len(glyphs) + 1, 10), 0.01)
    p[np.arange(len(glyphs)), [int(g) for g in glyphs]] = 0.91
    p[-1] = last
    return p


@pytest.mark.parametrize(("struck", "rival"), [("6", "5"), ("9", "0"), ("4", "1")])
def test_clear_fellows_serve_a_worn_strike_of_their_punch(struck, rival):
    rng = np.random.default_rng(1)
    clear = f"{struck}{rival}" * 2
    held = [_place(rng, g, 1.0) for g in clear] + [_place(rng, struck, 0.5)]
    told = _told(held, _sure_of(clear, 0.1))[-1]
    assert told[int(struck)] > told[int(rival)] + 0.4
    assert int(np.argmax(told)) == int(struck)


def test_fellows_that_do_not_fit_speak_against_a_figure_by_two_at_most():
    rng = np.random.default_rng(2)
    held = [_place(rng, "7", 1.0) for _ in range(3)] + [_place(rng, "2", 0.3)]
    p = _sure_of("777", 0.1)
    told = _told(held, p)[-1]
    others = np.delete(told, 7)  # no fellow speaks of them
    assert np.log(0.5) - 1e-6 < told[7] - others.min() < 0
    assert np.isclose((p[-1] * np.exp(told)).sum(), p[-1].sum())


def test_a_place_is_not_told_by_itself():
    rng = np.random.default_rng(3)
    held = [_place(rng, "4", 0.5), _place(rng, "1", 0.5)]
    p = np.full((2, 10), 1e-6)
    p[0, 4] = p[1, 1] = 1.0
    told = _told(held, p)
    # no other 4 lies on the plate: what is left of the mean for a 4 is the cut, as without fellows
    assert abs(told[0, 4] - told[0, 9]) < 0.05


def test_one_place_alone_has_no_fellows():
    held = [_place(np.random.default_rng(4), "5", 0.5)]
    assert not _told(held, np.full((1, 10), 0.1)).any()

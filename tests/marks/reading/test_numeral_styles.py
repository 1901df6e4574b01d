import numpy as np
import pytest

from ironlace.marks.reading.numeral_styles import (
    EDGE,
    GLYPHS,
    PERIOD_STYLES,
    TALL,
    drawn,
)


@pytest.mark.parametrize("style", PERIOD_STYLES, ids=lambda s: s.name)
def test_every_figure_fills_its_height_and_keeps_its_edge(style):
    for glyph in GLYPHS:
        ink = drawn(style, glyph)
        rows = np.flatnonzero(ink.max(axis=1) > 0.5)
        tall = TALL * (style.low if glyph in "012" else 1.0)
        assert rows[-1] - rows[0] + 1 == pytest.approx(tall, abs=2.5)
        assert ink[: EDGE - 3].max() == 0
        assert 0 <= ink.min() <= ink.max() <= 1


def test_figures_of_a_style_differ():
    for style in PERIOD_STYLES:
        seen = []
        for glyph in GLYPHS:
            paper = np.zeros((70, 70), np.float32)
            ink = drawn(style, glyph)[:70, :70]
            paper[: ink.shape[0], : ink.shape[1]] = ink
            seen.append(paper.ravel() / np.linalg.norm(paper))
        alike = np.array(seen) @ np.array(seen).T - np.eye(10)
        assert alike.max() < 0.95


def test_a_nine_is_a_six_turned_round():
    style = PERIOD_STYLES[4]
    turned, six = drawn(style, "9")[::-1, ::-1], drawn(style, "6")
    off = [np.abs(np.roll(turned, s, (0, 1)) - six).sum() for s in ((0, 0), (1, 1), (0, 1), (1, 0))]
    assert min(off) < 0.12 * six.sum()


def test_what_is_no_figure_is_refused():
    with pytest.raises(KeyError):
        drawn(PERIOD_STYLES[0], "A")

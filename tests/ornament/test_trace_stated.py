"""Photographs by a path tracer (`bench/path_traced_bed.py`): gilt as metal under varnish.

Metal shines by what it mirrors: in a dark room not at all, by one torch on one side alone.
"""

from functools import cache
from pathlib import Path

import numpy as np
import pytest

from darkroom import outline_errors
from drawn_by_habit import dots, scrolls
from ironlace.evidence.grades import Grade
from ironlace.ornament import (
    TRACE,
    OrnamentError,
    PhotographsToTrace,
    TraceAsked,
    trace_photographs,
)
from ironlace.ornament.trace_stated import stated
from ironlace.workshop.store.intake import pixels

PICTURES = Path(__file__).parent.parent / "fixtures" / "path_traced_bed"


@cache
def traced(name):
    given = PhotographsToTrace.of([pixels(PICTURES / f"{name}.jpg")])
    return trace_photographs(given, TraceAsked(surface="plane"))


def errors(found, ornament):
    return outline_errors([path.polygon(0.005) for path in found.drawing.paths], ornament)


def test_leaf_that_mirrors_a_dark_room_is_refused_and_says_why():
    with pytest.raises(OrnamentError, match=r"mirrors a dark room.*white sheet"):
        traced("dark-room")


def test_leaf_that_shines_on_one_side_alone_is_told_in_the_first_two_sentences():
    found = traced("one-torch")
    first, second = TRACE.answer(found).sentences[:2]
    assert "not in that" in first
    assert "where the gilt hardly shines" in first
    assert second.startswith("What limits it: ")
    assert second.index("of the gilt hardly shines") < 30
    # what is drawn is the paint's, though a third of it is not drawn
    forth, back = errors(found, dots(np.random.default_rng(1)))
    assert np.percentile(forth, 95) < 3 * stated(found.report).within_mm
    assert 0.2 < np.mean(back > 0.3) < 0.5


def test_gilt_that_mirrors_a_window_is_seen_as_it_is():
    found = traced("window")
    forth, back = errors(found, scrolls(np.random.default_rng(1)))
    assert np.percentile(np.concatenate([forth, back]), 95) < stated(found.report).within_mm
    assert not any("hardly shines" in one for one in TRACE.answer(found).sentences)
    assert found.drawing.length_by_grade()[Grade.SEEN] > 0.98 * found.drawing.length_mm

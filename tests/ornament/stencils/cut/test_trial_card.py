import pytest

from ironlace.ornament.stencils import (
    CardReading,
    ProcessError,
    known_process,
    process_from_card,
    process_toml,
    read_filled,
    read_process,
    trial_card_svg,
)
from ironlace.ornament.stencils.cut.trial_card import STEPS_MM, TONGUES_MM

READING = CardReading(0.3, 1.0, 10.0, 0.4, 20.07, 19.91, 0.08)


def test_the_card_is_a_drawing_with_all_its_trials():
    text = trial_card_svg()
    without_words = text[: text.index('<g id="words"')] + "</svg>"
    region = read_filled(without_words).region
    # slots, two openings to each web, discs, tongues, the square and the spiral
    assert len(region.geoms) == 4 * len(STEPS_MM) + len(TONGUES_MM) + 2
    left, top, right, bottom = region.bounds
    assert 0 < left < right < 150
    assert 0 < top < bottom < 120


def test_what_survived_becomes_the_limits():
    mine = process_from_card(known_process("film-laser"), READING)
    assert mine.least_web_mm == 1.0
    assert mine.bridge_width_mm == 1.0
    assert mine.kerf_mm == pytest.approx(0.08)
    assert mine.paint_spread_mm == 0.08
    again = read_process(process_toml(mine))
    assert again.sources["least_web_mm"] == "own test card"
    assert again.sources["cut_mm_s"] == "common practice, no source"


def test_figures_that_contradict_are_refused():
    with pytest.raises(ProcessError, match="larger than its hole"):
        process_from_card(known_process("film-laser"), CardReading(0.3, 1, 10, 0.4, 19.9, 20.0))
    with pytest.raises(ProcessError, match="true scale"):
        process_from_card(known_process("film-laser"), CardReading(0.3, 1, 10, 0.4, 18.0, 17.9))

"""An unknown screw as an analysis: the same as the command, joined with a gauge, told in order."""

from functools import cache

import numpy as np
import pytest

from ironlace.care.errors import CareError
from ironlace.care.screw_analysis import SCREW, ScrewAsked, ScrewPicture, case_of
from ironlace.care.screw_card import CARD_MM, screw_card, screw_card_svg
from ironlace.care.screw_photograph import measure_screw
from ironlace.care.screw_plots import comb_in_view, folded_profile, form_profile
from ironlace.care.thread_forms import ThreadForm
from ironlace.evidence.analyses import Known
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.photographs import StripLayout, strip_sheet
from ironlace.photographs.scale_strip import PIECE_WORDS
from photographed_screws import photographed_m5


def asked(**changes):
    made = photographed_m5()
    given = {
        "diameter": Known(made.caliper_mm, made.caliper_sd_mm, "mm"),
        "axis": Known(made.axis_mm, made.axis_sd_mm, "mm"),
        "distance": Known(made.distance_mm, None, "mm"),
        "layout": made.layout_csv,
        "photograph": "photograph 1",
    }
    return ScrewAsked(**{**given, **changes})


@cache
def alone():
    return worked(asked())


def worked(what, picture=True):
    inputs = ScrewPicture((lambda: photographed_m5().image) if picture else None)
    return SCREW.work(inputs, what, Steps())


def test_it_is_what_the_command_finds_and_names_the_screw():
    found = alone()
    layout = StripLayout.from_csv(photographed_m5().layout_csv)
    straight = measure_screw(photographed_m5().image, layout, case_of(asked()))
    assert found.readings.pitch_mm == straight.pitch_mm
    assert found.named.families == straight.named.families
    answer = SCREW.answer(found)
    assert answer.sentences[0].startswith("M5 metric")
    assert answer.results[2].grade is Grade.MEASURED
    plot, _ = answer.plots
    assert "M5" in plot.svg
    assert "diameter" in plot.sentences[0]


def test_a_gauge_narrows_it_and_one_that_contradicts_widens_it():
    by_itself = alone().readings
    agrees = worked(asked(pitch=Known(0.8, 0.001, "mm"))).readings
    assert agrees.pitch_sd_mm < by_itself.pitch_sd_mm
    wrong = worked(asked(pitch=Known(0.9, 0.002, "mm")))
    assert wrong.readings.pitch_mm == by_itself.pitch_mm
    assert wrong.readings.pitch_sd_mm == pytest.approx(0.9 - by_itself.pitch_mm)
    assert "one of them is wrong" in " ".join(SCREW.answer(wrong).sentences)


def test_a_comb_laid_by_hand_goes_before_the_photograph_and_is_graded_seen():
    by_itself = alone()
    laid = worked(asked(comb=0.75))
    assert laid.readings.pitch_mm == 0.75
    assert laid.readings.pitch_sd_mm == pytest.approx(0.15 * 0.75 / by_itself.measured.threads)
    answer = SCREW.answer(laid)
    pitch = next(one for one in answer.results if one.name == "pitch")
    assert pitch.grade is Grade.SEEN
    own = f"seen, not measured; the photograph's own was {by_itself.readings.pitch_mm:.4g} mm"
    assert own in " ".join(answer.sentences)
    # all threads laid upon each other: the crest in the middle, as deep and as wide as it was cut
    low, middle, high = folded_profile(laid.measured)
    assert abs(int(np.nanargmax(middle)) - len(middle) // 2) <= 4
    assert 2.0 * np.nanmax(middle) == pytest.approx(photographed_m5().caliper_mm, abs=0.06)
    assert 0.3 * 0.8 < np.nanmax(middle) - np.nanmin(middle) < 0.65 * 0.8
    assert np.all(low <= middle) and np.all(middle <= high)
    form = ThreadForm("metric", "M5", 5.0, 0.8, 60.0)
    flank = np.diff(form_profile(form, 0.8) * [0.8, 1.0], axis=0)[1]
    assert np.rad2deg(np.arctan2(flank[0], flank[1])) == pytest.approx(30.0)
    assert len(answer.plots) == 2
    view = comb_in_view(laid.measured)
    assert view["pitch"] * view["per_mm"] == pytest.approx(by_itself.readings.pitch_mm, rel=1e-12)
    with pytest.raises(CareError, match="laid on a photograph"):
        worked(asked(comb=0.75), picture=False)


def test_a_gauge_alone_is_graded_no_better_than_what_was_typed():
    what = asked(pitch=Known(0.7938, 0.002, "mm"), diameter=Known(4.7, 0.02, "mm"))
    answer = SCREW.answer(worked(what, picture=False))
    assert {one.grade for one in answer.results} == {Grade.CONJECTURED}
    assert not answer.plots


def test_with_neither_it_is_refused():
    with pytest.raises(CareError, match="neither a photograph nor a pitch"):
        worked(asked(), picture=False)


def test_the_card_has_numbers_that_no_strip_has_and_lies_within_its_edge():
    own = {one.id for one in screw_card().markers}
    for piece in (*PIECE_WORDS, "chart"):
        assert own.isdisjoint(one.id for one in strip_sheet(piece).layout.markers)
    left, top, right, bottom = screw_card().bounds_mm
    assert min(left, top, CARD_MM[0] - right, CARD_MM[1] - bottom) >= 2.4
    assert f'width="{CARD_MM[0] + 2:g}mm"' in screw_card_svg()

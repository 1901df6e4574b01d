"""What such machines do not have is told before the answer, for every analysis alike."""

import pytest

from ironlace.evidence.analyses import (
    Known,
    KnownColumn,
    KnownTable,
    Nothing,
    asked_fields,
    asked_from,
)
from ironlace.evidence.doubtful_figures import answered, doubtful_figures
from ironlace.evidence.progress import Steps
from ironlace.running.needles.thread_use import THREAD_USE
from ironlace.workshop import analyses


def doubts(key, **given):
    analysis = analyses.analysis_named(key)
    return list(doubtful_figures(asked_from(analysis.asked, given)))


def typed(analysis):
    """The fields of a form that are typed and not pointed at or named."""
    return [f for f in asked_fields(analysis.asked) if not f.ask.names and not f.ask.pointed]


WHOLE = [
    one
    for one in analyses.ALL
    if all(f in typed(one) for f in asked_fields(one.asked) if f.required)
]


@pytest.mark.parametrize("analysis", WHOLE, ids=lambda one: one.key)
def test_the_examples_and_the_defaults_of_a_form_are_usual(analysis):
    asked = typed(analysis)
    given = {f.name: f.ask.example for f in asked if f.ask.example}
    assert list(doubtful_figures(asked_from(analysis.asked, given))) == []
    for f in asked:
        assert f.ask.usual is None or f.ask.usual[0] < f.ask.usual[1]


def test_a_field_and_a_column_are_named_with_what_is_usual():
    said = doubts("belt-length", driver="30 cm", driven="7 mm", centres="600", thickness="5")
    assert said[0].startswith("'Driven wheel, across where the belt bears' of 7 mm is less than")
    wheels = {"driver": "30", "driven": "7", "centres": "60", "thickness": "0.476"}
    (all_in_cm,) = doubts("belt-length", **wheels)
    assert all_in_cm.count("less than is usual") == len(wheels) - 1
    (thin,) = doubts("thread-use", stitch="2.5", thickness="0.08")
    assert thin.startswith("'Thickness of the cloth, both layers' of 0.08 mm is less")
    rows = "screw,pitch_mm,diameter_mm\na,0.8,4.9\nb,0.08,4.9\nc,0.08,4.9"
    (cells,) = doubts("machine-threads", screws=rows)
    assert "'pitch_mm' in row 2 and 1 more of 'Screws of this machine'" in cells


def test_two_lengths_alike_to_three_figures_are_asked_about_and_two_tilts_are_not():
    wheels = {"centres": "600", "thickness": "5"}
    assert "copied" in doubts("belt-length", driver="223.5", driven="223.5", **wheels)[-1]
    assert doubts("belt-length", driver="220", driven="220", **wheels) == []
    table = KnownTable((KnownColumn("height", "mm", (-30.0, None, -300.0)),))
    asked = analyses.analysis_named("works-depth").asked(table)
    assert "'height' in row 3" in next(doubtful_figures(asked))


def test_the_answer_itself_follows_unchanged():
    asked = asked_from(THREAD_USE.asked, {"stitch": "2.5 mm", "thickness": "14 mm"})
    found = THREAD_USE.work(Nothing(), asked, Steps())
    plain, said = THREAD_USE.answer(found), answered(THREAD_USE, asked, found)
    assert said.sentences[1:] == plain.sentences
    assert said.results == plain.results
    assert isinstance(asked.thickness, Known)

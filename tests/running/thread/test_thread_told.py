"""What is told of the needle thread through a turn, and what it rests on."""

import numpy as np
import pytest

import sewn_thread
import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing, asked_from
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.thread.thread_asked import EXAMPLE, ThreadAsked
from ironlace.running.thread.thread_told import THREAD


def measured(value, error=0.1):
    return Known(float(value), error, "mm", Grade.MEASURED)


def rows_of(heads, rows):
    columns = zip(heads, zip(*rows, strict=True), strict=True)
    return KnownTable(
        tuple(KnownColumn(h, "mm", tuple(map(float, c))) for h, c in columns), Grade.MEASURED
    )


@pytest.fixture(scope="module")
def evening():
    rng = np.random.default_rng(4)
    head = turned_heads.head("cranked", rng)
    head.motions["take-up"] = head.at("take-up", head.degrees + 40.0)
    made = sewn_thread.threaded("plain", head, rng)
    head.motions["feed"] = sewn_thread.feed_of(made) + 2.0
    turns = np.arange(0.0, 360.0, 15.0)
    names = ("needle bar", "take-up", "shuttle", "feed")
    read, _ = turned_heads.readings(head, turns, names, rng, deg=1.0, misread=0.0)
    columns = tuple(
        KnownColumn(n, "deg" if n == "wheel" else "mm", tuple(map(float, v)))
        for n, v in read.items()
        if n != "opposite"
    )
    asked = ThreadAsked(
        KnownTable(columns, Grade.MEASURED),
        measured(made.stitch, 0.05),
        measured(made.thick, 0.05),
        measured(made.eye_at_plate, 0.2),
        measured(made.given_out, 1.0),
        rows_of(("aside", "below"), made.guides),
        measured(head.meeting),
        rows_of(("past", "loop"), made.loop),
        measured(made.stitch + 2 * made.balance * made.thick + 1.5, 0.1),
        turning="rise",
    )
    return made, THREAD.answer(THREAD.work(Nothing(), asked, Steps()))


def test_readings_of_everything_give_slack_with_its_doubt(evening):
    made, answer = evening
    low, value, high = answer.figures["slack_mm"]
    assert low - 0.5 < made.slack.max() < high + 0.5
    assert high - low < 10.0
    assert abs(value - made.slack.max()) < 4.0
    assert answer.figures["with_shuttle"] and answer.figures["with_feed"]
    assert answer.results[0].grade is Grade.INFERRED
    assert answer.figures["closure_mm"] == 0.0


def test_a_stitch_that_took_more_than_it_lays_is_said(evening):
    _, answer = evening
    assert any("1.50 mm more" in s or "more than lies in a stitch" in s for s in answer.sentences)


def test_the_plot_shades_what_its_words_and_table_say(evening):
    _, answer = evening
    (plot,) = answer.plots
    assert "<polygon" in plot.svg
    assert "slack between them (shaded)" in plot.sentences[0]
    assert len(plot.table) == 25


def test_without_shuttle_and_feed_it_says_so_first_and_is_conjectured():
    given = {"readings": EXAMPLE, "stitch": "2.5", "thickness": "0.8"}
    given |= {"eye_at_plate": "25", "given_out": "96"}
    asked = asked_from(ThreadAsked, given)
    answer = THREAD.answer(THREAD.work(Nothing(), asked, Steps()))
    assert answer.sentences[0].startswith("Told without the shuttle's loop: the shuttle was not")
    assert any("The feed was not read" in said for said in answer.sentences)
    assert all(result.grade is Grade.CONJECTURED for result in answer.results)
    used = next(r for r in answer.results if r.name == "needle thread that a stitch uses")
    assert used.value == pytest.approx(3.30)  # published form, check value 3.3000
    assert used.interval is None  # nobody stated an error
    again = THREAD.answer(THREAD.work(Nothing(), asked, Steps()))
    assert again.figures == answer.figures


AMISS = {
    "inches": ({"given_out": "3.8"}, "measured in one unit"),
    "stitches to the inch": ({"stitch": "10"}, "stitches to the inch"),
    "the point at the plate": ({"eye_at_plate": "12"}, "no shuttle comes behind the needle"),
    "turning": ({"turning": "fall"}, "needs most thread after the needle's lowest"),
}


@pytest.mark.parametrize("how", AMISS)
def test_an_amount_that_cannot_be_is_doubted_first(how):
    change, says = AMISS[how]
    given = {"readings": EXAMPLE, "stitch": "2.5", "thickness": "0.8"}
    given |= {"eye_at_plate": "25", "given_out": "96"} | change
    answer = THREAD.answer(THREAD.work(Nothing(), asked_from(ThreadAsked, given), Steps()))
    assert says in answer.sentences[0]
    assert all(result.grade is Grade.CONJECTURED for result in answer.results)

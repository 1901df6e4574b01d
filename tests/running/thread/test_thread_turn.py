"""The thread followed against one that was pulled through its discs step by step by other code."""

import numpy as np
import pytest

import sewn_thread
import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing
from ironlace.evidence.progress import Steps
from ironlace.running.errors import RunningError
from ironlace.running.thread.thread_asked import ThreadAsked
from ironlace.running.thread.thread_turn import STEPS, Curves, thread_turn, turn_of


def true_curves(made, degrees):
    """What moves, taken straight from the head that the truth was made of."""
    head, start = made.head, made.head.lowest("needle bar")
    at = start + np.asarray(degrees)
    highest = head.motions["take-up"].max()
    gone = highest - head.at("take-up", at)
    legs = sum(np.hypot(x, y) - np.hypot(x, y - gone) for x, y in made.guides)
    fed = np.clip((np.asarray(degrees) - made.feed_from) / 60.0, 0.0, 1.0)
    return Curves(
        (head.at("needle bar", at) - made.eye_at_plate)[None],
        legs[None],
        np.zeros((1, STEPS)),
        fed[None],
        np.array([made.stitch]),
        np.array([made.thick]),
    )


def made_one(seed=3, family="plain", **how):
    rng = np.random.default_rng(seed)
    head = turned_heads.head("cranked", rng)
    head.motions["take-up"] = head.at("take-up", head.degrees + 40.0)
    return sewn_thread.threaded(family, head, rng, **how)


@pytest.mark.parametrize("family", sewn_thread.FAMILIES)
def test_slack_is_that_of_a_thread_pulled_step_by_step(family):
    made = made_one(family=family, with_shuttle=False)
    turn = turn_of(true_curves(made, np.arange(STEPS) * 0.5), made.balance)
    assert turn.slack[0] == pytest.approx(made.slack[::2], abs=0.3)
    uses = made.stitch + 2.0 * made.balance * made.thick
    assert made.drawn.sum() == pytest.approx(uses, abs=1e-6)  # the pulled thread closes,
    assert turn.closure[0] == pytest.approx(0.0, abs=1e-9)  # and so does the reckoning
    # what take-up and discs give and take over the turn is what the stitch asked for
    assert turn.demand[0, -1] - turn.demand[0, 0] + turn.supply[0, 0] - turn.supply[
        0, -1
    ] == pytest.approx(turn.slack[0, 0] - turn.slack[0, -1], abs=1e-9)


def test_a_take_up_that_gives_too_little_snatches_and_leaves_loops():
    made = made_one()
    curves = true_curves(made, np.arange(STEPS) * 0.5)
    loop = np.zeros((1, STEPS))
    loop[0, 80:300] = 70.0 * np.sin(np.linspace(0.05, 3.0, 220))
    enough = Curves(curves.eye, curves.given, loop, curves.fed, curves.stitch, curves.thickness)
    short = Curves(
        curves.eye, 0.45 * curves.given, loop, curves.fed, curves.stitch, curves.thickness
    )
    top = int(np.argmin(curves.given[0]))
    assert turn_of(enough, 0.5).snatched.sum() < 0.2
    starved = turn_of(short, 0.5)
    assert starved.snatched.sum() == pytest.approx(starved.used[0], abs=1e-6)
    assert starved.slack[0, top] > 3.0


def table(columns):
    return KnownTable(
        tuple(KnownColumn(n, "deg" if n == "wheel" else "mm", tuple(v)) for n, v in columns)
    )


def asked(columns, **more):
    lengths = {"stitch": 2.5, "thickness": 0.8, "eye_at_plate": 25.0, "given_out": 90.0}
    known = {name: Known(value, 0.05, "mm") for name, value in lengths.items()}
    return ThreadAsked(table(columns), **{**known, **more})


def test_what_was_not_read_is_refused_in_a_sentence():
    turns = tuple(float(d) for d in range(0, 360, 15))
    bar = tuple(25.0 - 14.0 * float(np.cos(np.radians(d))) for d in turns)
    with pytest.raises(RunningError, match=r"The take-up was not read: .*\.$"):
        thread_turn(Nothing(), asked([("wheel", turns), ("needle bar", bar)]), Steps())
    up = tuple(30.0 + 25.0 * float(np.sin(np.radians(d))) for d in turns)
    columns = [("wheel", turns), ("needle bar", bar), ("take-up", up)]
    with pytest.raises(RunningError, match="the eye never passes the needle plate"):
        thread_turn(Nothing(), asked(columns, eye_at_plate=Known(80.0, 0.1, "mm")), Steps())
    flat = tuple(0.04 * h for h in up)
    with pytest.raises(RunningError, match="too little for one: check its unit"):
        thread_turn(Nothing(), asked([*columns[:2], ("take-up", flat)]), Steps())

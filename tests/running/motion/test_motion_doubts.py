"""A needle bar that runs the other way round: by where it was seen lowest, and by the take-up."""

import numpy as np
import pytest

from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.progress import Steps
from ironlace.running.motion.motion_told import MOTION

WHEEL = np.arange(0.0, 360.0, 15.0)
LOWEST = 175.0


def answer(take_up_after=None, **more):
    """An evening with the needle lowest at 175°; a take-up that gives most so far after it."""
    rows = {"wheel [deg]": WHEEL, "needle bar [mm]": 26 - 15 * np.cos(np.radians(WHEEL - LOWEST))}
    if take_up_after is not None:
        turned = np.radians(WHEEL - LOWEST - take_up_after)
        rows["take-up [mm]"] = 55 - 25 * np.cos(turned) + 3 * np.sin(turned) ** 2
    table = "\n".join(
        [
            ";".join(rows),
            *(";".join(f"{v:.1f}" for v in row) for row in zip(*rows.values(), strict=True)),
        ]
    )
    asked = asked_from(MOTION.asked, {"readings": table, "turning": "rise"} | more)
    return MOTION.answer(MOTION.work(Nothing(), asked, Steps()))


@pytest.mark.parametrize(("seen", "told"), [("190", False), ("-170", False), ("10", True)])
def test_where_the_needle_was_seen_lowest(seen, told):
    said = answer(lowest_seen=seen).sentences
    assert ("was seen lowest at" in said[0]) == told


@pytest.mark.parametrize(("after", "told"), [(70.0, False), (-110.0, True)])
def test_a_take_up_gives_most_thread_after_the_needle(after, told):
    said = answer(take_up_after=after).sentences
    assert ("needs most thread after" in said[0]) == told
    seen = answer(after, lowest_seen="180").sentences[0]
    assert ("the take-up was measured from above" in seen) == told


@pytest.mark.parametrize("lag", [0.0, 1.2])
def test_a_bar_that_sticks_shows_where_settings_are_read_turning_back(lag):
    rng = np.random.default_rng(3)
    back = np.arange(20.0, 360.0, 45.0)
    wheel = np.concatenate((WHEEL, back))
    backwards = np.arange(len(wheel)) >= len(WHEEL)
    turned = np.radians(wheel - LOWEST)
    rising = (np.sin(turned) > 0.0) != backwards
    bar = 26 - 15 * np.cos(turned) - lag * rising + 0.05 * rng.normal(size=len(wheel))
    shuttle = 40 + 20 * np.sin(turned - 0.6) + 0.05 * rng.normal(size=len(wheel))
    rows = zip(wheel, np.where(backwards, -1, 1), bar, shuttle, strict=True)
    table = "\n".join(
        [
            "wheel [deg];way;needle bar [mm];shuttle [mm]",
            *(f"{a:.1f};{w};{b:.2f};{s:.2f}" for a, w, b, s in rows),
        ]
    )
    asked = asked_from(MOTION.asked, {"readings": table, "turning": "rise"})
    answer = MOTION.answer(MOTION.work(Nothing(), asked, Steps()))
    told = any("needle bar lags by" in one and "it sticks" in one for one in answer.sentences[:3])
    assert told == (lag > 0.0)
    end = next(one for one in answer.results if one.name == "bottom dead centre")
    assert (end.interval.high - end.interval.low > 5.0) == (lag > 0.0)


@pytest.mark.parametrize(("seen", "told"), [("183 ± 3 deg", False), ("165 ± 3 deg", True)])
def test_seen_to_a_few_degrees_it_shows_angles_counted_otherwise(seen, told):
    said = answer(lowest_seen=seen).sentences
    assert ("angles were counted otherwise" in said[0]) == told

"""A head turned by its fit: parts stand where the linkage that was read has them."""

import numpy as np
import pytest

import turned_heads
from ironlace.evidence.analyses import Known, KnownColumn, KnownTable, Nothing
from ironlace.evidence.progress import Steps
from ironlace.running.motion.motion_asked import MotionAsked
from ironlace.running.motion.motion_found import motion
from ironlace.running.motion.turned import STEP_DEG, head_turned


def worked(read, **asked):
    columns = [
        KnownColumn(
            name,
            "deg" if name in ("wheel", "opposite") else "mm",
            tuple(None if np.isnan(v) else float(v) for v in values),
        )
        for name, values in read.items()
    ]
    return motion(Nothing(), MotionAsked(KnownTable(tuple(columns)), **asked), Steps())


@pytest.fixture(scope="module")
def evening():
    rng = np.random.default_rng(14)
    made = turned_heads.head("cranked", rng)
    turns = np.concatenate((np.arange(0.0, 360.0, 15.0), made.meets_at + np.arange(-10.0, 11, 4)))
    read, _ = turned_heads.readings(
        made, turns, ("needle bar", "shuttle", "take-up"), rng, misread=0.0
    )
    return made, read


@pytest.fixture(scope="module")
def head(evening):
    made, read = evening
    asked = {"turning": "rise", "wheel_top": "towards", "meeting": Known(made.meeting, 0.05, "mm")}
    return head_turned(worked(read, **asked))


def test_parts_stand_where_the_linkage_has_them(evening, head):
    made, _ = evening
    turn = np.arange(0.0, 360.0 + STEP_DEG, STEP_DEG)
    for part in head.parts:
        off = np.abs(np.array(part.height) - made.at(part.name, turn))
        assert all(part.known)
        assert np.mean(off <= part.half) > 0.6, part.name
        assert off.max() < 0.04 * made.stroke(part.name), part.name


def test_what_was_not_read_is_not_there(head):
    assert [part.name for part in head.parts] == ["needle bar", "shuttle", "take-up"]
    assert head.part("feed") is None


def test_marks_are_the_meeting_and_the_dead_centres(evening, head):
    made, _ = evening
    at = {mark.name: mark.turn for mark in head.marks}
    assert list(at) == ["shuttle meets needle", "needle lowest", "needle highest"]
    for name, true in (
        ("shuttle meets needle", made.meets_at),
        ("needle lowest", made.lowest("needle bar")),
        ("needle highest", made.highest("needle bar")),
    ):
        assert abs((at[name] - true + 180.0) % 360.0 - 180.0) < 2.0
    assert head.start == at["shuttle meets needle"]
    assert (head.wheel_top, head.numbers) == ("towards", "rise")


def test_numbers_that_fall_turn_the_same_head(evening, head):
    made, read = evening
    fallen = {**read, "wheel": -read["wheel"], "opposite": -read["opposite"]}
    other = head_turned(worked(fallen, turning="fall", meeting=Known(made.meeting, 0.05, "mm")))
    assert other.disc[1] == 360.0 - STEP_DEG
    for mine, same in zip(head.parts, other.parts, strict=True):
        assert mine.height == pytest.approx(same.height, abs=0.02)
    assert other.marks[0].turn == pytest.approx(head.marks[0].turn, abs=0.1)
    assert other.marks[0].disc == pytest.approx(360.0 - head.marks[0].disc, abs=0.1)
    assert other.wheel_top == "unsaid"


def test_where_readings_tell_nothing_a_part_is_not_known(evening):
    made, read = evening
    few = {name: values.copy() for name, values in read.items()}
    few["shuttle"][:24] = np.nan  # only the six about the meeting are left
    head = head_turned(worked(few, turning="rise"))
    shuttle = head.part("shuttle")
    near = round(made.meets_at % 360.0 / STEP_DEG)
    far = round((made.meets_at + 180.0) % 360.0 / STEP_DEG)
    assert shuttle.known[near]
    assert not shuttle.known[far]
    assert head.onward == 0
    assert [mark.name for mark in head.marks] == ["needle lowest", "needle highest"]

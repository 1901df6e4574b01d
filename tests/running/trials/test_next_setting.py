"""What is proposed next: one change at a time, by the seams; and when it cannot be told."""

from dataclasses import replace

import pytest

from ironlace.running.trials.next_setting import propose
from ironlace.running.trials.trials_weighed import SCREW, SeamBrief, Trial, weigh

EVEN = SeamBrief(30, 2.5, 0.03, 0.02, 0.015, 0.03, 30, 0, True)
ROUGH = SeamBrief(30, 2.5, 0.15, 0.12, 0.08, 0.15, 30, 0, True)


def trial(n, changed=SCREW, screw=None, seam=EVEN, lock=None, also=""):
    held = None if lock is None else (lock - 0.1, lock, lock + 0.1)
    own = None if seam is None else replace(seam, mean_mm=seam.mean_mm + n / 2000.0)
    return Trial(f"trial {n}", "", changed, "", also, screw, f"photograph {n}", own, held)


def proposed(*trials, gf=None):
    return propose(trials, weigh(trials), gf)


def test_a_lock_too_high_eases_the_needle_thread_by_what_the_screw_did_so_far():
    found = proposed(trial(1, "start", 4.0, lock=0.05), trial(2, SCREW, 3.0, lock=0.25), gf=3.0)
    # an eighth out moved it by 0.2: from 0.25 to the middle takes 1.25, told in halves
    assert found.eighths == pytest.approx(-1.0)
    assert "out, looser (some 3.0 gf), and nothing else" in found.does
    assert found.sure


def test_without_a_slope_it_is_one_eighth_and_a_lock_in_the_middle_is_left():
    assert proposed(trial(1, "start", 4.0, lock=0.95)).eighths == 1.0
    low = proposed(trial(1, "start", 4.0, lock=0.55))
    assert low.does == "Leave the tension as it is."
    assert low.eighths == 0.0


def test_a_lock_that_is_hardly_known_is_not_said_to_be_in_the_middle():
    wide = replace(trial(1, "start", 4.0), lock=(0.1, 0.5, 0.9))
    found = proposed(wide)
    assert found.does.startswith("Leave the tension, and tell the balance of a longer seam")
    assert not found.sure
    assert proposed(trial(1, "start", 4.0, lock=0.55)).sure


def test_turning_back_is_sure_only_where_a_seam_was_sewn_twice():
    worse = trial(2, "oil", seam=ROUGH)
    alone = proposed(trial(1, "start"), worse)
    assert not alone.sure
    assert "of the stitches alone" in alone.why
    assert proposed(trial(0, "start"), trial(1, "nothing"), worse).sure


def test_never_more_than_two_eighths_at_once():
    found = proposed(trial(1, "start", 8.0, lock=-0.9), trial(2, SCREW, 6.0, lock=-0.6))
    assert found.eighths == -2.0


def test_a_slope_over_another_change_is_not_used():
    found = proposed(trial(1, "start", 4.0, lock=0.05), trial(2, "thread", 2.0, lock=0.25))
    assert "is not known yet" in found.why


@pytest.mark.parametrize(
    ("trials", "does"),
    [
        ((trial(1, "start", seam=None),), "Sew and measure the seam of trial 1 first."),
        (
            (trial(1, "start", seam=replace(EVEN, reliable=False)),),
            "Scan the seam of trial 1 again",
        ),
        ((trial(1, "start"), trial(2, "oil", seam=ROUGH)), "Turn back what was changed in trial 2"),
        (
            (trial(1, "start"), trial(2, "oil", seam=ROUGH, also="new belt")),
            "Put back 'new belt'",
        ),
        ((trial(1, "start", seam=replace(EVEN, skipped=3)),), "Put in a new needle"),
        ((trial(1, "start"),), "Sew trial 1 again with nothing changed."),
        ((trial(1, "start"), trial(2, "nothing")), "Measure the balance"),
    ],
)
def test_first_things_first(trials, does):
    assert proposed(*trials).does.startswith(does)

"""What a log of trials says of itself: settings, seams and sides that contradict each other."""

from dataclasses import replace

import pytest

from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.running.trials.next_setting import propose
from ironlace.running.trials.trials_doubted import doubts
from ironlace.running.trials.trials_told import (
    TrialsAsked,
    TrialsOfMachine,
    trials_answer,
    trials_weighed,
)
from ironlace.running.trials.trials_weighed import NOTHING, SCREW, SeamBrief, Trial, weigh


def seam(mean):
    return SeamBrief(30, mean, 0.03, 0.02 + mean / 1e4, 0.015, 0.03, 30, 0, True)


def trial(n, changed, screw, lock, mean=2.5):
    held = (lock - 0.05, lock, lock + 0.05)
    named = mean + n / 1000.0
    return Trial(f"trial {n}", "", changed, "", "", screw, f"photograph {n}", seam(named), held)


SOUND = (
    trial(1, "start", 4.0, 0.9),
    trial(2, NOTHING, 4.0, 0.88),
    trial(3, SCREW, 6.0, 0.7),
)


def test_a_sound_log_is_not_doubted():
    assert doubts(SOUND) == ()
    assert propose(SOUND, weigh(SOUND)).sure


def screws(factor):
    return tuple(replace(one, screw=factor * one.screw) for one in SOUND)


SPOILT = {
    "counted outwards": (screws(-1.0), "counted outwards"),
    "turns": (screws(0.125 / 2.5), "written in turns"),
    "degrees": (screws(45.0), "written in degrees"),
    "one seam twice": (
        (SOUND[0], replace(SOUND[1], seam=SOUND[0].seam), SOUND[2]),
        "same seam to the last figure",
    ),
    "other dots": ((*SOUND[:2], trial(3, SCREW, 6.0, 0.7, mean=3.75)), "dots to the inch"),
    "sides of one": (
        (SOUND[0], replace(SOUND[1], lock=(0.07, 0.12, 0.17)), SOUND[2]),
        "changed round",
    ),
    "screw unsaid": ((*SOUND[:2], trial(3, "needle", 6.0, 0.7)), "counted as two changes"),
    "setting copied": ((*SOUND[:2], trial(3, SCREW, 4.0, 0.7)), "setting copied"),
}


@pytest.mark.parametrize("how", SPOILT)
def test_what_contradicts_is_told_first_and_nothing_is_sure(how):
    log, says = SPOILT[how]
    answer = trials_answer(trials_weighed(TrialsOfMachine(log), TrialsAsked(), Steps()))
    assert any(says in one for one in answer.sentences[: len(answer.figures["doubts"])])
    assert not answer.figures["next"]["sure"]
    assert answer.results[0].grade is Grade.CONJECTURED


def test_the_screw_is_not_turned_by_a_lock_that_goes_the_wrong_way():
    log, _ = SPOILT["counted outwards"]
    found = propose(log, weigh(log))
    assert found.eighths == 0.0
    assert found.does.startswith("Look which way the screw was counted")


def test_a_lock_that_only_mirrored_lies_with_the_others_is_told():
    log = (*SOUND, trial(4, SCREW, 7.0, 0.6), trial(5, SCREW, 7.5, 0.55))
    assert doubts(log) == ()
    turned = (*SOUND, trial(4, SCREW, 6.5, 0.35))
    assert "Trial 4 locks at 0.35 of the thickness" in doubts(turned)[0]


def test_a_new_needle_with_the_screw_moved_is_not_told_apart():
    log, _ = SPOILT["screw unsaid"]
    assert not weigh(log).steps[-1].told_apart


def test_one_pair_that_happens_to_agree_does_not_make_all_seams_alike():
    pair = (trial(1, "start", 4.0, 0.9), replace(trial(2, NOTHING, 4.0, 0.9), seam=seam(2.5012)))
    assert weigh(pair).between[0] > 0.005**2
    three = (*pair, trial(3, "needle", 4.0, 0.9, mean=2.53))
    assert not any(effect.sure for effect in weigh(three).steps[-1].effects)

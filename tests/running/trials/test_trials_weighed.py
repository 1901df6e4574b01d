"""What changed what, against seams drawn with and without a change; chances held together."""

import numpy as np
import pytest

from ironlace.running.trials.trials_weighed import NOTHING, SeamBrief, Trial, weigh


def brief(rng, *, mean=2.5, cv=0.04, skip=0.0, between=0.0, count=30):
    """A seam drawn as a gamma law, its mean and spread shaken from seam to seam."""
    mean = mean * np.exp(between * rng.standard_normal())
    cv = cv * np.exp(5.0 * between * rng.standard_normal())
    lengths = rng.gamma(1.0 / cv**2, mean * cv**2, count)
    share = lengths / lengths.mean()
    away = np.abs(share - np.median(share))
    skipped = int(rng.binomial(count, skip))
    return SeamBrief(
        count, float(lengths.mean()), float(share.std(ddof=1)), float(away.mean()),
        float(away.std(ddof=1)), float(share.std(ddof=1)), count + skipped, skipped, True,
    )  # fmt: skip


def trial(n, seam, changed="oil", also=""):
    return Trial(f"trial {n}", "", changed, "", also, None, "photograph 1", seam, None)


def log_of(rng, changes, **common):
    trials = [trial(1, brief(rng, **common), "start")]
    for n, (changed, how) in enumerate(changes, 2):
        trials.append(trial(n, brief(rng, **{**common, **how}), changed))
    return trials


def false_alarms(rng, changes, cases, **common):
    return np.mean(
        [
            any(e.sure for s in weigh(log_of(rng, changes, **common)).steps for e in s.effects)
            for _ in range(cases)
        ]
    )


def test_a_log_without_a_change_seldom_tells_one():
    rng = np.random.default_rng(1)
    assert false_alarms(rng, [("oil", {}), ("belt", {}), ("speed", {})], 150) <= 0.09


def test_seams_sewn_twice_keep_what_seams_differ_by_from_being_told():
    changes = [(NOTHING, {}), (NOTHING, {}), (NOTHING, {}), ("oil", {}), ("speed", {})]
    without = [("cloth", {}), ("needle", {}), ("belt", {}), ("oil", {}), ("speed", {})]
    rng = np.random.default_rng(2)
    with_repeats = false_alarms(rng, changes, 60, between=0.03)
    alone = false_alarms(rng, without, 60, between=0.03)
    assert with_repeats < 0.5 * alone


def test_a_change_is_found_and_only_that():
    rng = np.random.default_rng(3)
    steps = weigh(log_of(rng, [("oil", {}), ("thread", {"cv": 0.10}), ("belt", {"cv": 0.10})]))
    assert [[e.question for e in s.effects if e.sure] for s in steps.steps] == [
        [],
        ["evenness"],
        [],
    ]
    assert steps.steps[1].effects[1].worse


def test_a_longer_log_asks_more_of_the_same_difference():
    rng = np.random.default_rng(4)
    first, second, third = brief(rng), brief(rng, mean=2.6), brief(rng, mean=2.6)
    log = [trial(1, first, "start"), trial(2, second), trial(3, third)]
    (alone,) = weigh(log[:2]).steps
    held, _ = weigh(log).steps
    # the smallest of three chances is held three times, of six six times (S. Holm, 1979)
    assert held.effects[0].chance == pytest.approx(2.0 * alone.effects[0].chance)
    assert held.effects[0].chance < 0.05


@pytest.mark.parametrize(
    ("spoilt", "said"),
    [({"reliable": False}, "not reliable"), ({"count": 4}, "fewer than 6 sure stitches")],
)
def test_seams_that_cannot_be_compared_say_why(spoilt, said):
    from dataclasses import replace

    rng = np.random.default_rng(5)
    first, second = brief(rng), replace(brief(rng), **spoilt)
    (step,) = weigh([trial(1, first, "start"), trial(2, second)]).steps
    assert said in step.why_not
    assert step.effects == ()

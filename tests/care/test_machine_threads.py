"""Screws of one machine together: against the sum over all ways, and on drawn makers."""

from itertools import product

import numpy as np
import pytest

from ironlace.care.errors import CareError
from ironlace.care.machine_threads import (
    MACHINE_THREADS,
    MachineThreadsAsked,
    judged_together,
    rows_of_screws,
)
from ironlace.care.thread_forms import ThreadReadings
from ironlace.evidence.analyses import Nothing
from ironlace.evidence.progress import Steps
from ironlace.evidence.word_tables import words_of_rows

HEAD = "screw,pitch_mm,diameter_mm,angle_deg,angle_sd_deg\n"


def worked(table):
    return MACHINE_THREADS.work(Nothing(), MachineThreadsAsked(table), Steps())


def test_it_is_the_sum_over_all_ways_to_share_the_screws_out():
    alone = np.random.default_rng(3).dirichlet(np.ones(5), 4)
    told = np.zeros((4, 5))
    for families in product(range(5), repeat=4):
        weight, had = 1.0, [0] * 5
        for n, family in enumerate(families):
            weight *= alone[n, family] * (had[family] + 0.5)
            had[family] += 1
        for n, family in enumerate(families):
            told[n, family] += weight
    assert judged_together(alone) == pytest.approx(told / told.sum(axis=1, keepdims=True))


def test_of_makers_with_few_families_more_screws_are_named_right():
    rng = np.random.default_rng(7)
    before = after = 0
    for _ in range(30):
        shares = rng.dirichlet(np.full(5, 0.4))
        true = rng.choice(5, 10, p=shares)
        alone = np.array([rng.dirichlet(1.0 + 2.2 * (np.arange(5) == one)) for one in true])
        before += np.sum(alone.argmax(axis=1) == true)
        after += np.sum(judged_together(alone).argmax(axis=1) == true)
    assert after > before + 15


def test_a_doubtful_screw_is_what_its_neighbours_are():
    # 1/4-20 is unified by 60 degrees and Whitworth by 55; this one was read between the two
    sure = "".join(f"sure {n},{25.4 / 24:.4f},4.70,55,1\n" for n in range(4))
    found = worked(f"{HEAD}{sure}doubtful,1.27,6.28,58.5,2\n")
    doubtful = found.screws[-1]
    assert doubtful.alone["unified"] > doubtful.alone["Whitworth"]
    assert doubtful.family == "Whitworth"
    said = " ".join(MACHINE_THREADS.answer(found).sentences)
    assert "'doubtful' by itself looks unified; beside the others it is Whitworth." in said


def test_rows_of_screws_are_read_again():
    read = [
        ("a", ThreadReadings(0.8, 0.002, 4.9, 0.02)),
        ("b", ThreadReadings(1, 0.01, 6, 0.1, 60)),
    ]
    found = worked(words_of_rows(rows_of_screws(read), list(rows_of_screws(read)[1])))
    assert [one.name for one in found.screws] == ["a", "b"]


@pytest.mark.parametrize(
    ("table", "says"),
    [
        (f"{HEAD}one,0.8,5,,\n", "1 screw"),
        (f"{HEAD}one,0.8,5,,\ntwo,,5,,\n", "needs both"),
        (f"{HEAD}one,0.8,5,,\ntwo,much,5,,\n", "'much' under pitch_mm"),
        ("bolt,pitch_mm\na,1\n", "headings"),
    ],
)
def test_what_cannot_be_is_refused(table, says):
    with pytest.raises(CareError, match=says):
        worked(table)

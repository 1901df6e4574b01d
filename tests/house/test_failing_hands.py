"""Failings of hands need only a declaration, and the judge counts no hedge as told."""

import numpy as np
import pytest

from failing_hands import FAILINGS, OTHER_UNITS, Filled, Spoilt
from ironlace.evidence.analyses import asked_fields, asked_from
from ironlace.evidence.answers import Answer
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.quantities import Measured
from ironlace.workshop import analyses
from told_or_untold import cautioned, lower, wrong_results


def example(analysis):
    """The form with every example of its declaration typed in."""
    asked = [f for f in asked_fields(analysis.asked) if f.ask.example and not f.ask.names]
    return Filled(analysis, {f.name: f.ask.example for f in asked})


TYPED = [
    one
    for one in analyses.ROOMS["running"] + analyses.ROOMS["stand"] + analyses.ROOMS["care"]
    if example(one).series()
]


@pytest.mark.parametrize("analysis", TYPED, ids=lambda one: one.key)
def test_every_failing_spoils_what_it_says_and_is_still_a_form(analysis):
    form = example(analysis)
    words = " ".join(f"{f.ask.words} {f.ask.example}" for f in asked_fields(analysis.asked))
    words = words.replace("_", " ")
    spoilt = {n: f(np.random.default_rng(3), form) for n, f in FAILINGS.items()}
    assert any(spoilt.values())
    for name, one in spoilt.items():
        if one is None:
            continue
        assert one.form.typed.keys() == form.typed.keys(), name
        assert one.form.typed != form.typed, name
        for said in one.words:
            assert all(part in words for part in said.replace("_", " ").split(", ")), name
        try:
            asked_from(analysis.asked, one.form.typed)
        except IronlaceError as refused:
            assert str(refused).endswith("."), name


def test_other_units_are_the_factors_they_should_be():
    for unit, of, words in (
        ("mm", "in", "inches"),
        ("N", "lbf", "pounds"),
        ("g", "oz", "ounces"),
        ("gf", "N", "newtons"),
    ):
        assert Measured(1.0, unit).to(of).value == pytest.approx(OTHER_UNITS[unit][words], rel=1e-3)


def told(*sentences, value=5.0, grade=Grade.INFERRED):
    ends = Interval(low=value - 0.1, high=value + 0.1, coverage=0.9)
    one = Result(name="rise", value=value, unit="mm", interval=ends, grade=grade)
    return Answer((one,), sentences)


def test_only_a_doubt_of_what_is_wrong_is_told():
    spoilt = Spoilt(example(TYPED[0]), ("Thickness of the belt",))
    for untold in (
        "The belt may be thinner, and is probably so.",
        "Was its stitch measured in inches? Look whether it was.",
        "The belt of that thickness is 300 mm long.",
    ):
        assert not cautioned(told(untold), spoilt, set()), untold
    doubt = "The belt's thickness of 4 mm is less than any belt's: look whether it was cm."
    assert cautioned(told("One.", doubt), spoilt, set())
    assert not cautioned(told("One.", "Two.", "Three.", doubt), spoilt, set())


def test_wrong_is_what_left_the_truth_and_lower_what_fell():
    sound = told()
    assert wrong_results(told(value=6.0), sound, {"rise": 5.0})
    assert not wrong_results(told(value=5.05), sound, {"rise": 5.0})
    assert wrong_results(told(value=5.3), sound, {})
    assert lower(told(grade=Grade.CONJECTURED).results[0], sound)
    assert not lower(told().results[0], told(grade=Grade.CONJECTURED))

"""Naming a thread from its readings."""

import math

import numpy as np
import pytest

from ironlace.care.errors import CareError
from ironlace.care.thread_analysis import THREAD_FORM, ThreadAsked
from ironlace.care.thread_forms import (
    FAMILIES,
    ThreadReadings,
    difference,
    name_thread,
    thread_forms,
)
from ironlace.evidence.analyses import Nothing, asked_from
from ironlace.evidence.progress import Steps


def best(named):
    return max(named.families, key=named.families.get)


def test_probabilities_sum_to_one_and_the_likeliest_form_comes_first():
    named = name_thread(ThreadReadings(0.5, 0.0008, 2.93, 0.02, 60.5, 1.5))
    assert sum(named.families.values()) == pytest.approx(1.0)
    assert set(named.families) == set(FAMILIES)
    assert named.forms[0].form.size == "M3"
    told = [one.probability for one in named.forms]
    assert told == sorted(told, reverse=True)


def test_a_quarter_inch_of_twenty_asks_for_the_angle():
    named = name_thread(ThreadReadings(1.27, 0.001, 6.27, 0.02))
    assert {named.forms[0].form.size, named.forms[1].form.size} == {"1/4-20", "1/4 - 20"}
    assert named.families["unified"] == pytest.approx(named.families["Whitworth"], rel=0.5)
    assert "60 or 55 degrees" in named.tell_apart or "55 or 60 degrees" in named.tell_apart
    assert best(name_thread(ThreadReadings(1.27, 0.001, 6.27, 0.02, 60.0, 1.5))) == "unified"
    assert best(name_thread(ThreadReadings(1.27, 0.001, 6.27, 0.02, 55.0, 1.5))) == "Whitworth"


def test_a_wrong_angle_does_not_outvote_a_sure_pitch():
    assert best(name_thread(ThreadReadings(0.5, 0.0005, 2.93, 0.02, 50.0, 1.5))) == "metric"


def test_a_makers_own_thread_is_none_of_these():
    named = name_thread(ThreadReadings(25.4 / 34, 0.0008, 3.9, 0.02, 55.0, 1.5))
    assert best(named) == "none"
    assert "None of the standards" in named.tell_apart


def test_a_whole_number_to_the_inch_says_little_for_a_standard_where_the_diameter_is_off():
    # 44 to the inch, as the unified 5-44 (3.175 mm), but thinner than tolerance and wear allow
    sure, thin = (
        name_thread(ThreadReadings(25.4 / 44, 0.0004, wide, 0.02, 60.0, 1.9)).families["unified"]
        for wide in (3.12, 2.85)
    )
    assert sure > 0.9
    assert thin < 0.5
    # and where no pitch is whole in either measure, a standard's own pitch says much
    plain = name_thread(ThreadReadings(0.5906, 0.0003, 3.12, 0.02, 47.5, 1.9))
    assert best(plain) == "BA"


def test_32_to_the_inch_is_not_08_mm_once_the_pitch_is_sure():
    inch = name_thread(ThreadReadings(25.4 / 32, 0.0006, 4.72, 0.02))
    mm = name_thread(ThreadReadings(0.8, 0.0006, 4.9, 0.02))
    assert inch.families["metric"] < 0.02
    assert best(mm) == "metric"


def test_shares_beforehand_count():
    readings = ThreadReadings(0.5, 0.003, 2.93, 0.05)
    plain = name_thread(readings).families["none"]
    told = name_thread(readings, {**dict.fromkeys(FAMILIES, 1.0), "none": 20.0}).families["none"]
    assert told > 5 * plain


def test_probabilities_are_true_in_frequency():
    # readings drawn about forms by another rule than the solver's: normal errors, even diameters
    rng = np.random.default_rng(5)
    forms = [form for form in thread_forms() if 1.5 <= form.major_mm <= 6.5]
    by_family = {f: [one for one in forms if one.family == f] for f in FAMILIES[:4]}
    said, right, score = [], [], 0.0
    for _ in range(250):
        family = FAMILIES[rng.integers(5)]
        if family == "none":
            major = rng.uniform(1.6, 6.4)
            pitch = 0.22 * major**0.8 * math.exp(rng.normal(0, 0.22))
            angle = float(rng.choice([60, 55, 50, 53]))
        else:
            form = by_family[family][rng.integers(len(by_family[family]))]
            major, pitch, angle = form.major_mm, form.pitch_mm, form.angle_deg
        cut = major - rng.uniform(0.02, 0.02 + 0.16 * pitch ** (2 / 3))
        sd = pitch * 10 ** rng.uniform(-3.3, -2.5)
        named = name_thread(
            ThreadReadings(
                pitch + rng.normal(0, sd),
                sd,
                cut + rng.normal(0, 0.02),
                0.02,
                angle + rng.normal(0, 1.6),
                1.6,
            )
        )
        top = best(named)
        said.append(named.families[top])
        right.append(top == family)
        score -= math.log(max(named.families[family], 1e-9))
    said, right = np.array(said), np.array(right)
    assert right.mean() >= 0.92
    assert abs(said.mean() - right.mean()) < 0.04
    assert score / len(said) < 0.25


def test_what_tells_two_forms_apart():
    forms = {form.size: form for form in thread_forms()}
    assert "diameter" in difference(forms["M4.5 x 0.5"], forms["M5 x 0.5"])
    assert "pitch over as many" in difference(forms["M3"], forms["M3.5"])


@pytest.mark.parametrize(
    ("pitch", "major", "says"),
    [(0.0, 3.0, "pitch of 0"), (0.5, 0.1, "diameter"), (3.0, 0.5, "changed round")],
)
def test_what_cannot_be_is_refused(pitch, major, says):
    with pytest.raises(CareError, match=says):
        name_thread(ThreadReadings(pitch, 0.001, major, 0.02))


@pytest.mark.parametrize(
    ("pitch", "diameter"),
    [("0.794 ± 0.2 mm", "4.74 ± 0.5 mm"), ("0.8 mm", "4.74 mm"), ("0.5 ± 0.0008 mm", "2.93 mm")],
)
def test_no_family_is_stated_beyond_its_chance(pitch, diameter):
    asked = asked_from(ThreadAsked, {"pitch": pitch, "diameter": diameter})
    answer = THREAD_FORM.answer(THREAD_FORM.work(Nothing(), asked, Steps()))
    share = next(r.value for r in answer.results if r.name == "chance of that family")
    begins = "No family is likely" if share <= 0.5 else "The thread is"
    assert answer.sentences[0].startswith(begins)
    assert ("probably" in answer.sentences[0]) is (0.5 < share < 0.9)

"""Working out on a page: the form, what was measured, the answer, what went out of date."""

import re
from html import unescape

import pytest

from bench_visitor import Person
from ironlace.evidence.grades import Grade
from ironlace.record import FindingEntry, Measurement

from .conftest import typed, words

BELT = {
    "driver": "300 ± 0.5",
    "driven": "70 ± 0.2 mm",
    "centres": "600 ± 1",
    "thickness": "3/16 in",
}


@pytest.fixture
def page(slug):
    return f"/machine/{slug}/work-out/belt-length"


@pytest.fixture
def measured(bench, slug):
    entry = Measurement(what="across the flywheel", reads="300.0 ± 0.4 mm", grade=Grade.MEASURED)
    return bench.records.add(slug, entry)


def test_the_list_names_every_question_and_says_what_is_kept(person, slug, page):
    person.post(f"{page}/keep", BELT)
    shown = words(person.get(f"/machine/{slug}/work-out"))
    assert "How long must the belt be" in shown
    assert "When was it made?" in shown
    assert "finding 1" in shown


def test_nothing_is_filled_in_beforehand(person, page):
    form = person.get(page)
    assert all(typed(form, name) == "" for name in BELT)


def test_a_measurement_that_fits_is_offered_and_one_that_does_not_is_not(
    person, bench, slug, page, measured
):
    weight = Measurement(what="weight", reads="9.5 kg", grade=Grade.MEASURED)
    other = bench.records.add(slug, weight)
    form = person.get(page).text
    assert f"{measured}: across the flywheel, 300.0 ± 0.4 mm" in form
    assert f'value="{other}"' not in form


def test_what_was_measured_goes_before_what_is_typed(person, bench, slug, page, measured):
    answer = person.post(page, {**BELT, "driver": "999", "driver-from": measured})
    assert f"300 ± 0.4 mm ({measured})" in unescape(answer.text)
    person.post(f"{page}/keep", {**BELT, "driver-from": measured})
    finding = bench.records.read(slug).named("finding 1").finding
    assert finding.method.parameters["asked"]["driver"]["source"] == measured
    assert set(finding.inputs) == {measured}


def test_working_it_out_keeps_nothing(person, bench, slug, page):
    answer = person.post(page, BELT)
    assert answer.status_code == 200
    assert "The open belt is" in words(answer)
    assert list(bench.records.read(slug).of(FindingEntry)) == []


def test_an_address_alone_works_nothing_out(person, page):
    shown = words(person.get(page, params=BELT))
    assert "The open belt is" not in shown


@pytest.mark.parametrize(
    ("wrong", "field", "says"),
    [
        ({"driver": ""}, "driver", "is missing: fill it in"),
        ({"driven": "wide"}, "driven", "'wide' is not a quantity"),
        ({"centres": "20 kg"}, "centres", "is asked for in mm"),
        ({"thickness": "900"}, "thickness", "cannot be: give 0.1 to 60 mm"),
        ({"way": "sideways"}, "way", "is no choice for"),
        ({"driver-from": "measurement 99"}, "driver", "There is no measurement 99"),
    ],
)
def test_a_wrong_value_is_told_at_its_field_and_what_was_typed_stays(
    person, page, wrong, field, says
):
    answer = person.post(page, {**BELT, **wrong})
    assert answer.status_code == 422
    assert says in unescape(answer.text)
    assert f'href="#f-{field}"' in answer.text
    kept = next(name for name in BELT if name not in (field, field))
    assert typed(answer, kept) == BELT[kept]


def test_wheels_that_would_touch_are_refused_in_a_sentence(person, page):
    answer = person.post(page, {**BELT, "centres": "50"})
    assert answer.status_code == 422
    assert "would touch" in words(answer)


def test_keeping_again_after_a_change_takes_the_earlier_ones_place(person, bench, slug, page):
    person.post(f"{page}/keep", BELT)
    person.post(f"{page}/keep", {**BELT, "centres": "610 ± 1"})
    assert len(list(bench.records.read(slug).of(FindingEntry))) == 1


def test_a_changed_measurement_is_said_wherever_its_finding_is_shown(
    person, bench, slug, page, measured
):
    person.post(f"{page}/keep", {**BELT, "driver-from": measured})
    changed = Measurement(what="across the flywheel", reads="310 mm", grade=Grade.MEASURED)
    bench.records.change(slug, measured, changed)
    for address in (page, f"/machine/{slug}/work-out", f"/machine/{slug}/entries/finding/1"):
        assert "Out of date." in words(person.get(address)), address
    answer = person.post("/care/check")
    assert "findings went stale" in words(answer)


def test_what_is_kept_fills_the_form_again(person, page):
    person.post(f"{page}/keep", {**BELT, "way": "crossed"})
    form = person.get(page)
    assert typed(form, "driver") == "300 ± 0.5 mm"
    assert re.search(r'<option value="crossed" selected>', form.text)


def test_an_unknown_analysis_and_an_answer_no_longer_at_hand_are_404(person, slug, page):
    assert person.get(f"/machine/{slug}/work-out/weight").status_code == 404
    assert person.get(f"{page}/at/abc/plot/0").status_code == 404
    assert person.get(f"{page}/at/abc/file/x.csv").status_code == 404


def test_a_stranger_cannot_have_it_worked_out(app, page):
    stranger = Person(app)
    answer = stranger.client.post(page, data=BELT, headers={"origin": "http://elsewhere.example"})
    assert answer.status_code == 403

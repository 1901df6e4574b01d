"""A struck year may be a model's: only dates, and years that follow one another, bear it out."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.markings import parse_marking
from ironlace.survey import COUNT, DATE
from ironlace.survey.answers.struck_year import meaning_of_year
from ironlace.survey.reports.anchors import Anchor
from ironlace.survey.reports.table import DatedKind
from ironlace.survey.schemes.scheme import Scheme

SCHEME = Scheme.parse("year, dot, number overall")
IN_YEAR = "year, dot, number in year of 4 figures"
MODELS = ["71.0412", "71.1915", "71.1103", "79.4120", "79.6210", "79.8011", "88.9120", "88.9977"]
YEARS = ["71.0112", "72.0915", "73.1503", "74.2120", "76.3310", "77.4011", "78.5120", "79.5977"]


def table(marks, dated=()):
    rows = [f"R{i},{mark},{dict(dated).get(mark, '')}" for i, mark in enumerate(marks)]
    return "\n".join(["id,mark,dated", *rows]) + "\n"


def meaning(marks, anchors=(), scheme=SCHEME):
    read = [parse_marking(mark) for mark in marks]
    known = [Anchor(parse_marking(m), kind, EdtfDate.parse(d)) for m, kind, d in anchors]
    return meaning_of_year(scheme, read, known, period=(1850, 1930), wrong_date=0.03)


def test_years_as_far_apart_as_models_are_told_and_the_date_is_spread(ask):
    _, told = ask(DATE, table(MODELS), of="79.7000")
    assert told["grade"] == "conjectured"
    assert told["low"][:4] == "1879"
    assert int(told["high"][:4]) >= 1887
    assert "as far apart as those of models" in told["sentences"][1]
    assert told["struck_year_is_of_making"] < 0.5


def test_years_that_follow_one_another_bear_it_out(ask):
    _, told = ask(DATE, table(YEARS), of="75.2900")
    assert (told["grade"], told["edtf"]) == ("inferred", "1875")
    assert told["struck_year_is_of_making"] is None


def test_machines_made_after_the_year_struck_on_them_are_named_first(ask):
    dates = {"71.1915": "1876-03", "79.6210": "1885-02"}
    _, told = ask(DATE, table(MODELS, dates.items()), of="71.1500")
    assert told["grade"] == "conjectured"
    assert "71·1915 made March 1876, after the year struck on it" in told["sentences"][1]
    assert "1 other dated machine likewise" in told["sentences"][1]


def test_of_few_marks_the_condition_stands_in_the_first_sentence(ask):
    _, told = ask(DATE, table(["84.1200", "90.2210", "95.3102"]), of="90.2300")
    assert told["grade"] == "conjectured"
    assert "if the year struck is that of making" in told["sentences"][0]
    assert "no machine that came with a date bears it out" in told["sentences"][1]


def test_the_machines_own_date_needs_no_meaning_of_its_year(ask):
    dates = {"71.1915": "1876-03"}
    _, told = ask(DATE, table(MODELS, dates.items()), of="71.1915")
    assert told["struck_year_is_of_making"] is None


def test_two_dates_in_the_years_struck_bear_it_out():
    few = ["84.1200", "90.2210", "95.3102"]
    one = meaning(few, [("84.1200", DatedKind.AT, "1884-05")])
    two = meaning(few, [("84.1200", DatedKind.AT, "1884-05"), ("95.3102", DatedKind.AT, "1895-11")])
    assert meaning(few).chance < one.chance < two.chance
    assert two.is_borne_out


def test_of_many_marks_that_show_every_year_it_is_borne_out():
    every = [f"{71 + i % 20}.{1000 + i}" for i in range(3_000)]
    assert meaning(every).is_borne_out
    assert meaning([*every, "37.4000"]).is_borne_out


def test_of_many_dates_against_it_the_chance_is_nought_and_no_fault():
    against = [(f"71.{1000 + i}", DatedKind.AT, f"{1875 + i % 5}") for i in range(2_500)]
    found = meaning(["71.1000"], against)
    assert found.chance < 1e-200
    assert len(found.later) > 1_000


def test_one_misread_year_does_not_make_years_lie_apart():
    assert meaning(YEARS).is_borne_out
    assert meaning([*YEARS, "97.1200"]).is_borne_out


def test_a_month_beside_the_year_is_no_models():
    scheme = Scheme.parse("month, dot, year, dot, number in month")
    assert meaning(["4.84.12", "5.97.3"], scheme=scheme) is None
    assert meaning(["1200", "1300"], scheme=Scheme.parse("number overall")) is None


@pytest.mark.parametrize("kind", list(DatedKind))
@given(years=st.integers(0, 30))
def test_what_a_date_says_of_the_year_stays_a_chance(kind, years):
    found = meaning(["71.1200"], [("71.1200", kind, str(1871 + years))])
    assert 0.0 < found.chance < 1.0
    if kind in (DatedKind.AT, DatedKind.SOLD) and 6 <= years <= 14:
        assert found.later
        assert found.chance < 0.5
    if kind is DatedKind.AT and years == 0:
        assert found.chance > meaning(["71.1200"]).chance


@given(st.lists(st.integers(0, 60), min_size=1, max_size=12))
def test_reports_in_another_order_say_the_same(years):
    marks = [f"{60 + y % 40:02d}.{1000 + i}" for i, y in enumerate(years)]
    assert meaning(marks).chance == pytest.approx(meaning(marks[::-1]).chance)


NUMBERS = [412, 1915, 1103, 3128, 217, 2811, 1977, 96, 2455, 1301, 2754, 643, 3052, 1726, 888]
BY_MODEL = [f"{(64, 72, 80, 88, 96)[i % 5]}.{number:04d}" for i, number in enumerate(NUMBERS)]
BY_YEAR = [f"{71 + i % 8}.{number:04d}" for i, number in enumerate(NUMBERS)]
MADE_THEN = {mark: f"18{mark[:2]}" for mark in BY_YEAR[:3]}


def test_of_models_years_only_the_series_seen_are_counted(ask):
    _, told = ask(COUNT, table(BY_MODEL))
    assert told["scheme"] == IN_YEAR
    assert told["best"]["of"] == "made in the series seen"
    assert told["best"]["only_a_floor"]
    assert "may be a model's, so only the series seen are counted" in told["sentences"][1]
    assert {result["grade"] for result in told["results"]} == {"conjectured"}
    _, of_all = ask(COUNT, table(BY_MODEL), scheme=IN_YEAR)  # a person's word for the year
    assert of_all["best"]["of"] == "made from the first series seen to the last"
    assert told["best"]["low"] < of_all["best"]["low"] / 3


def test_years_that_follow_one_another_are_summed_from_the_first_to_the_last(ask):
    _, told = ask(COUNT, table(BY_YEAR, MADE_THEN.items()))
    assert told["scheme"] == IN_YEAR
    assert told["best"]["of"] == "made from the first series seen to the last"
    assert not any("struck" in sentence for sentence in told["sentences"])


def test_figures_that_run_through_all_years_of_the_period_are_perhaps_none():
    two = [f"{year % 100:02d}.{140 * i + 1017}" for i, year in enumerate(range(1851, 1930, 4))]
    found = meaning(two)
    assert found.over > 60
    assert not found.is_borne_out
    assert "may be figures of a number that runs on" in found.sentence("1879")
    assert meaning(YEARS).over == 0
    known = [(mark, DatedKind.AT, str(1800 + int(mark[:2]))) for mark in two[:8]]
    assert meaning(two, known).over == 0

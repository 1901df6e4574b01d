import json
from dataclasses import replace

import numpy as np
import pytest

from ironlace.evidence.markings import Glyph, Marking, parse_marking
from ironlace.survey import Assumptions, Report, Scheme, SurveyError, compare, read_reports
from ironlace.survey.answers.comparison import as_likely
from ironlace.survey.answers.dating import date_of
from ironlace.survey.schemes.library import candidates_for, read_schemes

TEN = "4.96.217 11.95.30 7.93.412 2.97.118 12.94.77 9.96.301 1.95.140 6.94.255 3.97.9 10.93.188"


def reports(text):
    return tuple(Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split(), 1))


def test_one_report_shows_nothing_and_the_sentence_says_so():
    found = compare(reports("4.96.217"))
    assert found.sentences()[0].startswith("One report cannot show")
    assert found.best.posterior < 0.5
    assert found.more_reports_for(20.0) is None
    assert found.as_dict()["one_report_only"]


def test_ten_reports_settle_the_month_year_reading():
    found = compare(reports(TEN))
    assert found.best.name == "month-year-count"
    assert found.odds > 20
    assert found.badly_fitting == ()
    assert sum(r.posterior for r in found.results) == pytest.approx(1.0)
    json.dumps(found.as_dict(), allow_nan=False)


def test_codes_without_meaning_win_when_there_is_no_meaning():
    rng = np.random.default_rng(5)
    text = " ".join(".".join(str(v) for v in rng.integers(1, 1000, 3)) for _ in range(8))
    found = compare(reports(text))
    assert found.best.name == "arbitrary codes"
    assert "they tell neither a date nor a number made" in found.sentences()[0]


def test_one_impossible_report_is_named_and_does_not_decide():
    found = compare(reports(f"{TEN} 45.18.300"))
    assert found.best.name == "month-year-count"
    assert found.badly_fitting == ("R11",)
    assert any("R11" in said for said in found.sentences())


def test_a_clear_thirteen_after_three_reports_sinks_the_months():
    schemes = ("month, dot, year, dot, number in month",)
    before = compare(reports("4.96.217 11.95.30 7.93.412"), schemes)
    after = compare(reports("4.96.217 11.95.30 7.93.412 27.94.33"), schemes)
    assert before.best.name == schemes[0]
    assert after.of(schemes[0]).posterior < before.of(schemes[0]).posterior / 5


def test_rivals_are_added_to_whatever_is_given():
    found = compare(reports("4.96.217"), ["month, dot, year, dot, number in month"])
    assert {r.name for r in found.results if r.candidate.rival} == {
        "arbitrary codes",
        "codes near one value",
    }
    assert compare(reports("4.96.217"), [Scheme.parse("code, dot, code, dot, code")]).results


def test_the_charge_divides_the_prior_odds():
    one = reports("4.96.217")
    charged = compare(one, assumptions=Assumptions(hindsight_factor=10.0))
    free = compare(one, [replace(c, hindsight=False) for c in candidates_for([one[0].mark])])
    name = "month-year-count"

    def odds(c):
        return c.of(name).posterior / c.of("arbitrary codes").posterior

    assert odds(free) / odds(charged) == pytest.approx(10.0)


def test_prior_weights_are_the_users():
    text = "mine: month, dot, year, dot, number in month | weight {}\n"
    one, five = (compare(reports(TEN), read_schemes(text.format(w))) for w in (1, 5))
    ratio = [c.of("mine").posterior / c.of("arbitrary codes").posterior for c in (one, five)]
    assert ratio[1] / ratio[0] == pytest.approx(5.0)


def test_the_order_of_reports_does_not_matter():
    forward, back = compare(reports(TEN)), compare(tuple(reversed(reports(TEN))))
    for result in forward.results:
        assert back.of(result.name).log_evidence == pytest.approx(result.log_evidence, abs=1e-6)


def test_an_unread_glyph_weakens_without_contradicting():
    clear = compare(reports(TEN))
    veiled = compare(reports(TEN.replace("4.96.217", "?.96.217")))
    assert veiled.best.name == clear.best.name
    assert veiled.odds < clear.odds * 1.5


def test_a_worn_dot_still_fits():
    found = compare(reports(TEN.replace("11.95.30", "1195.30")))
    assert found.best.name == "month-year-count"


def test_marks_that_no_scheme_can_cut_are_junk():
    found = compare(reports("7 ABCDEFGH"), ["month, dot, year, dot, number in month"])
    junk = found.of("month, dot, year, dot, number in month").junk_chance
    assert junk == pytest.approx((1.0, 1.0))


def test_theories_are_called_in_words_and_told_apart():
    found = compare(reports(TEN))
    assert found.called("month-year-count") == "month, year, number within the month"
    assert found.called("arbitrary codes") == "arbitrary codes"
    mine = read_schemes(
        "a: month, dot, year\nletter, dot, year, dot, number in year\n"
        "letter, ring, year, dot, number in year\nyear, number in year of 4 figures\n"
        "year, number in year"
    )
    named = compare(reports(TEN), mine)
    called = [named.called(one.name) for one in mine]
    assert called[0] == "a"
    assert len(set(called)) == len(called)
    assert "a ring" in called[2]


def test_hindsight_is_charged_in_words_only_to_who_had_it():
    typed = read_schemes("month, dot, year, dot, number in month")
    assert any("charge for hindsight" in s for s in compare(reports(TEN), typed).sentences())
    own = " ".join(compare(reports(TEN)).sentences())
    assert "hindsight" not in own and "thought of after" not in own
    assert "10 times less likely" in own


@pytest.mark.parametrize(
    ("odds", "said"),
    [
        (2.2, "2.2 times as likely as all the others together"),
        (15_300, "15,000 times as likely as all the others together"),
        (3e7, "more than a million times as likely as all the others together"),
        (float("inf"), "more than a million times as likely as all the others together"),
        (0.25, "less likely than all the others together: 20.0 % to their 80.0 %"),
    ],
)
def test_odds_are_said_one_way(odds, said):
    assert as_likely(odds) == said


def test_a_theory_of_ones_own_stands_beside_the_list_and_the_sentence_says_so():
    alone = compare(reports(TEN))
    mine = "week, dot, code, dot, year"
    beside = compare(reports(TEN), [mine])
    assert {r.name for r in alone.results} < {r.name for r in beside.results}
    assert beside.best.name == "month-year-count"
    said = beside.sentences()[0]
    assert f"1 other of yours and the {len(alone.results) - 1} of the list together" in said
    assert beside.as_dict()["odds_are_against"] in said
    assert beside.sentences()[1].startswith("Your own, 'week, code, year', has less than 0.1 %")
    own = compare(reports(TEN), ["month, dot, year, dot, number in month"])
    assert own.odds == pytest.approx(alone.odds)
    assert f"the {len(own.results) - 1} of the list together" in own.sentences()[0]


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("10234 15621 8020 30122 22456 27001", "running"),
        ("A10234 B15621 A8020 A30122 B22456", "letter-running"),
        ("3.12 3.40 7.22 11.8 9.31 2.19", "batch-count"),
    ],
)
def test_what_no_mark_can_part_is_said_together(text, plain):
    found = compare(reports(text))
    (names,) = [names for names in found.never_parted if plain in names]
    assert found.of(plain).log_evidence == pytest.approx(
        found.of(next(n for n in names if n != plain)).log_evidence, abs=0.02
    )
    said = found.sentences()
    if found.best.name in names:
        assert "fit every mark equally well" in said[0]
        assert "No number of marks alone can tell these apart" in said[2]
        assert found.more_reports_for(20.0) is None
    assert list(names) in found.as_dict()["never_parted_by_marks"]


def test_a_date_parts_what_marks_cannot():
    assert compare(reports(TEN)).never_parted == ()


@pytest.mark.parametrize("sign", ["½", ",", "=", "&"])
def test_a_sign_never_heard_of_is_named_and_does_not_decide(sign):
    glyph = Glyph((sign,))
    odd = Report(
        "odd", Marking((*parse_marking("4.96").glyphs, glyph, *parse_marking("21").glyphs))
    )
    found = compare((*reports(TEN), odd))
    assert found.best.name == "month-year-count"
    assert all(np.isfinite(r.log_evidence) for r in found.results)


def test_no_report_is_refused():
    with pytest.raises(SurveyError, match="no report"):
        compare([])


def test_an_unknown_scheme_name_is_refused():
    with pytest.raises(SurveyError, match="was not compared"):
        compare(reports("4.96.217")).of("nobody")


def test_that_the_first_of_a_few_suggested_the_readings_is_said():
    marks = ["4.96.217", "11.95.30", "7.93.412", "2.97.118", "12.94.77", "9.96.301"]
    for count in (2, 5, 6):
        found = compare([Report(f"R{i}", parse_marking(m)) for i, m in enumerate(marks[:count])])
        said = [s for s in found.sentences() if "suggested the readings" in s]
        assert len(said) == (count <= 5)
        assert all(s.startswith("The first report, R0,") for s in said)


def test_where_no_theory_fits_the_first_sentence_says_so():
    rng = np.random.default_rng(3)
    found = compare(reports(" ".join(str(n) for n in rng.integers(10**9, 10**15, 12))))
    assert len(found.badly_fitting) > 6
    said = found.sentences()
    assert said[0].startswith("No theory of the list explains these marks")
    assert not any("fit every mark" in one or "Nothing more is needed" in one for one in said)


@pytest.mark.parametrize("shared", ["93", "7", "118"])
@pytest.mark.parametrize("order", ["{shared}.{number}", "{number}.{shared}"])
def test_a_group_that_all_marks_share_is_not_taken_for_a_year_for_sure(shared, order):
    rng = np.random.default_rng(int(shared))
    marks = [order.format(shared=shared, number=n) for n in rng.integers(200, 48_000, 14)]
    found = compare(reports(" ".join(marks)))
    of_year = sum(r.posterior for r in found.results if r.candidate.scheme.tells_date)
    assert of_year < 0.9
    told = when_made(found, marks[0])
    assert "conjectured" in told.split(".")[0]


def when_made(found, mark):
    return date_of(parse_marking(mark), found).sentences()[0]


def test_what_stands_beside_a_shared_group_is_read_as_if_it_were_alone():
    rng = np.random.default_rng(8)
    years = rng.integers(90, 98, 9)
    numbers = rng.integers(1, 1_500, 9)
    marks = [f"12.{y}.{n}" for y, n in zip(years, numbers, strict=True)]
    found = compare(reports(" ".join(marks)))
    assert str(found.best.candidate.scheme) == "constant 12, dot, year, dot, number in year"


@pytest.mark.parametrize("year", [91, 97])
def test_machines_all_of_one_year_are_still_dated(year):
    rng = np.random.default_rng(year)
    months = rng.choice(range(1, 13), 7, replace=False)
    marks = [f"{month}.{year}.{rng.integers(1, 99)}" for month in months]
    found = compare(reports(" ".join(marks)))
    assert found.best.name == "month-year-count"
    assert found.best.posterior > 0.8


def test_where_every_mark_is_taken_for_misread_the_first_sentence_says_so():
    rng = np.random.default_rng(12)
    dated = "".join(
        f"R{i},{rng.integers(1, 13)}.{str(y)[::-1]}.{rng.integers(1, 300)},18{y},at\n"
        for i, y in enumerate((95, 97, 92, 93, 94, 97, 94, 98, 94, 94))
    )
    found = compare(read_reports(f"id,mark,dated,dated_kind\n{dated}").reports)
    said = found.sentences()
    assert said[0].startswith("No theory of the list explains these marks")
    assert sum("two figures being changed round" in one for one in said) >= 3


def test_two_makers_in_one_survey_are_told_beside_the_odds():
    rng = np.random.default_rng(6)
    ours = [f"{m:02d}.{y}.{n}" for m, y, n in rng.integers((1, 91, 1), (13, 98, 400), (8, 3))]
    others = [str(n) for n in rng.integers(300_000, 900_000, 7)]
    found = compare(reports(" ".join(ours + others)))
    assert len(found.badly_fitting) >= 7
    assert "for misread, worn or not of this maker" in found.sentences()[0]

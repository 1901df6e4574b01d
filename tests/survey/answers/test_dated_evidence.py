"""Dates that came with reports, in the odds: against brute force, and wrong ones named."""

import math

import numpy as np
import pytest
from scipy.stats import t as student

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey import Assumptions, Scheme, compare, date_of, sensitivity
from ironlace.survey.answers.dated_evidence import doubtful_dates, without_dates
from ironlace.survey.likelihood.marks_as_arrays import lay_out, lay_out_reports
from ironlace.survey.likelihood.reading_errors import confusion
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.anchors import anchors_of
from ironlace.survey.reports.table import DatedEvidence, DatedKind, Report, read_reports
from ironlace.survey.time.timeline import month_likelihood

SMALL = Assumptions(highest_number=400, first_year=1885, last_year=1904)
HEAD = "id,mark,dated,dated_kind\n"


def surveyed(rows):
    return read_reports(HEAD + rows).reports


def months_told(kind, first, last, a):
    """How probable a date is for each month of making, from its bare meaning, relative to random.

    `first` and `last` are months from the start of the period, both in the date.
    """
    count = 12 * (a.last_year - a.first_year + 1)
    month = np.arange(count)
    if kind == "at":
        good = ((month >= first) & (month <= last)) / (last - first + 1)
    elif kind == "not before":
        good = (month >= first).astype(float)
    else:
        good = (month <= last).astype(float)
    wrong = a.wrong_date_rate
    return ((1 - wrong) * good + wrong * good.mean()) / good.mean()


def read_chance(text, struck, c):
    if len(text) != len(struck):
        return 0.0
    return math.prod(c[int(s), int(t)] for s, t in zip(struck, text, strict=True))


def read_changed_round(text, struck, c, rate):
    """The same where two neighbours may have been passed on in the wrong order."""
    turned = [text[:i] + text[i + 1] + text[i] + text[i + 2 :] for i in range(len(text) - 1)]
    as_it_is = (1 - rate * len(turned)) * read_chance(text, struck, c)
    return as_it_is + rate * sum(read_chance(t, struck, c) for t in turned)


def naive_log_evidence(marks, told, a):
    """Of 'month, dot, year': each month, year, scale and centre in turn."""
    c = confusion(a)
    years = np.arange(a.first_year, a.last_year + 1)
    centres = np.linspace(a.first_year, a.last_year, 2001)
    weight = np.full(len(centres), 1.0 / (len(centres) - 1))
    weight[[0, -1]] /= 2
    total = []
    for scale in ("one year", 0.5, 1.0, 2.0, 4.0, 8.0, 16.0, 1e3):
        if scale == "one year":
            whole = centres - np.sin(2 * np.pi * centres) / (2 * np.pi)
            hump = student.pdf((years[:, None] - whole[None, :]) / 0.1, 2)
        else:
            hump = student.pdf((years[:, None] - centres[None, :]) / scale, 2)
        p_year = hump / hump.sum(axis=0)
        logs = np.zeros(len(centres))
        for text, says in zip(marks, told, strict=True):
            month, year = text.split(".")
            tau = a.transposed_rate
            by_month = (
                np.array([read_changed_round(month, str(m), c, tau) for m in range(1, 13)]) / 12
            )
            by_year = np.array([read_changed_round(year, str(y)[2:], c, tau) for y in years])
            dates = np.ones((len(years), 12)) if says is None else says.reshape(-1, 12)
            gaps = (
                (1 - a.worn_rate)
                * (1 - a.changed_rate)
                * (1 - a.stray_rate) ** (len(month) + len(year))
            )
            chance = (1 - a.junk_rate) * gaps * (by_year * (dates @ by_month)) @ p_year
            junk = a.junk_rate * lay_out([parse_marking(text)], a).junk[0]
            logs += np.log(junk + chance)
        total.append(logs)
    total = np.array(total)
    peak = total.max()
    return peak + math.log((np.exp(total - peak) @ weight).mean())


CASES = [
    [("4.96", "1896-04", "at", 135, 135)],
    [("4.96", "1899", "at", 168, 179), ("11.95", "1890", "not before", 60, 239)],
    [
        ("4.96", "1896", "at", 132, 143),
        ("7.93", "1894-02", "not after", 0, 109),
        ("2.94", "1888", "not after", 0, 47),
        ("12.91", None, None, 0, 0),
    ],
]


@pytest.mark.parametrize("case", CASES)
def test_evidence_with_dates_agrees_with_brute_force(case):
    rows = "".join(f"{i},{m},{d or ''},{k or ''}\n" for i, (m, d, k, _, _) in enumerate(case))
    read = lay_out_reports(surveyed(rows), SMALL)
    told = [months_told(k, a, b, SMALL) if d else None for _, d, k, a, b in case]
    scheme = Scheme.parse("month, dot, year")
    _, ours = explain(read, scheme, SMALL)
    theirs = naive_log_evidence([m for m, *_ in case], told, SMALL)
    assert ours.log_evidence == pytest.approx(theirs, abs=0.02)


@pytest.mark.parametrize("kind", list(DatedKind))
@pytest.mark.parametrize("text", ["1896", "1890-05", "1896-04-11", "1893/1896", "189X", "1950"])
def test_a_date_is_as_probable_as_any_on_the_whole(kind, text):
    told = month_likelihood(DatedEvidence(EdtfDate.parse(text), kind), 1850, 1930)
    assert told.mean() == pytest.approx(1.0)
    assert (told > 0).all()


def test_before_and_after_are_the_two_answers_to_one_question():
    day = EdtfDate.parse("1890-06-16")
    before = DatedEvidence(day, DatedKind.NOT_AFTER)
    after = DatedEvidence(day, DatedKind.NOT_BEFORE)
    share = np.array([month_likelihood(one, 1850, 1930) for one in (before, after)])
    # unscaled by their means the two add up to certainty, month by month
    frequency = 40.46 / 81
    total = share[0] * frequency + share[1] * (1 - frequency)
    assert total == pytest.approx(np.ones(81 * 12), abs=0.05)


MARKS = ("A", "4.96.217"), ("B", "11.95.30"), ("C", "7.93.112"), ("D", "2.94.9")
READS = "month, dot, year, dot, number in month"
CODES = "code, dot, code, dot, code"


def with_dates(*dates):
    return surveyed("".join(f"{i},{m},{d}\n" for (i, m), d in zip(MARKS, dates, strict=True)))


def odds(reports):
    found = compare(reports, [READS, CODES])
    return found.of(READS).log_evidence - found.of(CODES).log_evidence


def test_dates_that_agree_support_and_dates_that_contradict_sink():
    bare = odds(with_dates(",", ",", ",", ","))
    agree = odds(with_dates("1896-07,sold", "1895,at", ",", "1890,not before"))
    against = odds(with_dates("1876-07,sold", "1880,at", "1871,not after", ","))
    assert agree > bare + math.log(20)
    assert against < bare - math.log(20)


def test_codes_are_neither_helped_nor_hurt_by_dates():
    bare = compare(with_dates(",", ",", ",", ","), [CODES]).of(CODES).log_evidence
    dated = compare(with_dates("1876,at", ",", "1905,sold", ","), [CODES]).of(CODES).log_evidence
    assert dated == pytest.approx(bare)


def test_one_wrong_receipt_does_not_decide_and_is_named():
    bare = odds(with_dates(",", ",", ",", ","))
    reports = with_dates("1896-07,sold", "1895,at", "1893-08,at", "1921,at")
    found = compare(reports, [READS, CODES])
    # it costs no more than the chance of a wrong date
    assert odds(reports) > bare + math.log(0.03)
    assert found.best.name == READS
    assert found.doubtful_dates == ("D",)
    said = " ".join(found.sentences())
    assert "The date that came with D does not fit" in said
    assert "explains D only as misread" not in said
    told = date_of(parse_marking("4.96.217"), found)
    assert "2·94·9 made 1921" in told.slip


def test_a_month_without_a_year_is_held_against_dates_too():
    scheme, codes = "month, dot, number in month", "code, dot, code"
    for date, better in (("1895-04", True), ("1895-10", False)):
        rows = f"A,4.217,{date},at\nB,11.30,,\n"
        bare = compare(without_dates(surveyed(rows)), [scheme, codes]).of(scheme).log_evidence
        found = compare(surveyed(rows), [scheme, codes]).of(scheme).log_evidence
        assert (found > bare) == better


def test_running_numbers_gain_when_dates_rise_with_them():
    rows = "A,3112,{},at\nB,10217,{},at\nC,16000,{},at\nD,21530,{},at\n"
    scheme, codes = "number overall", "code"
    gains = []
    for dates in ((1871, 1876, 1878, 1881), (1878, 1871, 1881, 1876)):
        found = compare(surveyed(rows.format(*dates)), [scheme, codes])
        bare = compare(without_dates(found.reports), [scheme, codes])
        gains.append(found.of(scheme).log_evidence - bare.of(scheme).log_evidence)
    assert gains[0] > 2.0
    assert gains[1] < gains[0] - 2.0


def test_what_came_with_reports_is_not_counted_again_when_dating():
    reports = with_dates("1896-07,sold", "1895,at", ",", ",")
    found = compare(reports, [READS, CODES])
    alone = date_of(parse_marking("7.93.112"), found)
    again = date_of(parse_marking("7.93.112"), found, anchors_of(reports))
    assert alone.density.mass == pytest.approx(again.density.mass)
    assert alone.parts[0].weight == pytest.approx(found.best.posterior)


def test_a_machine_of_its_own_receipt_is_dated_by_it_where_its_number_says_nothing():
    reports = surveyed("A,217,1896-07,sold\nB,9431,,\nC,55,,\n")
    told = date_of(reports[0].mark, compare(reports, ["code", "code near one value"]))
    low, high = told.density.bounds(0.9)
    assert told.density.label(high) == "1896-07"
    assert told.density.label(low) > "1890"
    assert any("came with this very machine" in reason for reason in told.reasons)


def test_where_numbers_begin_again_the_date_of_one_that_bears_it_is_not_that_of_all():
    rows = [(31, 1884), (410, 1871), (88, 1890), (252, 1876), (640, 1873), (120, 1882), (301, 1868)]
    rows += [(77, 1879), (515, 1887), (199, 1866), (466, 1891), (23, 1874)]
    reports = surveyed("".join(f"r{i},{n},{year},at\n" for i, (n, year) in enumerate(rows)))
    told = date_of(parse_marking("252"), compare(reports))
    assert told.of_one and told.grade is Grade.CONJECTURED
    assert "if it is the very machine" in told.headline
    assert not any("rests on what came with this very machine" in one for one in told.reasons)


def test_the_chance_of_a_wrong_date_is_among_what_is_moved():
    found = compare(with_dates("1921,at", ",", ",", ","), [READS, CODES])
    assert any(moved.what == "wrong date rate" for moved in sensitivity(found))
    bare = compare(with_dates(",", ",", ",", ","), [READS, CODES])
    assert not any(moved.what == "wrong date rate" for moved in sensitivity(bare))


def test_no_dates_no_doubts():
    reports = tuple(Report(i, parse_marking(m)) for i, m in MARKS)
    found = compare(reports, [READS, CODES])
    assert doubtful_dates(found.best.candidate, reports, found.assumptions) == ()

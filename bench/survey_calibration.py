"""Does the survey mean what it says? Prints every figure of the study.

    python bench/survey_calibration.py [odds readings works reach hand dated false other totals]
        [runs once misread_ends told_apart survivors dates ledgers] --runs 500

odds: surveys drawn from each scheme; the true frequency in each bin of stated posterior.
readings: the same where each mark is read off a worn plate (`tests/truth/read_plates.py`): its
strings with chances, in brackets, and the likeliest string as if it were plain.
works: surveys of 2 to 12 reports from works walked month by month
(`tests/truth/numbered_works.py`), whose generators share nothing with the model; how often the
truth has more than 0.9, how often another theory has, and the bins of stated probability.
reach: how often the truth has more than 0.9 for one who knows how output varies in all families,
on clean surveys numbered by the month, beside how often it has here.
hand: marks in hand of the same works, 0 to 16 years beyond the reports: coverage, wrong and
inferred, and the median width against an oracle that knows how the works numbered (one month).
What came of them stands in `bench/README.md`.
dated: the same where dates came with half of the reports.
false: a theory made convincing by its first report, while the truth is codes without meaning.
other: generators that differ from the fitted model; how far the calibration slips.
totals, survivors: coverage of 90 % intervals.
runs: the floor told from numbers alone, of works of many kinds (tests/truth/made_numbers.py); once:
the totals told where a person knows that each number was used once, and where dates came with the
machines; misread_ends: totals of counts that start again where the year of one report is misread;
widths against an interval that knows the run to be even. told_apart: how far an observer
who knows an even run and a count begun again to the last detail, but not which of the two it is,
could come. ledgers: dates of numbers along histories written apart
(tests/truth/numbered_in_time.py). Each says which were looked at.
dates: coverage between and beyond anchors; which simulators were looked at while the defaults
were chosen, and which were not, is said on each line.
"""

import argparse
import json
import sys
import time
from collections import Counter
from dataclasses import replace
from itertools import pairwise, product
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))

import numbered_works
import read_plates
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.grades import Grade
from ironlace.evidence.markings import parse_marking
from ironlace.survey.answers.comparison import compare, compare_read
from ironlace.survey.answers.dated_evidence import without_dates
from ironlace.survey.answers.dates_at_the_ends import dates_amiss, learned_of
from ironlace.survey.answers.dating import date_of
from ironlace.survey.answers.how_many_made import totals_of
from ironlace.survey.answers.one_series import Grounds, one_series
from ironlace.survey.answers.survivors import chao1, chapman, equal_chances
from ironlace.survey.answers.totals import (
    total_from_one,
    total_with_unknown_start,
    totals_by_series,
    two_blocks,
)
from ironlace.survey.answers.two_densities import two_densities
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.marks_as_arrays import lay_out, lay_out_reports
from ironlace.survey.likelihood.simulated_marks import draw_marks, draw_unknowns
from ironlace.survey.reports.strings_read import StringRead
from ironlace.survey.reports.table import DatedEvidence, DatedKind, Report
from ironlace.survey.schemes.face_value import FaceValue, face_value
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import Scheme
from ironlace.survey.time.timeline import DatedNumber, timeline

sys.path.insert(0, str(Path(__file__).parents[1] / "tests" / "truth"))
GIVEN = Assumptions(hindsight_factor=1.0, highest_number=100_000)
TEXTS = (
    "code, dot, code, dot, code",
    "month, dot, year, dot, number in month",
    "year, dot, month, dot, number in month",
    "week, dot, year, dot, number in week",
    "month, dot, year, dot, number in year",
    "number overall; dots without meaning",
)
CANDIDATES = tuple(Candidate(t, Scheme.parse(t), hindsight=False) for t in TEXTS)
MONTH_YEAR = TEXTS[1]


def posterior(marks, candidates=CANDIDATES, given=GIVEN):
    reports = tuple(Report(str(i), m) for i, m in enumerate(marks))
    found = compare_read(reports, lay_out(marks, given), candidates, given)
    return {r.name: r.posterior for r in found.results}


def bins(stated, true, edges=(0.0, 0.02, 0.1, 0.25, 0.5, 0.75, 0.9, 0.98, 1.0)):
    """Largest gap between stated posterior and true frequency, bins of 50 or more."""
    stated, true = np.array(stated), np.array(true, dtype=float)
    worst = 0.0
    for low, high in pairwise(edges):
        here = (stated >= low) & (stated < high + (high == 1.0))
        if here.sum() < 50:
            continue
        gap = true[here].mean() - stated[here].mean()
        error = np.sqrt(max(stated[here].mean() * (1 - stated[here].mean()), 1e-4) / here.sum())
        worst = max(worst, abs(gap))
        print(
            f"    {low:4.2f}-{high:4.2f}  n {here.sum():6d}  stated {stated[here].mean():.3f}  "
            f"true {true[here].mean():.3f}  gap {gap:+.3f}  (chance alone {error:.3f})"
        )
    print(f"    largest gap {worst:.3f}")


def odds(runs, rng, drawn_with=GIVEN, change=None, kept=None):
    stated, true = [], []
    for candidate in CANDIDATES:
        for _ in range(runs):
            places = draw_unknowns(candidate.scheme, drawn_with, rng)
            size = int(rng.integers(1, 7))
            marks = draw_marks(candidate.scheme, places, size, drawn_with, rng)
            if change:
                marks = change(marks, candidate, places, rng)
            for name, p in posterior(marks).items():
                stated.append(p)
                true.append(name == candidate.name)
    if kept is not None:
        before = np.load(kept) if kept.is_file() else {"stated": [], "true": []}
        stated, true = [*before["stated"], *stated], [*before["true"], *true]
        np.savez(kept, stated=stated, true=true)
        print(f"  {len(stated) // len(CANDIDATES)} surveys so far")
    bins(stated, true)


READERS = {"honest": 1.0, "too sure of himself by half": 1.5}
PLATES = {"figures and dots": ((2.5, 4.0), 3.0), "dots cannot be told": ((2.5, 4.0), 0.0)}
WAYS = ("as struck", "strings with chances", "in brackets", "likeliest string taken plainly")


def as_read(mark, rng, sure, figures, dot):
    """A report of a mark as each of `WAYS` tells it; marks of other signs stay as they are."""
    text = str(mark).replace("\u00b7", ".")
    plain = Report("", mark)
    simple = text.replace(".", "").isdecimal() and ".." not in text
    if not simple or text[0] == "." or text[-1] == ".":
        return dict.fromkeys(WAYS, plain)
    figure = float(rng.uniform(*figures))
    brackets, told = read_plates.read_row(text, rng, figure=figure, dot=dot, sure=sure)
    strings = tuple(StringRead(parse_marking(row), p) for row, p in told)
    in_brackets = Report("", parse_marking(brackets))
    plainly = Report("", parse_marking(told[0][0]))
    return dict(
        zip(WAYS, (plain, replace(in_brackets, strings=strings), in_brackets, plainly), strict=True)
    )


def readings(runs, rng, kept=None):
    """Odds from worn plates: exact chances of an honest reader, and of one too sure of himself.

    Each survey is written to `kept` as soon as it is done, so that pieces add up.
    """
    lines = kept.read_text().splitlines() if kept is not None and kept.is_file() else []
    for _ in range(runs):
        for candidate in CANDIDATES:
            for (who, sure), (what, (figures, dot)) in product(READERS.items(), PLATES.items()):
                places = draw_unknowns(candidate.scheme, GIVEN, rng)
                marks = draw_marks(candidate.scheme, places, int(rng.integers(1, 7)), GIVEN, rng)
                read = [as_read(mark, rng, sure, figures, dot) for mark in marks]
                stated = {}
                for way in WAYS:
                    reports = tuple(replace(one[way], id=str(i)) for i, one in enumerate(read))
                    laid = lay_out_reports(reports, GIVEN)
                    found = compare_read(reports, laid, CANDIDATES, GIVEN)
                    stated[way] = {c.name: found.of(c.name).posterior for c in CANDIDATES}
                one = {"reader": who, "plate": what, "truth": candidate.name, "stated": stated}
                lines.append(json.dumps(one))
                if kept is not None:
                    with kept.open("a") as out:
                        out.write(lines[-1] + "\n")
    told_of_readings([json.loads(line) for line in lines])


def told_of_readings(surveys):
    for who, what in product(READERS, PLATES):
        some = [one for one in surveys if (one["reader"], one["plate"]) == (who, what)]
        print(f"  {what}; reader {who}: {len(some)} surveys")
        for way in WAYS:
            stated = [
                (p, name == one["truth"]) for one in some for name, p in one["stated"][way].items()
            ]
            here, is_true = np.array([p for p, _ in stated]), np.array([t for _, t in stated])
            sure_of = here[is_true] > 0.9
            wrong = int((here[~is_true] > 0.9).sum())
            print(
                f"   {way}: truth over 0.9 {sure_of.mean():.3f} +- "
                f"{error(sure_of.mean(), len(sure_of)):.3f}; another over 0.9 in "
                f"{wrong} of {len(sure_of)}; the truth on average {here[is_true].mean():.3f}"
            )
            bins(here, is_true)


def error(share, count):
    """Binomial standard error."""
    return float(np.sqrt(max(share * (1 - share), 1e-6) / max(count, 1)))


def works_of(families, kinds, runs, rng):
    """Surveys from works of their own, the list of theories as a person gets it."""
    for family in families:
        tuned = "tuned on" if family in numbered_works.TUNED_ON else "never tuned on"
        for kind in kinds:
            truth, other = [], []
            for _ in range(runs):
                one = numbered_works.survey(family, kind, rng)
                reports = [Report(str(i), parse_marking(m)) for i, m in enumerate(one.marks)]
                found = compare(reports)
                here = {r.name: r.posterior for r in found.results}
                truth.append(here.get(kind, 0.0))
                other.append(max(p for n, p in here.items() if n != kind))
                yield here, kind
            sure, wrong = np.mean(np.array(truth) > 0.9), np.mean(np.array(other) > 0.9)
            print(
                f"  {family:14s} ({tuned:14s}) {kind:20s} over 0.9: {sure:.2f} +- "
                f"{error(sure, runs):.2f}; another over 0.9: {wrong:.3f} +- "
                f"{error(wrong, runs):.3f}",
                flush=True,
            )


def from_works(runs, rng):
    families = (*numbered_works.TUNED_ON, *numbered_works.NEVER_TUNED_ON)
    stated, true = [], []
    for here, kind in works_of(families, numbered_works.MONTH_AND_YEAR, runs, rng):
        stated += here.values()
        true += [name == kind for name in here]
    bins(stated, true)


class _MeanOutput:
    """A generator that draws the mean where a works would draw a Poisson number of machines."""

    def __init__(self, rng):
        self._rng = rng

    def __getattr__(self, name):
        return getattr(self._rng, name)

    def poisson(self, mean):
        return np.asarray(mean, dtype=float)


RIVALS = ("month-year-count", "month-year-yearly", "month-year-running", "arbitrary codes")
_PATHS = 120
"""Histories of output drawn for each family; each is tried at every year it could have begun."""


def log_of_reports(machines, paths):
    """Log probability of clean marks with month, year and number in month under the first three."""
    from scipy.special import logsumexp, pdtr

    number = np.array([m.in_month for m in machines], dtype=float)
    year = np.array([m.year for m in machines])
    month = np.array([m.month for m in machines]) - 1
    found = {name: [] for name in RIVALS[:3]}
    for made in paths:
        years = len(made) // 12
        first = np.arange(1862, 1905 - years // 2)
        here = first[(year.min() >= first) & (year.max() < first + years)]
        if made.sum() < 40 or not len(here):
            continue
        at = (year - here[:, None]) * 12 + month
        before = np.concatenate([[0.0], np.cumsum(made)])
        each = -len(machines) * np.log(before[-1]) - np.log(len(first))

        def within(start, counted, at=at, made=made):
            """Chance that a count that stands at `start` when the month begins reaches a number."""
            low = pdtr(np.maximum(counted, 0.0), np.maximum(start, 1e-9))
            high = pdtr(np.maximum(counted, 0.0), np.maximum(start + made[at], 1e-9))
            return np.where(counted >= 0.0, np.maximum(low - high, 0.0), 0.0)

        def add(name, chance, weight=1.0, each=each):
            logs = np.log(np.maximum(chance, 1e-300)).sum(axis=1)
            found[name].append(logs + each + np.log(weight))

        add(RIVALS[0], 1.0 - pdtr(number - 1.0, np.maximum(made[at], 1e-9)) * (number > 1))
        add(RIVALS[1], within(before[at] - before[(at // 12) * 12], number - 1.0))
        for start, weight in ((1, 0.5), (101, 0.25), (1001, 0.25)):
            add(RIVALS[2], within(before[at], number - start), weight)
    return [
        float(logsumexp(np.concatenate(logs))) - np.log(len(paths)) if logs else -1e9
        for logs in found.values()
    ]


def log_of_codes(machines):
    """The same under three codes without meaning, limits log-uniform as the generator has them."""
    from scipy.special import logsumexp

    groups = [(m.month, m.year % 100, m.in_month) for m in machines]
    if min(year for _, year, _ in groups) < 10:
        return -1e9
    total = 0.0
    for values, ends in zip(zip(*groups, strict=True), numbered_works.CODES, strict=True):
        limit = np.geomspace(*ends, 300)
        fits = np.where(limit >= max(values), -len(groups) * np.log(limit), -1e9)
        total += float(logsumexp(fits)) - np.log(len(limit))
    return total


def reach(runs, rng):
    """How far one comes who knows the generator, weighed with the priors of the list."""
    from scipy.special import logsumexp

    families = (*numbered_works.TUNED_ON, *numbered_works.NEVER_TUNED_ON)
    # two works and a restart differ from a steady one in their overall numbers alone; that
    # machines may be finished out of step with a rival's numbers he does not know
    known = [f for f in families if f not in ("two works", "restart")]
    bank = [[numbered_works.output(f, _MeanOutput(rng))[1] for _ in range(_PATHS)] for f in known]
    sizes, his, ours = [], [], []
    for _ in range(runs):
        for family in families:
            one = numbered_works.survey(family, RIVALS[0], rng, clean=True)
            found = compare([Report(str(i), parse_marking(m)) for i, m in enumerate(one.marks)])
            logs = [log_of_reports(one.machines, paths) for paths in bank]
            each = [*(logsumexp(logs, axis=0) - np.log(len(bank))), log_of_codes(one.machines)]
            weights = np.array(each) + np.log([found.of(name).prior for name in RIVALS])
            his.append(float(np.exp(weights[0] - logsumexp(weights))))
            ours.append(found.of(RIVALS[0]).posterior)
            sizes.append(len(one.marks))
    for low, high in ((2, 12), (2, 4), (5, 7), (8, 12)):
        at = (np.array(sizes) >= low) & (np.array(sizes) <= high)
        told = [
            f"{np.mean(x):.2f} +- {error(np.mean(x), len(x)):.2f}"
            for x in (np.array(his)[at] > 0.9, np.array(ours)[at] > 0.9)
        ]
        print(f"  {low:2d} to {high:2d} reports, {at.sum():3d}: he {told[0]}, here {told[1]}")


def hand(runs, rng):
    for family in (*numbered_works.TUNED_ON, *numbered_works.NEVER_TUNED_ON):
        inside, sure_and_wrong, widths = {}, [], []
        for _ in range(runs):
            kind = str(rng.choice(numbered_works.MONTH_AND_YEAR))
            one = numbered_works.survey(family, kind, rng, int(rng.integers(6, 13)))
            found = compare([Report(str(i), parse_marking(m)) for i, m in enumerate(one.marks)])
            last = max(machine.year for machine in one.machines)
            for away in (0, 2, 4, 8, 12, 16):
                year, month = last + away, int(rng.integers(1, 13))
                if year > 1929:
                    continue
                like = one.machines[int(rng.integers(len(one.machines)))]
                machine = replace(like, year=year, month=month)
                told = date_of(parse_marking(numbered_works.struck(kind, machine, rng)), found)
                low, high = told.density.bounds(0.9)
                held = low <= (year - 1850) * 12 + month - 1 <= high
                inside.setdefault(away, []).append(held)
                sure_and_wrong.append(not held and told.grade is Grade.INFERRED)
                widths.append(high - low + 1)
        told = ", ".join(
            f"{away}: {np.mean(x):.2f} +- {error(np.mean(x), len(x)):.2f}"
            for away, x in inside.items()
        )
        print(
            f"  {family:14s} years beyond: {told}; wrong and inferred "
            f"{np.mean(sure_and_wrong):.3f}; median width {np.median(widths):.0f} months, oracle 1",
            flush=True,
        )


CLEAR = replace(GIVEN, misread_rate=1e-4, stray_rate=1e-4, changed_rate=1e-4)
PERIOD = {"first_year": CLEAR.first_year, "last_year": CLEAR.last_year}


def dated(runs, rng):
    """Half of the reports with a date: at, sold, or the answer to 'before or after this day?'.

    Glyphs are read clearly, so that the true date is what the mark says; marks with a worn dot get
    no date, since they could be cut in two ways. Codes are of any date; numbers that run on rise
    along a line.
    """
    months = 12 * (CLEAR.last_year - CLEAR.first_year + 1)

    def one(truth):
        month = truth if rng.random() > CLEAR.wrong_date_rate else int(rng.integers(months))
        kind = rng.choice(["at", "year", "sold", "bound"])
        if kind == "sold":
            month += int(5.0 * np.exp(1.1 * rng.normal()))
        if kind == "bound":
            asked = int(rng.integers(months))
            said = DatedKind.NOT_BEFORE if month >= asked else DatedKind.NOT_AFTER
            # "by the end of" a month, so that the two answers share no month
            asked -= said is DatedKind.NOT_AFTER
        else:
            asked, said = month, DatedKind.SOLD if kind == "sold" else DatedKind.AT
        year = CLEAR.first_year + asked // 12
        text = f"{year}" if kind == "year" else f"{year}-{asked % 12 + 1:02d}"
        return DatedEvidence(EdtfDate.parse(text), said)

    def truth_of(mark, scheme, line):
        value = face_value(mark, scheme, **PERIOD)
        if value is None:
            return None
        if scheme.tells_date:
            if str(mark).count("·") != 2:
                return None
            month = value.month or (min(int((value.week - 0.5) / 53 * 12), 11) + 1)
            return (value.year - CLEAR.first_year) * 12 + month - 1
        if value.number is not None:
            return int(np.clip(line[0] + line[1] * value.number, 0, months - 1))
        return int(rng.integers(months))

    stated, true, alone = [], [], []
    for candidate in CANDIDATES:
        for _ in range(runs):
            places = draw_unknowns(candidate.scheme, CLEAR, rng)
            marks = draw_marks(candidate.scheme, places, int(rng.integers(1, 7)), CLEAR, rng)
            values = [face_value(m, candidate.scheme, **PERIOD) for m in marks]
            top = max([v.number or 1 for v in values if v is not None], default=1)
            start, span = rng.integers(0, months // 2), rng.uniform(60, 360)
            reports = []
            for i, mark in enumerate(marks):
                when = truth_of(mark, candidate.scheme, (start, span / top))
                known = when is not None and rng.random() < 0.5
                reports.append(Report(str(i), mark, dated=one(when) if known else None))
            for kept, out in ((reports, stated), (without_dates(reports), alone)):
                read = lay_out_reports(kept, CLEAR)
                found = compare_read(tuple(kept), read, CANDIDATES, CLEAR)
                out += [found.of(c.name).posterior for c in CANDIDATES]
            true += [c is candidate for c in CANDIDATES]
    bins(stated, true)
    for name, p in (("with dates", stated), ("marks alone", alone)):
        given = np.clip(np.array(p)[np.array(true)], 1e-6, 1)
        print(f"    {name}: the true scheme has {np.exp(np.log(given).mean()):.3f} on the whole")


def other_generators(runs, rng):
    print("  misreadings three times as many, dots worn three times as often")
    odds(runs, rng, replace(GIVEN, misread_rate=0.06, worn_rate=0.15))
    print("  dots worn four times as often (wear alone)")
    odds(runs, rng, replace(GIVEN, worn_rate=0.2))
    print("  no misreading at all")
    odds(runs, rng, replace(GIVEN, misread_rate=1e-4))
    print("  five times as much junk")
    odds(runs, rng, replace(GIVEN, junk_rate=0.1))
    print("  output twice as uneven")
    odds(runs, rng, replace(GIVEN, uneven_output=1.0))

    def early_ones_survive(marks, candidate, places, rng):
        more = draw_marks(candidate.scheme, places, 4 * len(marks), GIVEN, rng)
        last = [int("".join(c for c in m.plain[-3:] if c.isdigit()) or 0) for m in more]
        return [more[i] for i in np.argsort(last)[: len(marks)]]

    print("  low numbers survive more")
    odds(runs, rng, change=early_ones_survive)

    def few_months(marks, candidate, places, rng):
        if not candidate.name.startswith("month"):
            return marks
        allowed = set(rng.choice(12, 5, replace=False) + 1)
        kept = []
        for _ in range(60):
            kept += [
                m
                for m in draw_marks(candidate.scheme, places, len(marks), GIVEN, rng)
                if str(m).split("·")[0].isdigit() and int(str(m).split("·")[0]) in allowed
            ]
            if len(kept) >= len(marks):
                return kept[: len(marks)]
        return marks

    print("  five months of the year only")
    odds(runs, rng, change=few_months)


def false_theory(runs, rng):
    given = replace(GIVEN, highest_number=1_000_000)
    candidates = (
        Candidate(MONTH_YEAR, Scheme.parse(MONTH_YEAR), hindsight=False),
        *(
            Candidate(t, Scheme.parse(t), hindsight=False, rival=True)
            for t in (TEXTS[0], "code near one value, dot, code near one value, dot, code")
        ),
    )
    fallen = tried = 0
    while tried < runs:
        limits = np.exp(rng.uniform(np.log([13, 100, 50]), np.log([400, 2000, 5000])))
        first = (rng.integers(1, 13), rng.integers(60, 100), rng.integers(1, int(limits[2]) + 1))
        rest = [tuple(rng.integers(1, int(m) + 1) for m in limits) for _ in range(3)]
        marks = [parse_marking(".".join(map(str, m))) for m in (first, *rest)]
        if posterior(marks[:1], candidates, given)[MONTH_YEAR] < 0.95:
            continue
        tried += 1
        fallen += posterior(marks, candidates, given)[MONTH_YEAR] < 0.5
    print(f"  {tried} false theories at 0.95 or more after one report: {fallen / tried:.3f} below")
    print("  one half by the fourth (wanted 0.90)")


def totals(runs, rng):
    inside = {"known start": [], "unknown start": [], "mean of series": [], "one series": []}
    inside |= {"sum of series": [], "two blocks": [], "two densities": [], "for one series": []}
    false, noticed, taken = [], [], []
    for _ in range(runs):
        made = int(np.exp(rng.uniform(5, 10)))
        k = int(rng.integers(3, 25))
        numbers = (rng.choice(made, k, replace=False) + 1).tolist()
        for name, t in (
            ("known start", total_from_one(numbers)),
            ("unknown start", total_with_unknown_start([n + 700 for n in numbers])),
        ):
            inside[name].append(t.low <= made <= t.high)
        if k >= 8:
            low, high = (int(x) for x in np.exp(rng.uniform(5.5, 8.5, 2)))
            thick = rng.uniform(5, 10)
            below = rng.random(2 * k) < thick * low / (thick * low + high)
            x = np.where(
                below, rng.integers(1, low + 1, 2 * k), low + rng.integers(1, high + 1, 2 * k)
            )
            found = two_densities(x.tolist())
            clear = min(below.sum(), (~below).sum()) >= 5
            if found is not None and clear:
                noticed.append(found.found)
                inside["two densities"].append(found.total.low <= low + high <= found.total.high)
                one = total_from_one(x.tolist())
                inside["for one series"].append(one.low <= low + high <= one.high)
            taken.append(two_densities(numbers).found)
            false.append(two_blocks(numbers).found)
            a, b = (int(x) for x in np.exp(rng.uniform(6, 8.5, 2)))
            gap = int(a * rng.uniform(2, 6))
            x = rng.choice(a + b, k, replace=False) + 1
            found = two_blocks(np.where(x > a, x + gap, x).tolist())
            if found.total is not None:
                inside["two blocks"].append(found.total.low <= a + b <= found.total.high)
        middle, sigma = np.exp(rng.uniform(3.5, 7)), rng.uniform(0.15, 0.9)
        each = np.maximum(1, np.round(middle * np.exp(rng.normal(0, sigma, 60)))).astype(int)
        series = {}
        for i in rng.choice(60, int(rng.integers(8, 40)), p=each / each.sum()):
            series.setdefault(str(i), []).append(int(rng.integers(1, each[i] + 1)))
        found = totals_by_series(series)
        truth = middle * np.exp(sigma**2 / 2)
        inside["mean of series"].append(found.mean.low <= truth <= found.mean.high)
        one = str(rng.choice(list(series)))
        inside["one series"].append(found.each[one].low <= each[int(one)] <= found.each[one].high)
        total = found.sum_over(60)
        inside["sum of series"].append(total.low <= each.sum() <= total.high)
    for name, covered in inside.items():
        print(f"  {name:15s} covered {np.mean(covered):.3f} of {len(covered)}")
    print(f"  one series taken for two blocks: {np.mean(false):.3f}, for two densities: ", end="")
    print(f"{np.mean(taken):.3f}; two densities noticed: {np.mean(noticed):.3f}")


def runs_of_numbers(runs, rng):
    """Floors from numbers alone, as works of many kinds leave them."""
    import made_numbers

    families = (
        ("looked at", made_numbers.LOOKED_AT | made_numbers.NEVER_LOOKED_AT),
        ("held back", made_numbers.HELD_BACK),
    )
    for seen, kinds in families:
        for name, draw in kinds.items():
            held, part = [], []
            for _ in range(runs):
                truth = draw(rng)
                total = one_series(truth.numbers).total
                held.append(total.low <= truth.made)
                part.append(total.low / truth.made)
            print(
                f"  {name:32s} ({seen:9s}) floor held {np.mean(held):.3f} +- "
                f"{error(np.mean(held), runs):.3f} of {runs}; it is {np.median(part):.2f} of what "
                "was made",
                flush=True,
            )


def misread_ends(runs, rng):
    """Totals of counts that start again where the date of one report may be another than struck.

    Surveys of 5 to 20 reports of all families, numbered three ways. In half of them the year of one
    report is another: changed round, or one figure taken for another. Coverage of what was made
    between the first and the last machine, with dates weighed and with all taken as read.
    """
    families = (*numbered_works.TUNED_ON, *numbered_works.NEVER_TUNED_ON)
    kinds = ("month-year-count", "year-month-count", "month-year-yearly")
    held = {False: [], True: []}
    for _, family, kind in product(range(runs), families, kinds):
        one = numbered_works.survey(family, kind, rng, int(rng.integers(5, 21)), clean=True)
        slipped = bool(rng.random() < 0.5)
        years = [machine.year for machine in one.machines]
        if slipped:
            at = int(rng.integers(len(years)))
            years[at] = 100 * (years[at] // 100) + misread_year(years[at] % 100, rng)
        machines = [replace(m, year=y) for m, y in zip(one.machines, years, strict=True)]
        marks = [parse_marking(numbered_works.struck(kind, m, rng)) for m in machines]
        reports = [Report(f"R{i}", mark) for i, mark in enumerate(marks)]
        scheme = Scheme.parse(numbered_works.KINDS[kind])
        read = [(r, face_value(r.mark, scheme)) for r in reports]
        used = [(r, value) for r, value in read if value is not None]
        amiss = dates_amiss(used, scheme, learned_of(reports, scheme, GIVEN), GIVEN)
        found = totals_of([value for _, value in used], scheme, when=None, amiss=amiss)
        ends = [12 * m.year + m.month for m in one.machines]
        if kind == "month-year-yearly":
            ends = [12 * m.year for m in one.machines]
            ends = [min(ends) + 1, max(ends) + 12]
        true = sum(min(ends) <= 12 * m.year + m.month <= max(ends) for m in one.works)
        naive = (found.were_all_right or found.all_series)[1]
        told = found.all_series[1]
        held[slipped].append(
            (
                told.low <= true <= told.high,
                naive.low <= true <= naive.high,
                found.were_all_right is not None,
                told.high / told.low,
                naive.high / naive.low,
                naive.low > 1.5 * true,
                told.low > 1.5 * true,
            )
        )
    for slipped, rows in held.items():
        a = np.array(rows, dtype=float)
        share, count = a.mean(axis=0), len(a)
        print(
            f"{count} surveys, a year {'misread' if slipped else 'as struck'}: holds "
            f"{share[0]:.2f} +- {error(share[0], count):.2f}, all as read {share[1]:.2f}; said to "
            f"be in doubt {share[2]:.2f}; width {np.median(a[:, 3]):.2f} and "
            f"{np.median(a[:, 4]):.2f} times; low end over 1.5 times the truth {share[6]:.3f}, "
            f"as read {share[5]:.3f}",
            flush=True,
        )


def misread_year(year, rng):
    """Another year of two figures, by one slip."""
    tens, ones = divmod(year, 10)
    while True:
        kind = rng.random()
        if kind < 0.3:
            other = 10 * ones + tens
        elif kind < 0.65:
            other = 10 * int(rng.choice(list(numbered_works.LOOK_ALIKE[str(tens)]))) + ones
        else:
            other = 10 * tens + int(rng.choice(list(numbered_works.LOOK_ALIKE[str(ones)])))
        if other != year and not 30 < other < 50:
            return other
        if kind >= 0.3 and tens < 5:
            return year + 1


def of_one_even_run(truth):
    """Width of the interval of one who knows that the run is even and starts at 1."""
    k = len(set(truth.numbers))
    return truth.made * (0.05 ** (-1 / k) - 0.95 ** (-1 / k))


def numbered_once(runs, rng):
    """Totals on a person's word that each number was used once, and with dates beside numbers."""
    import made_numbers

    def on_word(truth):
        found = one_series(truth.numbers, grounds=Grounds.WORD)
        return found.total, found.bounded

    def by_dates(truth):
        values = [FaceValue(number=n) for n in truth.numbers]
        found = totals_of(values, Scheme.parse("number overall"), when=truth.when)
        return found.best[1], found.bounded

    for how, seen, kinds in (
        (on_word, "on a person's word", made_numbers.USED_ONCE),
        (by_dates, "dated, looked at", made_numbers.DATED),
        (by_dates, "dated, held back", made_numbers.DATED_HELD_BACK),
    ):
        for name, draw in kinds.items():
            told, inside, width = [], [], []
            for _ in range(runs):
                truth = draw(rng)
                total, bounded = how(truth)
                held = total.low <= truth.made and (truth.made <= total.high or not bounded)
                told.append(held)
                if bounded:
                    inside.append(held)
                    width.append((total.high - total.low) / of_one_even_run(truth))
            share = np.mean(inside) if inside else np.nan
            print(
                f"  {name:32s} ({seen}) told rightly {np.mean(told):.3f} +- "
                f"{error(np.mean(told), runs):.3f}; two-sided {len(inside)} of {runs}, of which "
                f"{share:.3f} +- {error(share, len(inside)):.3f} held, "
                f"{np.median(width or [np.nan]):.1f} times as wide as knowing",
                flush=True,
            )


def told_apart(runs, rng):
    """An even run and a count begun again, by one who knows both but not which of them it is."""
    from scipy.special import logsumexp

    import made_numbers

    ends = np.geomspace(150, 12000, 400)
    first, second = (x.ravel() for x in np.meshgrid(*[np.geomspace(300, 6000, 90)] * 2))
    totals = np.concatenate([ends, first + second])
    order = np.argsort(totals)
    for name, draw in (("even", made_numbers.even), ("begun again", made_numbers.renumbered)):
        truth_has, inside, width = [], [], []
        for _ in range(runs):
            truth = draw(rng)
            x = np.sort(truth.numbers)
            k = len(x)
            even = np.where(ends >= x[-1], -k * np.log(ends), -1e6) - np.log(len(ends))
            below = np.searchsorted(x, np.minimum(first, second), side="right")
            again = below * np.log(2.0) - k * np.log(first + second) - np.log(len(first))
            again = np.where(np.maximum(first, second) >= x[-1], again, -1e6)
            logs = np.concatenate([even, again])
            weight = np.exp(logs - logsumexp(logs))
            mine = weight[: len(ends)].sum()
            truth_has.append(mine if name == "even" else 1.0 - mine)
            low, high = np.interp([0.05, 0.95], np.cumsum(weight[order]), totals[order])
            inside.append(low <= truth.made <= high)
            width.append((high - low) / of_one_even_run(truth))
        sure = np.mean(np.array(truth_has) > 0.95)
        print(
            f"  {name:12s} the truth has over 0.95 in {sure:.3f} +- {error(sure, runs):.3f}; "
            f"interval holds {np.mean(inside):.3f} +- {error(np.mean(inside), runs):.3f}, "
            f"{np.median(width):.1f} times as wide as knowing it even",
            flush=True,
        )


def ledgers(runs, rng):
    """Numbers between, before and after four to nine dated ones.

    The oracle for those between knows how far machines of such works lie from a straight line
    between two dated ones, not where: its width holds nine in ten of these distances.
    """
    import numbered_in_time

    families = (
        ("looked at", numbered_in_time.LOOKED_AT | numbered_in_time.NEVER_LOOKED_AT),
        ("held back", numbered_in_time.HELD_BACK | numbered_in_time.SEASONS_HELD_BACK),
    )
    for seen, kinds in families:
        for name, draw in kinds.items():
            told = {"between": [], "before": [], "after": []}
            apart = []
            for _ in range(runs):
                made = draw(rng)
                n = len(made)
                at = np.sort(rng.choice(np.arange(n // 10, 3 * n // 4), int(rng.integers(4, 10))))
                at = np.unique(at).tolist()
                dates = [f"{1880 + int(made[i]) // 12}-{int(made[i]) % 12 + 1:02d}" for i in at]
                anchors = [
                    DatedNumber(i + 1, DatedKind.AT, EdtfDate.parse(d))
                    for i, d in zip(at, dates, strict=True)
                ]
                asked = [("between", int(rng.integers(at[0] + 1, at[-1]))) for _ in range(3)]
                asked += [("before", int(rng.integers(0, at[0])))]
                asked += [("after", int(rng.integers(at[-1] + 1, n)))]
                line = timeline(anchors, [i + 1 for _, i in asked], first_year=1870, last_year=1925)
                for where, i in asked:
                    low, high = line.of(i + 1).bounds(0.9)
                    told[where].append((low <= int(made[i]) + 120 <= high, (high - low + 1) / 12))
                    if where == "between":
                        apart.append(made[i] - np.interp(i, at, [made[j] for j in at]))
            knows = max(float(np.quantile(apart, 0.95) - np.quantile(apart, 0.05)), 1.0) / 12
            parts = [
                f"{where} {np.mean([ok for ok, _ in v]):.3f} +- "
                f"{error(np.mean([ok for ok, _ in v]), len(v)):.3f} "
                f"({np.median([wide for _, wide in v]):.1f} years)"
                for where, v in told.items()
            ]
            print(
                f"  {name:32s} ({seen:9s}) {', '.join(parts)}; oracle between {knows:.2f} years",
                flush=True,
            )


def survivors(runs, rng):
    inside = {"two lists (Chapman)": [], "equal chances": [], "Chao, equal chances": []}
    inside["Chao as a floor, shy machines"] = []
    for _ in range(runs):
        n = int(rng.integers(60, 400))
        p, q = rng.uniform(0.2, 0.5, 2)
        a, b = rng.random(n) < p, rng.random(n) < q
        found = chapman(int(a.sum()), int(b.sum()), int((a & b).sum()))
        inside["two lists (Chapman)"].append(found.low <= n <= found.high)
        n = int(np.exp(rng.uniform(3, 5)))
        seen = Counter(rng.integers(0, n, int(rng.uniform(0.5, 2) * n)).tolist())
        found = equal_chances(sum(seen.values()), len(seen))
        inside["equal chances"].append(found.low <= n <= found.high)
        found = chao1(seen.values())
        inside["Chao, equal chances"].append(found.low <= n <= found.high)
        chance = rng.lognormal(0, 1.0, n)
        seen = Counter(rng.choice(n, int(n), p=chance / chance.sum()).tolist())
        inside["Chao as a floor, shy machines"].append(chao1(seen.values()).low <= n)
    for name, covered in inside.items():
        print(f"  {name:30s} covered {np.mean(covered):.3f} of {len(covered)}")


LOOKED_AT = ("wander", "bursts", "gaps")
NOT_LOOKED_AT = ("skip", "move", "growth", "constant", "collapse")


def works(kind, rng, months=300):
    """Numbers made by the end of each month under one kind of history."""
    x = np.zeros(months)
    calm = np.cumsum(rng.normal(0, np.sqrt(0.02 / 12), months))
    if kind == "wander":
        x = np.cumsum(rng.normal(0, np.sqrt(0.06 / 12), months))
    elif kind == "growth":
        x = np.linspace(0, rng.uniform(1, 3), months)
    elif kind == "bursts":
        x = np.log(np.where(rng.random(months) < 0.15, rng.uniform(3, 8, months), 0.5))
    elif kind == "gaps":
        x = calm
        for _ in range(2):
            at = rng.integers(0, months - 1)
            x[at : at + rng.integers(6, 30)] = -8
    elif kind == "move":
        x = calm
        at = rng.integers(months // 4, 3 * months // 4)
        x[at:] += rng.normal(0, 1.2)
        x[at : at + rng.integers(2, 12)] = -6
    elif kind == "collapse":
        x = calm
        at = rng.integers(months // 4, 3 * months // 4)
        x[at : at + rng.integers(24, 60)] -= rng.uniform(1.5, 3.5)
    elif kind == "skip":
        x = calm
    made = np.cumsum(np.exp(x + np.log(rng.uniform(50, 600))))
    if kind == "skip":
        at = rng.integers(months // 4, 3 * months // 4)
        made[at:] += made[-1] * rng.uniform(0.1, 0.4)
    return np.maximum(np.round(made).astype(int), np.arange(1, months + 1))


def dates(runs, rng):
    for kind in (*LOOKED_AT, *NOT_LOOKED_AT):
        inside = {"between": [], "beyond": [], "beyond, early side": []}
        width = {"between": [], "beyond": []}
        stated = []
        for _ in range(runs):
            made = works(kind, rng)
            number = lambda m, made=made: int(  # noqa: E731
                rng.integers((made[m - 1] if m else 0) + 1, max(made[m], made[m - 1] + 1) + 1)
            )
            when = np.unique(rng.integers(1, int(rng.integers(150, 240)), int(rng.integers(4, 11))))
            if len(when) < 3:
                continue
            anchors = [
                DatedNumber(
                    number(m), DatedKind.AT, EdtfDate.parse(f"{1880 + m // 12}-{m % 12 + 1:02d}")
                )
                for m in when.tolist()
            ]
            inner = int(rng.integers(when[0], when[-1] + 1))
            outer = int(min(when[-1] + rng.integers(3, 72), 299))
            asked = {"between": (number(inner), inner), "beyond": (number(outer), outer)}
            line = timeline(
                anchors, [n for n, _ in asked.values()], first_year=1870, last_year=1925
            )
            for name, (n, month) in asked.items():
                low, high = line.of(n).bounds(0.9)
                inside[name].append(low <= month + 120 <= high)
                width[name].append((high - low + 1) / 12)
                if name == "between":
                    # an interval of whole months holds more than the 90 % asked of it
                    stated.append(line.of(n).mass[low : high + 1].sum())
                if name == "beyond":
                    inside["beyond, early side"].append(low <= month + 120)
        seen = "looked at" if kind in LOOKED_AT else "not looked at"
        print(
            f"  {kind:9s} ({seen:13s}) between {np.mean(inside['between']):.3f} "
            f"(stated {np.mean(stated):.3f}, "
            f"median {np.median(width['between']):.2f} years), beyond "
            f"{np.mean(inside['beyond']):.3f} ({np.median(width['beyond']):.1f} years), "
            f"early bound {np.mean(inside['beyond, early side']):.3f}; "
            f"{len(inside['between'])} runs",
            flush=True,
        )


STUDIES = {
    "odds": odds,
    "readings": readings,
    "works": from_works,
    "reach": reach,
    "hand": hand,
    "dated": dated,
    "false": false_theory,
    "other": other_generators,
    "totals": totals,
    "runs": runs_of_numbers,
    "misread_ends": misread_ends,
    "once": numbered_once,
    "told_apart": told_apart,
    "ledgers": ledgers,
    "survivors": survivors,
    "dates": dates,
}


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("studies", nargs="*", choices=[*STUDIES, []], default=list(STUDIES))
    parser.add_argument("--runs", type=int, default=500)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument(
        "--kept",
        type=Path,
        help="with odds or readings: a file to which surveys are added, for pieces",
    )
    given = parser.parse_args()
    for name in given.studies:
        start = time.process_time()
        print(f"{name} ({given.runs} runs)")
        rng = np.random.default_rng(given.seed)
        if name in ("odds", "readings") and given.kept:
            STUDIES[name](given.runs, rng, kept=given.kept)
        else:
            STUDIES[name](given.runs, rng)
        print(f"  {time.process_time() - start:.0f} s", flush=True)


if __name__ == "__main__":
    main()

"""How fast the survey's questions are, and whether a nested sampler finds the same evidence.

    python bench/survey_speed.py [10 1000 100000 1000000] [--questions] [--sampler]

Seconds of processor time on one core and the most memory held, each size in a process of its own:
a table of reports as people send them (misreadings, doubts, worn dots, dates, several ways of
knowing) is read, its second sightings joined, and the library's theories compared. Beside it stands
a bound measured in the same run: the rows alone through `csv.reader` and a `Counter` of the marks.
"""

import argparse
import csv
import io
import os
import resource
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.markings import parse_marking
from ironlace.survey.answers.comparison import compare
from ironlace.survey.answers.next_report import with_report
from ironlace.survey.errors import ReportsError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.counted import Reports
from ironlace.survey.reports.table import Report, read_reports
from ironlace.survey.schemes.scheme import Scheme

WANTED = {10: (0.1, 1_000), 1000: (1.0, 1_000), 100_000: (10.0, 1_000), 1_000_000: (30.0, 1_000)}
"""Seconds of comparing and megabytes wanted."""

SEEN = np.array(["handled", "photograph", "told", "listing", "print"])


def drawn(count, rng):
    """Distinct month-year-count marks, one in twenty with a dot worn away."""
    found = {}
    while len(found) < count:
        month, year = rng.integers(1, 13), int(np.clip(round(rng.normal(1894, 4)), 1870, 1915))
        top = int(np.exp(rng.normal(6.5 if count > 5000 else 5.5, 0.5))) + 1
        first = "" if rng.random() < 0.05 else "."
        found[f"{month}{first}{year % 100:02d}.{rng.integers(1, top + 1)}"] = None
    return [Report(f"R{i}", parse_marking(t)) for i, t in enumerate(found)]


def table(count, rng, dated=0.03):
    """A table as text: a figure of one mark in fifty misread, doubts, worn dots, receipts."""
    year = np.clip(np.round(rng.normal(1893, 5, count)), 1868, 1918).astype(int)
    month = rng.integers(1, 13, count)
    top = np.exp(rng.normal(np.log(3000 if count > 5000 else 300), 0.4, count))
    number = (rng.random(count) * top).astype(int) + 1
    seen = SEEN[rng.choice(5, count, p=[0.1, 0.4, 0.2, 0.2, 0.1])]
    sighted = rng.integers(1995, 2026, count)
    chance = rng.random((4, count))
    place = rng.integers(0, 1000, count)
    lag = rng.integers(0, 14, count)
    rows = ["id,mark,seen,sighted,variant,place,machine,dated,dated_kind,evidence,note"]
    for i in range(count):
        dot = "" if chance[0, i] < 0.05 else "."
        mark = f"{month[i]}{dot}{year[i] % 100:02d}.{number[i]}"
        if chance[1, i] < 0.02:
            figures = [k for k, c in enumerate(mark) if c.isdigit()]
            at = figures[place[i] % len(figures)]
            mark = f"{mark[:at]}{(int(mark[at]) + 1 + place[i] % 8) % 10}{mark[at + 1 :]}"
        if chance[2, i] < 0.06:
            mark = mark[:-1] + ("?" if chance[2, i] < 0.03 else f"({mark[-1]})")
        date = ",,"
        if chance[3, i] < dated:
            sold = month[i] - 1 + lag[i]
            date = f"{year[i] + sold // 12}-{sold % 12 + 1:02d},sold,receipt"
        rows.append(f"R{i},{mark},{seen[i]},{sighted[i]},,,,{date},")
    return "\n".join(rows) + "\n"


class Laps:
    """Processor seconds from one step to the next."""

    def __init__(self):
        self.last = time.process_time()

    def __call__(self, what, more=""):
        taken = time.process_time() - self.last
        print(f"  {what:24s} {taken:8.2f} s  {peak():5.0f} MB  {more}", flush=True)
        self.last = time.process_time()
        return taken


def peak():
    """The most memory held so far, MB."""
    return resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024


def speed(file, questions):
    text = Path(file).read_text(encoding="utf-8")
    count = text.count("\n") - 1
    print(f"{count} rows, {len(text) / 1e6:.1f} MB; {peak():.0f} MB held before", flush=True)
    lap = Laps()
    kinds = Counter(row[1] for row in csv.reader(io.StringIO(text)))
    differing = len(kinds)
    del kinds
    lap("bound: csv and Counter", f"{differing} different cells")
    read = read_reports(text)
    del text
    lap("reading", f"{len(read.reports)} reports, {len(read.set_aside)} set aside")
    survey = Reports.from_table(read)
    reports = survey.to_compare()
    lap("second sightings", f"{len(reports)} machines")
    found = compare(reports)
    first = lap("comparing", f"leads: {found.best.name}")
    if count <= 1000:
        compare(reports)
        first = lap("comparing, again")
    given_up = sum(r.weighed_on < len(reports) for r in found.results)
    seconds, most = WANTED.get(count, (float("nan"), float("nan")))
    print(
        f"  wanted {seconds:g} s and {most} MB: ratios {first / seconds:.2f}, {peak() / most:.2f}; "
        f"{given_up} of {len(found.results)} theories given up on a sample"
    )
    with_report(found, Report("more", parse_marking("4.96.217")))
    lap("one report more")
    found.sentences()
    lap("its sentences")
    found.as_dict()
    lap("its figures")
    if questions:
        ask(survey, lap)


def ask(survey, lap):
    """Date, count, survivors and next, as the commands ask them."""
    from ironlace.evidence.progress import Steps
    from ironlace.survey import ANALYSES

    for analysis in ANALYSES:
        asked = analysis.asked(of="4.96.217") if analysis.key == "date" else analysis.asked()
        try:
            answer = analysis.answer(analysis.work(survey, asked, Steps()))
            lap(analysis.key, answer.sentences[0])
        except IronlaceError as error:
            lap(analysis.key, f"refused: {error}")


def refusal(rows=300_000):
    """A long table that holds no numbers: seconds until it is refused."""
    rng = np.random.default_rng(3)
    signs = np.array(list("0123456789ABCDEFGHIJKLMNOPQRSTUVWXYZ .-"))
    cells = ["".join(c) for c in signs[rng.integers(0, len(signs), (rows, 14))]]
    text = "id,mark\n" + "".join(f"{i},{cell}\n" for i, cell in enumerate(cells))
    start = time.process_time()
    try:
        read_reports(text)
    except ReportsError as error:
        taken = time.process_time() - start
        print(f"{rows} rows of junk: {taken:.1f} s (wanted 5), {peak():.0f} MB: {error}")


def sampler():
    import dynesty

    given = Assumptions()
    marks = [r.mark for r in drawn(10, np.random.default_rng(4))]
    for text in ("month, dot, year, dot, number in month", "code, dot, code, dot, code"):
        scheme = Scheme.parse(text)
        start = time.process_time()
        _, summed = explain(lay_out(marks, given), scheme, given)
        ours = time.process_time() - start
        cuts = cut(lay_out(marks, given), scheme, given)
        unknowns = cuts.unknowns

        def prior(u, unknowns=unknowns):
            # An option takes an axis of its own, cut by its weights.
            x = []
            for i, unknown in enumerate(unknowns):
                option = np.searchsorted(np.cumsum(unknown.option_weights), u[2 * i])
                x += [
                    min(option, len(unknown.option_weights) - 1),
                    unknown.low + u[2 * i + 1] * (unknown.high - unknown.low),
                ]
            return np.array(x, dtype=float)

        def likelihood(x, cuts=cuts):
            values = cuts.known.copy()
            for i, (unknown, rows) in enumerate(zip(cuts.unknowns, cuts.row, strict=True)):
                values = values * unknown.table(np.array([x[2 * i + 1]]), int(x[2 * i]))[rows, 0]
            return float(np.log(cuts.junk + np.bincount(cuts.report, values, cuts.count)).sum())

        start = time.process_time()
        nested = dynesty.NestedSampler(
            likelihood,
            prior,
            2 * len(unknowns),
            nlive=800,
            sample="rslice",
            rstate=np.random.default_rng(5),
        )
        nested.run_nested(dlogz=0.01, print_progress=False)
        theirs = time.process_time() - start
        result = nested.results
        print(
            f"{text}: ours {summed.log_evidence:.3f} in {ours * 1e3:.0f} ms; nested sampler "
            f"{result.logz[-1]:.3f} +- {result.logzerr[-1]:.3f} in {theirs:.0f} s; "
            f"difference {summed.log_evidence - result.logz[-1]:+.3f} (wanted 0.1)",
            flush=True,
        )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("counts", nargs="*", type=int, default=[10, 1000, 100_000, 1_000_000])
    parser.add_argument("--questions", action="store_true")
    parser.add_argument("--sampler", action="store_true")
    parser.add_argument("--table", help="this table alone, in this process")
    given = parser.parse_args()
    if given.table:
        speed(given.table, given.questions)
        return
    more = ["--questions"] if given.questions else []
    with tempfile.TemporaryDirectory() as folder:
        for count in given.counts:
            file = Path(folder) / f"{count}.csv"
            file.write_text(table(count, np.random.default_rng(count)), encoding="utf-8")
            subprocess.run([sys.executable, __file__, "--table", str(file), *more], check=True)
    refusal()
    if given.sampler:
        sampler()


if __name__ == "__main__":
    main()

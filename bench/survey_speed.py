"""How fast the comparison is, and whether a nested sampler finds the same evidence.

    python bench/survey_speed.py [10 1000 100000] [--sampler]

Seconds of processor time on one core, library patterns against drawn reports; the first run in a
process also lays down tables that later runs share, so it is shown apart.
"""

import argparse
import os
import time

os.environ.setdefault("OPENBLAS_NUM_THREADS", "1")

import numpy as np

from ironlace.evidence.markings import parse_marking
from ironlace.survey.answers.comparison import compare
from ironlace.survey.answers.next_report import with_report
from ironlace.survey.errors import ReportsError
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.mark_cuts import cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.table import Report, read_reports
from ironlace.survey.schemes.library import candidates_for
from ironlace.survey.schemes.scheme import Scheme

WANTED = {10: 0.1, 1000: 1.0, 100_000: 30.0}


def drawn(count, rng):
    """Distinct month-year-count marks, one in twenty with a dot worn away."""
    found = {}
    while len(found) < count:
        month, year = rng.integers(1, 13), int(np.clip(round(rng.normal(1894, 4)), 1870, 1915))
        top = int(np.exp(rng.normal(6.5 if count > 5000 else 5.5, 0.5))) + 1
        first = "" if rng.random() < 0.05 else "."
        found[f"{month}{first}{year % 100:02d}.{rng.integers(1, top + 1)}"] = None
    return [Report(f"R{i}", parse_marking(t)) for i, t in enumerate(found)]


def speed(count, schemes):
    reports = drawn(count, np.random.default_rng(count))
    candidates = candidates_for([r.mark for r in reports[:500]])[:schemes]
    taken = []
    for _ in range(5 if count <= 1000 else 1):
        start = time.process_time()
        found = compare(reports, candidates)
        taken.append(time.process_time() - start)
    best = min(taken)
    print(
        f"{count:7d} reports, {len(candidates)} schemes: {best:.3f} s (first {taken[0]:.3f}); "
        f"wanted {WANTED.get(count, float('nan')):g}, ratio {best / WANTED.get(count, np.nan):.2f}",
        flush=True,
    )
    if count <= 1000:
        start = time.process_time()
        for _ in range(5):
            with_report(found, Report("more", parse_marking("4.96.217")))
        each = (time.process_time() - start) / 5
        print(f"        one more: {each * 1e3:.0f} ms; wanted 50, ratio {each / 0.05:.2f}")


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
        print(f"{rows} rows of junk: {time.process_time() - start:.1f} s (wanted 5): {error}")


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
    parser.add_argument("counts", nargs="*", type=int, default=[10, 1000, 100_000])
    parser.add_argument("--schemes", type=int, default=10)
    parser.add_argument("--sampler", action="store_true")
    given = parser.parse_args()
    for count in given.counts:
        speed(count, given.schemes)
    refusal()
    if given.sampler:
        sampler()


if __name__ == "__main__":
    main()

"""Tables of reports spoilt by hands and spreadsheets: which answer is wrong, and does not say so?

    python bench/surveys_failing_hands.py --forms 4 --draws 2 --seed 1
    python bench/surveys_failing_hands.py --analyses date --failings "two figures" --say
    python bench/surveys_failing_hands.py --held-back --seed 91

The sister of `failings_of_hands.py` for what a survey reads: a table of reports, or of dated
examples. Sound tables of works made by `surveys_by_strangers.py`; failings of
`tests/truth/failing_tables.py`, which know headings and cells alone. An answer is *wrong* when it
no longer holds the truth that the sound table's held (a theory: when another has over 0.9). It is
*told* when the table is refused, the answer graded lower, or one of the first three sentences
names what is wrong (the report, its line, its number or the heading) and did not on the sound one.
"""

import argparse
import sys
import time
from collections import defaultdict
from dataclasses import dataclass
from pathlib import Path

import numpy as np

ROOT = Path(__file__).parents[1]
sys.path[:0] = [str(ROOT / "src"), str(ROOT / "tests" / "truth"), str(ROOT / "bench")]

from surveys_by_strangers import ANALYSES, history, month  # noqa: E402  (after the path)
from surveys_never_thought_of import people, towns_of  # noqa: E402

from failing_tables import FAILINGS, HELD_BACK, SpoiltTable, Table  # noqa: E402
from ironlace.evidence.analyses import asked_from  # noqa: E402
from ironlace.evidence.doubtful_figures import answered as told  # noqa: E402
from ironlace.evidence.errors import IronlaceError  # noqa: E402
from ironlace.evidence.progress import Steps  # noqa: E402
from ironlace.survey import Reports, read_reports  # noqa: E402

FIRST = 3
"""So many sentences are read before an answer is taken on trust."""


@dataclass(frozen=True)
class Form:
    """A table that may be spoilt, what is asked of it, and the truth.

    `reports` is the table of reports where the one that may be spoilt is of dated examples.
    """

    table: Table
    asks: str
    truth: float
    of: str = ""
    reports: Table | None = None


HEADS = ("id", "mark", "dated", "dated_kind", "evidence", "place", "reporter", "sighted")


def report_table(rng, marks, dates, sighted=None):
    """Reports of these marks from six lands and as many people."""
    count = len(marks)
    order = rng.permutation(count)
    place, by = towns_of(rng, count), people(count)
    sighted = sighted or [f"{rng.integers(1990, 2024)}-{rng.integers(1, 13):02d}" for _ in marks]
    return Table(
        HEADS,
        tuple(
            (f"r{n}", marks[i], dates[i], "at" if dates[i] else "", "", place[i], by[i], sighted[i])
            for n, i in enumerate(order, 1)
        ),
    )


def some_of(rng, made, least, most):
    return np.sort(rng.choice(len(made), int(rng.integers(least, most)), replace=False)).tolist()


def between(rng, at):
    while (inside := int(rng.integers(at[0] + 1, at[-1]))) in at:
        pass
    return inside


def counted(rng):
    """How many were made, all dated."""
    made = history(rng)
    at = some_of(rng, made, 14, 26)
    table = report_table(rng, [str(i + 1) for i in at], [month(made[i]) for i in at])
    return Form(table, "count", len(made))


def few_dated(rng):
    """The date of another number by four to six."""
    return dated(rng, 4, 7)


def dated(rng, least=8, most=14):
    """The date of another number."""
    made = history(rng)
    at = some_of(rng, made, least, most)
    table = report_table(rng, [str(i + 1) for i in at], [month(made[i]) for i in at])
    inside = between(rng, at)
    return Form(table, "date", made[inside], str(inside + 1))


def anchored(rng):
    """The same by a table of dated examples; the reports have none."""
    made = history(rng)
    at = some_of(rng, made, 8, 14)
    rows = [(str(i + 1), "at", month(made[i]), f"ledger, leaf {n}") for n, i in enumerate(at, 1)]
    table = Table(("serial", "kind", "date", "source"), tuple(rows))
    others = some_of(rng, made, 5, 9)
    reports = report_table(rng, [str(i + 1) for i in others], [""] * len(others))
    inside = between(rng, at)
    return Form(table, "date", made[inside], str(inside + 1), reports)


def year_struck(rng):
    """The date by the year struck before the number; two have a date beside."""
    made = history(rng)
    at = some_of(rng, made, 7, 12)
    marks = [f"{int(made[i]) % 100:02d}.{i + 1:05d}" for i in at]
    table = report_table(rng, marks, [month(made[i]) if n < 2 else "" for n, i in enumerate(at)])
    inside = between(rng, at)
    return Form(table, "date", made[inside], f"{int(made[inside]) % 100:02d}.{inside + 1:05d}")


def theories(rng):
    """Which numbering: month, dot, year, dot, number in the month."""
    year = int(rng.integers(70, 90))
    marks = [
        f"{rng.integers(1, 13)}.{year + rng.integers(0, 8)}.{rng.integers(1, 500)}"
        for _ in range(int(rng.integers(7, 14)))
    ]
    return Form(report_table(rng, marks, [""] * len(marks)), "odds", 1.0)


def theories_padded(rng):
    """Which numbering: a number filled up with noughts, dated by papers."""
    made = history(rng)
    at = some_of(rng, made, 7, 14)
    table = report_table(rng, [f"{i + 1:06d}" for i in at], [month(made[i]) for i in at])
    return Form(table, "odds", 0.0)


def survivors(rng):
    """How many survive: machines met at random over thirty years."""
    left = rng.choice(40_000, int(rng.integers(30, 90)), replace=False) + 1
    met = rng.choice(left, int(rng.integers(40, 80)))
    sighted = [f"{rng.integers(1990, 2021)}" for _ in met]
    table = report_table(rng, [str(n) for n in met], [""] * len(met), sighted)
    return Form(table, "survivors", len(left))


FORMS = {
    one.__name__: one
    for one in (
        counted,
        dated,
        few_dated,
        anchored,
        year_struck,
        theories,
        theories_padded,
        survivors,
    )
}


def answered(form, table=None):
    """The answer to a form, as page and command tell it; None where it is refused."""
    table = table or form.table
    analysis = ANALYSES[form.asks]
    given = {"of": form.of} if form.of else {}
    try:
        if form.reports is not None:
            given["anchors"] = table.text
        reports = Reports.from_table(read_reports((form.reports or table).text))
        asked = asked_from(analysis.asked, given)
        return told(analysis, asked, analysis.work(reports, asked, Steps()))
    except IronlaceError:
        return None


def span_of(answer):
    """Ends of a date in years and their parts; None for an open one."""
    ends = answer.results[0].interval if answer.results else None
    low, high = (answer.figures.get("low"), answer.figures.get("high"))
    if ends is not None:
        low, high = ends.low, ends.high
    return [None if d is None else int(d[:4]) + (int(d[5:7]) - 1) / 12 for d in (low, high)]


def is_wrong(form, answer, sound):
    """Whether an answer no longer holds what the sound one held."""
    if form.asks == "odds":
        one, was = answer.results, sound.results
        return one[0].value != was[0].value and one[1].value > 0.9
    return holds(form, sound) and not holds(form, answer)


def holds(form, answer):
    if form.asks == "date":
        low, high = span_of(answer)
        return (low is None or low <= form.truth) and (high is None or form.truth <= high + 1 / 12)
    ends = answer.results[0].interval
    if form.asks == "survivors":
        return ends.low <= form.truth
    return ends.low <= form.truth and (ends.high is None or form.truth <= ends.high)


def grade_of(answer):
    return str(answer.results[0].grade) if answer.results else str(answer.figures.get("grade"))


def is_told(spoilt: SpoiltTable, answer, sound):
    """Whether the first sentences name what is wrong, as the sound table's do not."""
    before = " ".join(sound.sentences[:FIRST])
    said = [s for s in answer.sentences[:FIRST] if s not in before]
    if spoilt.names and any("set aside" in s or "not read" in s for s in said):
        return True
    return any(_named(name, s) for name in spoilt.names for s in said[1:] or said)


def _named(name, sentence):
    at = sentence.find(name)
    while at >= 0:
        ends = sentence[at - 1 : at] + sentence[at + len(name) : at + len(name) + 1]
        if not any(c.isalnum() for c in ends):
            return True
        at = sentence.find(name, at + 1)
    return False


STANDING = "Nothing more is needed"
"""How a sentence begins that every settled comparison has, and that doubts no table."""
WARNS = ("Look again", "set aside", "not read", "does not fit", "do not fit", "look again", "is it")


@dataclass
class Count:
    """Of one analysis and failing: tried, refused, wrong, untold, and untold though inferred."""

    tried: int = 0
    refused: int = 0
    wrong: int = 0
    untold: int = 0
    firm: int = 0
    example: str = ""


def judge(count, form, spoilt, sound):
    """Add one spoilt table to a count."""
    count.tried += 1
    answer = answered(form, spoilt.table)
    if answer is None:
        count.refused += 1
        return
    if not is_wrong(form, answer, sound):
        return
    count.wrong += 1
    lower = grade_of(answer) == "conjectured" and grade_of(sound) != "conjectured"
    if lower or is_told(spoilt, answer, sound):
        return
    count.untold += 1
    count.firm += grade_of(answer) != "conjectured"
    count.example = f"{spoilt.how or spoilt.names[:2]} | {' '.join(answer.sentences[:FIRST])}"


def tried(key, asked, names):
    """Sound tables; how many are warned of; counts by failing."""
    rng = np.random.default_rng([asked.seed, *key.encode()])
    sounds, warned = [], 0
    for n in range(max(asked.sound, asked.forms)):
        form = FORMS[key](rng)
        answer = answered(form)
        first = answer.sentences[:FIRST] if answer else ("refused: set aside",)
        first = [s for s in first if not s.startswith(STANDING)]
        warned += any(word in s for s in first for word in WARNS)
        if answer is not None and n < asked.forms:
            sounds.append((form, answer))
    counts = defaultdict(Count)
    for name in names:
        draw = np.random.default_rng([asked.seed, *key.encode(), *name.encode()])
        for form, answer in sounds:
            for _ in range(asked.draws):
                spoilt = FAILINGS[name](draw, form.table)
                if spoilt is not None and spoilt.table != form.table:
                    judge(counts[name], form, spoilt, answer)
    return max(asked.sound, asked.forms), warned, counts


def main():
    asked = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    asked.add_argument("--analyses", default=",".join(FORMS))
    asked.add_argument("--failings", default="")
    asked.add_argument("--forms", type=int, default=3)
    asked.add_argument("--draws", type=int, default=2)
    asked.add_argument("--sound", type=int, default=10)
    asked.add_argument("--seed", type=int, default=1)
    asked.add_argument("--held-back", action="store_true", help="those failings alone")
    asked.add_argument("--say", action="store_true")
    asked = asked.parse_args()
    names = [one for one in asked.failings.split(",") if one] or [
        one for one in FAILINGS if (one in HELD_BACK) == asked.held_back
    ]
    whole, by = Count(), defaultdict(Count)
    for key in asked.analyses.split(","):
        began = time.process_time()
        forms, warned, counts = tried(key, asked, names)
        here = Count()
        for name, count in counts.items():
            for into in (whole, here, by[name]):
                for one in ("tried", "refused", "wrong", "untold", "firm"):
                    setattr(into, one, getattr(into, one) + getattr(count, one))
            if asked.say and count.example:
                print(f"    {name}: {count.untold} of {count.tried}: {count.example[:600]}")
        print(f"{key:16} sound warned {warned} of {forms}; {_line(here)}; "
              f"{time.process_time() - began:.0f} s", flush=True)  # fmt: skip
    for name, count in by.items():
        print(f"    {name:28} {_line(count)}")
    print(f"all: {_line(whole)}")


def _line(count):
    return (
        f"spoilt {count.tried}, refused {count.refused}, wrong {count.wrong}, UNTOLD "
        f"{count.untold} ({count.firm} inferred)"
    )


if __name__ == "__main__":
    main()

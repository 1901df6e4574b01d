"""Surveys as strangers' habits leave them, put to the public analyses: who is wrong, and says so?

    python bench/surveys_by_strangers.py --families about,patent --cases 10 --seed 1

Works, readers, dealers and lists are made here and share nothing with the survey nor with the
truth makers of the tests. `LOOKED_AT` were mended on; `HELD_BACK` were written with them, and run
before and after without being looked into. For each family: how often what is told holds the truth
(the interval, or the floor where only a floor is told), how often it is graded *inferred* and
wrong (the worst), how often `conjectured`, and how wide the dates are.
"""

import argparse
import sys
from dataclasses import dataclass
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

from ironlace.evidence.analyses import asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.progress import Steps
from ironlace.survey import COMPARE, COUNT, DATE, SURVIVORS, Reports, read_reports

COLUMNS = "id,mark,seen,sighted,variant,place,reporter,machine,dated,dated_kind,evidence"


@dataclass(frozen=True)
class Case:
    """A table, what is asked of it, and the truth: a month (years and parts) or a number."""

    rows: tuple[dict[str, str], ...]
    asks: str
    truth: float
    of: str = ""

    @property
    def text(self):
        names = COLUMNS.split(",")
        lines = [",".join(f'"{row.get(n, "")}"' for n in names) for row in self.rows]
        return "\n".join([COLUMNS, *lines]) + "\n"


def history(rng, total=None):
    """When each number of one works was made: years and parts, rising, shape (total,)."""
    total = total or int(np.exp(rng.uniform(np.log(2_000), np.log(60_000))))
    years = rng.uniform(8, 25)
    t = np.linspace(0, 1, 400)
    kind = rng.integers(4)
    rate = np.ones(400)
    if kind == 1:
        rate = np.exp(rng.uniform(0.5, 2.5) * t)
    elif kind == 2:
        rate = np.exp(np.cumsum(rng.normal(0, 0.08, 400)))
    elif kind == 3:
        rate = np.exp(-(((t - rng.uniform(0.3, 0.7)) / 0.3) ** 2)) + 0.1
    upto = np.concatenate([[0], np.cumsum(rate)])
    place = np.interp(np.linspace(0, upto[-1], total), upto, np.linspace(0, 1, 401))
    return rng.uniform(1866, 1900 - years / 2) + years * place


def month(when):
    return f"{int(when)}-{int(when % 1 * 12) + 1:02d}"


def misread(number, rng, rate=0.02):
    """A number as it is passed on, each figure by itself."""
    alike = {"0": "68", "1": "7", "2": "7", "3": "8", "4": "1", "5": "6", "6": "5", "7": "1"}
    alike |= {"8": "3", "9": "4"}
    out = ""
    for struck in str(number):
        c = struck
        if rng.random() < rate:
            c = str(rng.choice(list(alike[c] if rng.random() < 0.7 else "0123456789")))
        out += c
    return int(out)


def rows_of(marks, dates=None, kind="at", evidence="", **more):
    dates = dates or [""] * len(marks)
    return tuple(
        {"id": f"r{i}", "mark": str(m), "dated": d, "dated_kind": kind if d else "",
         "evidence": evidence if d else "", **{k: v[i - 1] for k, v in more.items()}}
        for i, (m, d) in enumerate(zip(marks, dates, strict=True), 1)
    )  # fmt: skip


def dated_case(rng, told, kind="at", evidence="", *, made=None, count=None, mark=str):
    """Some of the numbers with what `told` makes of their dates; another one's date is asked."""
    made = history(rng) if made is None else made
    count = count or int(rng.integers(6, 14))
    at = np.sort(rng.choice(len(made), count, replace=False))
    marks, dates = [mark(i + 1) for i in at], [told(made[i]) for i in at]
    inside = int(rng.integers(at[0] + 1, at[-1]))
    while inside in at:
        inside = int(rng.integers(at[0] + 1, at[-1]))
    return Case(rows_of(marks, dates, kind, evidence), "date", made[inside], mark(inside + 1))


# ---- dates


def plain(rng):
    """Months of making, as an inspection slip has them: the yardstick."""
    return dated_case(rng, month)


def about(rng):
    """Years by memory, off by some two and a half, and said to be 'about'."""
    return dated_case(rng, lambda t: f"about {int(t + rng.normal(0, 2.5))}")


def about_fives(rng):
    """Years by memory, rounded to fives and tens, and said to be 'about'."""
    return dated_case(rng, lambda t: f"c. {5 * round((t + rng.normal(0, 2.0)) / 5)}")


def uncertain(rng):
    """Years with a query; a third of them are another machine's or a guess."""
    return dated_case(
        rng,
        lambda t: f"{int(t if rng.random() < 0.67 else t + rng.normal(0, 7))}?",
    )


def a_day(made, rng):
    """A day in the years before the first machine."""
    year = int(made[0]) - int(rng.integers(0, 4))
    return f"{year}-{rng.integers(1, 13):02d}-{rng.integers(1, 28):02d}"


def patent(rng):
    """One day cast in every bed, given as the date of the machine."""
    made = history(rng)
    day = a_day(made, rng)
    return dated_case(rng, lambda _: day, evidence="date on the plate", made=made)


def patent_some(rng):
    """The same with half of the machines; the others have their month."""
    made = history(rng)
    day = a_day(made, rng)
    return dated_case(
        rng, lambda t: day if rng.random() < 0.5 else month(t), evidence="date", made=made
    )


def patent_year(rng):
    """One year cast in every bed, given as the year of the machine."""
    made = history(rng)
    year = a_day(made, rng)[:4]
    what = str(rng.choice(["", "on the bed", "date", "cast in the base"]))
    return dated_case(rng, lambda _: year, evidence=what, made=made)


def second_hand(rng):
    """Receipts, three in ten of them of a later sale."""

    def told(t):
        late = rng.uniform(3, 18) if rng.random() < 0.3 else rng.lognormal(np.log(0.4), 0.8)
        return month(t + late)

    return dated_case(rng, told, "sold", "receipt")


def in_stock(rng):
    """Receipts of an agent who sold all two to five years after they were made."""
    years = rng.uniform(2, 5)
    return dated_case(rng, lambda t: month(t + years * rng.uniform(0.8, 1.2)), "sold", "receipt")


def letters(rng):
    """A letter for each lot of so many, in each of which the numbers begin again."""
    made = history(rng, int(rng.integers(4_000, 9_000)))
    lot = 1000

    def mark(n):
        return f"{'ABCDEFGHIK'[(n - 1) // lot]}{(n - 1) % lot + 1}"

    return dated_case(rng, month, made=made, mark=mark, count=int(rng.integers(8, 16)))


def allotted(rng):
    """Blocks of numbers allotted to three models that were made side by side."""
    parts = [history(rng, 4_000) for _ in range(3)]
    begin = rng.uniform(1870, 1885)
    parts = [begin + rng.uniform(0, 4) + (p - p[0]) for p in parts]
    return dated_case(rng, month, made=np.concatenate(parts), count=int(rng.integers(9, 16)))


def from_a_list(rng):
    """Years out of a list that spreads the numbers evenly over the time, given as dates."""
    made = history(rng)
    where = {t: i for i, t in enumerate(made.tolist())}

    def told(t):
        return f"{int(made[0] + (made[-1] - made[0]) * where[t] / len(made))}"

    return dated_case(rng, told, evidence="dating list", made=made)


def yearly_without_year(rng):
    """Numbers that begin again each year, with nothing to tell the year."""
    made = history(rng, int(rng.integers(4_000, 12_000)))
    first = {}
    numbers = []
    for i, t in enumerate(made.tolist()):
        numbers.append(i - first.setdefault(int(t), i) + 1)
    return dated_case(rng, month, made=made, mark=lambda n: str(numbers[n - 1]))


def falling(rng):
    """Numbers that fall with time."""
    made = history(rng)[::-1]
    return dated_case(rng, month, made=made)


def code_before(rng):
    """From some day on a figure before the number: 9,999, then 20,001."""
    made = history(rng, int(rng.integers(3_000, 9_000)))
    cut = int(len(made) * rng.uniform(0.3, 0.7))
    return dated_case(
        rng, month, made=made, mark=lambda n: str(n) if n <= cut else f"2{n - cut:04d}"
    )


def another_makers(rng):
    """Three in ten of the reports are of another works, with other numbers and dates."""
    one, other = history(rng), history(rng)
    count = int(rng.integers(8, 16))
    rows = []
    for _ in range(count):
        made = other if rng.random() < 0.3 else one
        n = int(rng.integers(len(made)))
        rows.append((str(n + 1), month(made[n])))
    ask = int(rng.integers(len(one) // 10, 9 * len(one) // 10))
    return Case(rows_of(*map(list, zip(*rows, strict=True))), "date", one[ask], str(ask + 1))


def stood_still(rng):
    """The works stood still for one and a half to five years, and the numbers went on."""
    made = history(rng)
    cut = int(len(made) * rng.uniform(0.2, 0.8))
    made[cut:] += rng.uniform(1.5, 5)
    return dated_case(rng, month, made=made)


def finished_later(rng):
    """Numbers struck when the bed was cast; machines finished up to four years later, as wanted."""
    made = history(rng)
    return dated_case(rng, month, made=made + rng.gamma(1.5, rng.uniform(0.3, 1.2), len(made)))


def rolled_over(rng):
    """After 9,999 the numbers begin again at 1, and nothing tells it."""
    made = history(rng, int(rng.integers(12_000, 25_000)))
    return dated_case(rng, month, made=made, mark=lambda n: str((n - 1) % 9_999 + 1))


def a_decade_wrong(rng):
    """Fifteen in a hundred are written down a decade early or late."""

    def told(t):
        return month(t + (rng.choice([-10, 10]) if rng.random() < 0.15 else 0))

    return dated_case(rng, told)


def nearly_all_in_a_burst(rng):
    """Nine in ten were made within a year for one order; the rest before and after."""
    total = int(rng.integers(3_000, 20_000))
    begin = rng.uniform(1868, 1885)
    slow = rng.uniform(begin, begin + rng.uniform(10, 18), total // 10)
    order = begin + rng.uniform(2, 8)
    return dated_case(
        rng, month, made=np.sort(np.r_[slow, rng.uniform(order, order + 1, total - len(slow))])
    )


def outside_of_dates(rng):
    """The number asked for is above or below all that are dated, up to twice as far."""
    made = history(rng)
    n = len(made)
    low, high = sorted(rng.uniform(0.15, 0.85, 2))
    at = np.sort(rng.integers(int(low * n), int(high * n) + 20, int(rng.integers(3, 12))))
    at = np.unique(np.clip(at, 0, n - 1))
    other = [i for i in rng.integers(0, n, 400) if i < at[0] or i > at[-1]]
    ask = int(other[0]) if other else n - 1
    rows = rows_of([str(i + 1) for i in at], [month(made[i]) for i in at])
    return Case(rows, "date", made[ask], str(ask + 1))


def two_dated(rng):
    """Two machines are dated, four more are not."""
    made = history(rng)
    at = np.sort(rng.choice(len(made), 6, replace=False))
    known = set(rng.choice(6, 2, replace=False).tolist())
    dates = [month(made[i]) if k in known else "" for k, i in enumerate(at)]
    ask = int(rng.integers(len(made)))
    return Case(rows_of([str(i + 1) for i in at], dates), "date", made[ask], str(ask + 1))


def models_year(rng, dated):
    """A year struck before the number is the model's, for six to fifteen years on."""
    made = history(rng)
    model, at = {}, made[0]
    while at < made[-1]:
        model[at] = int(at) % 100
        at += rng.uniform(6, 15)
    starts = np.array(sorted(model))

    def mark(n):
        return f"{model[starts[np.searchsorted(starts, made[n - 1], 'right') - 1]]:02d}.{n:04d}"

    order = rng.choice(len(made), 9, replace=False)
    marks = [mark(int(i) + 1) for i in order]
    dates = [month(made[i]) if k < dated else "" for k, i in enumerate(order)]
    ask = int(rng.integers(len(made)))
    return Case(rows_of(marks, dates), "date", made[ask], mark(ask + 1))


def year_struck(rng, count, dated, kind="at"):
    """The year of making struck before a number that runs on."""
    made = history(rng)

    def mark(n):
        return f"{int(made[n - 1]) % 100:02d}.{n:04d}"

    order = rng.choice(len(made), count, replace=False)
    late = rng.lognormal(np.log(0.4), 0.8, count) if kind == "sold" else np.zeros(count)
    dates = [month(made[i] + late[k]) if k < dated else "" for k, i in enumerate(order)]
    ask = int(rng.integers(len(made)))
    marks = [mark(int(i) + 1) for i in order]
    return Case(rows_of(marks, dates, kind), "date", made[ask], mark(ask + 1))


def years_struck(rng):
    """Nine marks with the year of making in front, none dated."""
    return year_struck(rng, 9, 0)


def years_struck_on_five(rng):
    """Five marks with the year of making in front, none dated."""
    return year_struck(rng, 5, 0)


def years_struck_and_dated(rng):
    """Seven marks with the year of making in front, two dated."""
    return year_struck(rng, 7, 2)


def years_struck_and_sold(rng):
    """Seven marks with the year of making in front, three with a receipt."""
    return year_struck(rng, 7, 3, "sold")


def models_year_undated(rng):
    """The same; no machine is dated."""
    return models_year(rng, 0)


def models_year_dated(rng):
    """The same; three of nine are dated."""
    return models_year(rng, 3)


# ---- how many were made


def unevenly_kept(rng, sign):
    """The last or the first is five to fifty times less likely to be reported."""
    made = history(rng)
    weight = np.exp(sign * rng.uniform(1.6, 4) * np.linspace(0, 1, len(made)))
    count = int(rng.integers(12, 40))
    at = np.sort(rng.choice(len(made), count, replace=False, p=weight / weight.sum()))
    dates = [month(made[i]) if rng.random() < 0.8 else "" for i in at]
    return Case(rows_of([str(i + 1) for i in at], dates), "count", len(made))


def early_ones_kept(rng):
    """Early ones are wanted: the last is five to fifty times less likely to be reported."""
    return unevenly_kept(rng, -1)


def late_ones_kept(rng):
    """Early ones were worn out: the first is five to fifty times less likely to be reported."""
    return unevenly_kept(rng, 1)


def few_owners(rng):
    """Four to seven owners report what they keep, each from a lot of near numbers."""
    made = history(rng)
    at = set()
    for _ in range(int(rng.integers(4, 8))):
        low, many = int(rng.integers(len(made))), int(rng.integers(2, 7))
        at |= set(np.clip(low + rng.integers(0, 60, many), 0, len(made) - 1).tolist())
    at = sorted(at)
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def rolled_over_counted(rng):
    """After 9,999 the numbers begin again at 1, and nothing tells it; how many."""
    made = history(rng, int(rng.integers(12_000, 25_000)))
    at = np.sort(rng.choice(len(made), int(rng.integers(12, 30)), replace=False))
    marks = [str(i % 9_999 + 1) for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


def seen_of(rng, made, count, *, read=misread, dated=0.0):
    """Numbers of an even survival as they are passed on; some with the month."""
    at = np.sort(rng.choice(len(made), count, replace=False))
    numbers = [read(int(i) + 1, rng) for i in at]
    dates = [month(made[i]) if rng.random() < dated else "" for i in at]
    return rows_of(numbers, dates)


def hundreds(rng):
    """100 to 1,000 reports with two figures in a hundred misread."""
    made = history(rng)
    count = int(np.exp(rng.uniform(np.log(100), np.log(1000))))
    return Case(seen_of(rng, made, min(count, len(made) // 3)), "count", len(made))


def hundreds_dated(rng):
    """The same, three in five with the month."""
    made = history(rng)
    count = int(np.exp(rng.uniform(np.log(60), np.log(400))))
    return Case(seen_of(rng, made, min(count, len(made) // 3), dated=0.6), "count", len(made))


def few_dated(rng):
    """Ten to thirty, four in five with the month: the yardstick of two-sided totals."""
    made = history(rng)
    return Case(seen_of(rng, made, int(rng.integers(10, 31)), dated=0.8), "count", len(made))


def rounded(rng):
    """Numbers passed on rounded to tens or hundreds, most with the month."""
    to = int(rng.choice([10, 100]))
    made = history(rng)
    read = lambda n, _: max(to, round(n / to) * to)  # noqa: E731
    return Case(seen_of(rng, made, 20, read=read, dated=0.8), "count", len(made))


def some_rounded(rng):
    """The same where half of the readers round."""
    made = history(rng)
    read = lambda n, rng: max(100, round(n / 100) * 100) if rng.random() < 0.5 else n  # noqa: E731
    return Case(seen_of(rng, made, 24, read=read, dated=0.8), "count", len(made))


def some_rounded_otherwise(rng):
    """A fifth to four fifths cut their number down, to tens, fifties, hundreds or thousands."""
    share, made = rng.uniform(0.2, 0.8), history(rng)
    to = int(rng.choice([10, 50, 100, 1000], p=[0.4, 0.2, 0.3, 0.1]))
    read = lambda n, rng: max(to, n // to * to) if rng.random() < share else misread(n, rng)  # noqa: E731
    return Case(
        seen_of(rng, made, int(rng.integers(12, 40)), read=read, dated=0.8), "count", len(made)
    )


def begins_at_10001(rng):
    """The first number is 10,001; most with the month."""
    made = history(rng)
    read = lambda n, _: n + 10_000  # noqa: E731
    return Case(
        seen_of(rng, made, int(rng.integers(10, 31)), read=read, dated=0.8), "count", len(made)
    )


def shared_goods(rng):
    """One series for machines and other goods: one number in three is a machine's."""
    made = history(rng)
    ours = np.sort(rng.choice(len(made), len(made) // 3, replace=False))
    at = rng.choice(ours, int(rng.integers(12, 30)), replace=False)
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(ours))


def allotted_in_part(rng):
    """Blocks of 5,000 to each of three or four models, made side by side, each used in part."""
    numbers, when, total = [], [], 0
    for k in range(int(rng.integers(3, 5))):
        part = history(rng, int(rng.integers(800, 5_000)))
        total += len(part)
        at = rng.choice(len(part), int(rng.integers(3, 9)), replace=False)
        numbers += [5_000 * k + int(i) + 1 for i in at]
        when += [month(part[i]) for i in at]
    return Case(rows_of(numbers, when), "count", total)


def letters_counted(rng):
    """Letters of 1,000 numbers each; how many were made."""
    made = history(rng, int(rng.integers(4_000, 9_000)))
    at = rng.choice(len(made), int(rng.integers(10, 30)), replace=False)
    marks = [f"{'ABCDEFGHIK'[i // 1000]}{i % 1000 + 1}" for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


def code_before_counted(rng):
    """From some day on a figure before the number: 9,999, then 20,001; how many."""
    made = history(rng, int(rng.integers(3_000, 9_000)))
    cut = int(len(made) * rng.uniform(0.3, 0.7))
    read = lambda n, _: n if n <= cut else 20_000 + n - cut  # noqa: E731
    return Case(
        seen_of(rng, made, int(rng.integers(12, 30)), read=read, dated=0.9), "count", len(made)
    )


def mixed_makers(rng):
    """Three in ten are of another works with a longer series."""
    one, other = history(rng, int(rng.integers(1_000, 6_000))), history(rng, 40_000)
    rows = [int(rng.integers(len(one))) + 1 for _ in range(14)]
    rows += [int(rng.integers(len(other))) + 1 for _ in range(6)]
    return Case(rows_of(rows), "count", len(one))


def one_cargo(rng):
    """Eight in ten come from one narrow range that went to one country."""
    made = history(rng)
    low = int(rng.uniform(0, 0.9) * len(made))
    near = low + rng.choice(len(made) // 20, 16, replace=False)
    far = rng.choice(len(made), 4, replace=False)
    return Case(rows_of([int(i) + 1 for i in (*near, *far)]), "count", len(made))


def one_to_three(rng):
    """One, two or three reports, each with its month."""
    made = history(rng)
    return Case(seen_of(rng, made, int(rng.integers(1, 4)), dated=1.0), "count", len(made))


# ---- survivors


def seen_rows(seen):
    """Sightings: a list of (number, year)."""
    return tuple(
        {"id": f"s{i}", "mark": str(n), "sighted": str(y), "seen": "listing"}
        for i, (n, y) in enumerate(seen, 1)
    )


def kept_for_good(rng):
    """A machine that is sold once goes into a collection and is not offered again."""
    left = rng.choice(30_000, int(rng.integers(60, 200)), replace=False) + 1
    gone = rng.choice(left, int(len(left) * rng.uniform(0.3, 0.7)), replace=False)
    seen = [(int(n), int(rng.integers(2004, 2024))) for n in gone]
    again = [(n, y + 1) for n, y in seen if rng.random() < 0.03]
    return Case(seen_rows([*seen, *again]), "survivors", len(left))


def misread_again(rng):
    """Each as likely to be met; figures are misread at each sighting, 2 in 100."""
    left = rng.choice(30_000, int(rng.integers(30, 120)), replace=False) + 1
    met = rng.choice(left, int(len(left) * rng.uniform(0.8, 2.0)))
    seen = [(misread(int(n), rng), int(rng.integers(2004, 2024))) for n in met]
    return Case(seen_rows(seen), "survivors", len(left))


def relisted(rng):
    """Dealers list the same machine three times and more within a year."""
    left = rng.choice(30_000, int(rng.integers(60, 300)), replace=False) + 1
    met = rng.choice(left, len(left) // 4, replace=False)
    seen = [(int(n), y) for n in met for y in [2010 + int(rng.integers(10))] * rng.geometric(0.6)]
    return Case(seen_rows(seen), "survivors", len(left))


def lists_of_lists(rng):
    """A list copied from lists: each machine stands in one to four, with slips of copying."""
    left = rng.choice(30_000, int(rng.integers(40, 150)), replace=False) + 1
    known = rng.choice(left, int(0.6 * len(left)), replace=False)
    seen = [
        (misread(int(n), rng, 0.015), 2000 + k) for n in known for k in range(rng.integers(1, 5))
    ]
    return Case(seen_rows(seen), "survivors", len(left))


def models_year_counted(rng):
    """A year struck before the number is the model's; two thirds dated; how many."""
    made = history(rng)
    starts, at = [], made[0]
    while at < made[-1]:
        starts.append(at)
        at += rng.uniform(6, 15)
    seen = np.sort(rng.choice(len(made), int(rng.integers(10, 24)), replace=False))
    begun = np.array(starts)[np.searchsorted(starts, made[seen], "right") - 1]
    marks = [f"{int(b) % 100:02d}.{i + 1:04d}" for b, i in zip(begun, seen.tolist(), strict=True)]
    dates = [month(made[i]) if rng.random() < 0.67 else "" for i in seen]
    return Case(rows_of(marks, dates), "count", len(made))


def models_begin_again_counted(rng):
    """A model's year and a number that begins again with each model; two thirds dated."""
    made = history(rng)
    starts, at = [], made[0]
    while at < made[-1]:
        starts.append(at)
        at += rng.uniform(4, 12)
    which = np.searchsorted(starts, made, "right") - 1
    first = np.searchsorted(which, np.arange(len(starts)))
    seen = np.sort(rng.choice(len(made), int(rng.integers(10, 24)), replace=False))
    marks = [
        f"{int(starts[which[i]]) % 100:02d}.{i - first[which[i]] + 1:04d}" for i in seen.tolist()
    ]
    dates = [month(made[i]) if rng.random() < 0.67 else "" for i in seen]
    return Case(rows_of(marks, dates), "count", len(made))


def years_begin_again_counted(rng):
    """The year of making and a number that begins again each year; two thirds dated."""
    made = history(rng)
    year = made.astype(int)
    first = {int(y): int(np.searchsorted(year, y)) for y in np.unique(year)}
    seen = np.sort(rng.choice(len(made), int(rng.integers(10, 24)), replace=False))
    marks = [f"{year[i] % 100:02d}.{i - first[int(year[i])] + 1:04d}" for i in seen.tolist()]
    dates = [month(made[i]) if rng.random() < 0.67 else "" for i in seen]
    return Case(rows_of(marks, dates), "count", len(made))


def wary_and_tame(rng):
    """Some are met again and again, most hardly ever: a lognormal chance for each."""
    left = rng.choice(30_000, int(rng.integers(60, 400)), replace=False) + 1
    chance = rng.lognormal(0, 1.3, len(left))
    met = rng.choice(left, int(len(left) * rng.uniform(0.3, 1.2)), p=chance / chance.sum())
    seen = [(int(n), int(rng.integers(2004, 2024))) for n in met]
    return Case(seen_rows(seen), "survivors", len(left))


def two_countries(rng):
    """Two countries, each with its own lists; one is searched ten times as closely."""
    left = rng.choice(30_000, int(rng.integers(80, 400)), replace=False) + 1
    here, there = np.split(left, [len(left) // 3])
    met = [*rng.choice(here, 2 * len(here)), *rng.choice(there, max(3, len(there) // 5))]
    seen = [(int(n), int(rng.integers(2004, 2024))) for n in met]
    return Case(seen_rows(seen), "survivors", len(left))


LOOKED_AT = (
    plain, about, about_fives, patent, second_hand, letters, allotted, few_dated, hundreds,
    hundreds_dated, rounded, begins_at_10001, shared_goods, one_cargo, one_to_three, kept_for_good,
    misread_again, in_stock, from_a_list, patent_year,
)  # fmt: skip
HELD_BACK = (
    uncertain, patent_some, yearly_without_year, falling, code_before,
    another_makers, some_rounded, some_rounded_otherwise, allotted_in_part, letters_counted,
    code_before_counted, mixed_makers, relisted, lists_of_lists,
    stood_still, finished_later, rolled_over, a_decade_wrong, nearly_all_in_a_burst,
    outside_of_dates, two_dated, models_year_undated, models_year_dated, early_ones_kept,
    late_ones_kept, few_owners, rolled_over_counted, wary_and_tame, two_countries,
    years_struck, years_struck_on_five, years_struck_and_dated, years_struck_and_sold,
    models_year_counted, models_begin_again_counted, years_begin_again_counted,
)  # fmt: skip
ANALYSES = {"date": DATE, "count": COUNT, "survivors": SURVIVORS, "odds": COMPARE}


def put(case):
    """The answer as a person gets it."""
    analysis = ANALYSES[case.asks]
    reports = Reports.from_table(read_reports(case.text))
    given = {"of": case.of} if case.of else {}
    return analysis.answer(
        analysis.work(reports, asked_from(analysis.asked, given), Steps())
    ).as_dict()


def judged(case, told):
    """Held or not, graded inferred or not, width (years, or high over low; None for a floor)."""
    first = told["results"][0] if isinstance(told["results"], list) else None
    interval, grade = first["interval"], first["grade"]
    if case.asks == "date":
        low, high = told["low"], told["high"]
        low, high = (int(x[:4]) + (int(x[5:7]) - 1) / 12 for x in (low, high))
        return low <= case.truth <= high + 1 / 12, grade, high + 1 / 12 - low
    low, high = interval["low"], interval["high"]
    if case.asks == "survivors":
        # what is said is the floor
        return low <= case.truth, grade, None
    held = low <= case.truth and (high is None or case.truth <= high)
    return held, grade, None if high is None else high / low


def main():
    known = {f.__name__: f for f in (*LOOKED_AT, *HELD_BACK)}
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--families", default=",".join(known))
    parser.add_argument("--cases", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--say", action="store_true", help="print the first sentences of each")
    args = parser.parse_args()
    for name in args.families.split(","):
        family = known[name]
        rng = np.random.default_rng([args.seed, *name.encode()])
        held, sure, wrong, bounded, widths, refused = [], 0, 0, 0, [], 0
        for i in range(args.cases):
            case = family(rng)
            try:
                told = put(case)
            except IronlaceError as error:
                refused += 1
                if args.say:
                    print("   ", error)
                continue
            ok, grade, width = judged(case, told)
            held.append(ok)
            sure += grade == "inferred"
            wrong += grade == "inferred" and not ok
            bounded += width is not None
            widths += [width] if width is not None else []
            if args.say:
                print(
                    f"  {i} truth {case.truth:.2f} held {ok} {grade} {told['results'][0]['name']}"
                )
                for sentence in told["sentences"][:6]:
                    print("      ", sentence[:300])
        seen = "looked at" if family in LOOKED_AT else "held back"
        print(
            f"{name:22s} ({seen}) {len(held):3d}: held {np.mean(held or [np.nan]):.2f}, inferred "
            f"{sure}, of these wrong {wrong}; two-sided {bounded}, median width "
            f"{np.median(widths or [np.nan]):.1f}; refused {refused}",
            flush=True,
        )


if __name__ == "__main__":
    main()

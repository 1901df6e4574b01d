"""Surveys as nobody has tried them, put to the public analyses: who is wrong and not told?

    python bench/surveys_never_thought_of.py --families one_decade_off,one_museum

As `surveys_by_strangers.py`, whose works and readers are used, and counted further: *untold* is an
answer graded *inferred* whose interval misses (or a theory over 0.9 that is wrong) where none of
the first three sentences names this doubt. `KEPT_BACK` are not looked into while mending.
"""

import argparse
import re
import sys
from pathlib import Path

import numpy as np
from surveys_by_strangers import (
    HELD_BACK,
    LOOKED_AT,
    Case,
    dated_case,
    history,
    judged,
    misread,
    month,
    put,
    rows_of,
    seen_rows,
)

sys.path.insert(0, str(Path(__file__).parents[1] / "src"))

from ironlace.evidence.errors import IronlaceError


def drawn(rng, made, count):
    """So many of the machines, in the order of their making: places from 0."""
    return np.sort(rng.choice(len(made), min(count, len(made)), replace=False)).tolist()


def asked_between(rng, made, at):
    """A place between the first and the last of those seen that is none of them."""
    while (inside := int(rng.integers(at[0] + 1, at[-1]))) in at:
        pass
    return Case((), "date", made[inside], str(inside + 1))


def with_rows(case, rows):
    return Case(rows, case.asks, case.truth, case.of)


# ---- one date alone that does not fit


def spoilt(rng, count, how, evidence="", spoilt_one=None):
    """Months of making of `count` machines, of which one is made what `how` says."""
    made = history(rng)
    at = drawn(rng, made, count)
    one = int(rng.integers(count)) if spoilt_one is None else spoilt_one % count
    dates = [how(made, i) if k == one else month(made[i]) for k, i in enumerate(at)]
    rows = rows_of([str(i + 1) for i in at], dates, evidence=evidence)
    return with_rows(asked_between(rng, made, at), rows)


def one_decade_off(rng):
    """Three to eight dates, one typed a decade early or late."""
    return spoilt(rng, int(rng.integers(3, 9)), lambda m, i: month(m[i] + rng.choice([-10, 10])))


def one_guess_early(rng):
    """Three to eight dates, one a dealer's guess of a year, five to fifteen years early."""
    return spoilt(rng, int(rng.integers(3, 9)), lambda m, i: str(int(m[i] - rng.uniform(5, 15))))


def one_patent(rng):
    """Three to eight dates, one the day of the patent: before the first machine."""

    def day(made, _):
        return f"{int(made[0]) - int(rng.integers(0, 5))}-03-{rng.integers(1, 28):02d}"

    return spoilt(rng, int(rng.integers(3, 9)), day, "on the plate")


def one_later_head(rng):
    """Three to eight dates, one of a later head on an older base: five to fifteen years late."""
    return spoilt(rng, int(rng.integers(3, 9)), lambda m, i: month(m[i] + rng.uniform(5, 15)))


def one_guess_of_many(rng):
    """Nine to twenty dates, one of them a guess four to twelve years off either way."""

    def guess(made, i):
        return str(int(made[i] + rng.choice([-1, 1]) * rng.uniform(4, 12)))

    return spoilt(rng, int(rng.integers(9, 21)), guess)


def one_of_two_wrong(rng):
    """Two dated and four undated machines; one of the dates is four to fifteen years off."""
    made = history(rng)
    at = drawn(rng, made, 6)
    known = sorted(rng.choice(6, 2, replace=False).tolist())
    off = int(rng.choice(known))
    dates = [
        "" if k not in known
        else month(made[i] + (rng.choice([-1, 1]) * rng.uniform(4, 15) if k == off else 0))
        for k, i in enumerate(at)
    ]  # fmt: skip
    rows = rows_of([str(i + 1) for i in at], dates)
    return with_rows(asked_between(rng, made, at), rows)


def its_own_date_wrong(rng):
    """The machine asked for came with the only date, five to fifteen years off."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(2, 7)))
    one = int(rng.integers(len(at)))
    late = made[at[one]] + rng.choice([-1, 1]) * rng.uniform(5, 15)
    dates = [month(late) if k == one else "" for k in range(len(at))]
    rows = rows_of([str(i + 1) for i in at], dates)
    return Case(rows, "date", made[at[one]], str(at[one] + 1))


def its_own_among_others_wrong(rng):
    """The machine asked for came with a date five to fifteen years off; others with good ones."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(4, 9)))
    one = int(rng.integers(len(at)))
    off = rng.choice([-1, 1]) * rng.uniform(5, 15)
    dates = [month(made[i] + (off if k == one else 0)) for k, i in enumerate(at)]
    rows = rows_of([str(i + 1) for i in at], dates)
    return Case(rows, "date", made[at[one]], str(at[one] + 1))


def year_struck_one_wrong(rng):
    """Years struck before the number; one of two that are dated has a receipt ten years late."""
    made = history(rng)
    at = drawn(rng, made, 7)
    marks = [f"{int(made[i]) % 100:02d}.{i + 1:04d}" for i in at]
    known = rng.choice(7, 2, replace=False).tolist()
    dates = [
        month(made[i] + (10 if k == known[0] else 0)) if k in known else ""
        for k, i in enumerate(at)
    ]
    case = asked_between(rng, made, at)
    inside = int(case.of)
    mark = f"{int(made[inside - 1]) % 100:02d}.{inside:04d}"
    return Case(rows_of(marks, dates), "date", made[inside - 1], mark)


# ---- numbers that do not run once from 1


def counts_down(rng):
    """The numbers were struck counting down from a round one; the date."""
    made = history(rng)
    top = -(-len(made) // 5000) * 5000
    return dated_case(rng, month, made=made, mark=lambda n: str(top - n + 1))


def counts_down_counted(rng):
    """The same, how many: nothing below the last one struck was used."""
    made = history(rng)
    top = -(-len(made) // 5000) * 5000
    at = drawn(rng, made, int(rng.integers(8, 25)))
    return Case(
        rows_of([str(top - i) for i in at], [month(made[i]) for i in at]), "count", len(made)
    )


def only_even(rng):
    """Only even numbers were struck, from a round one on, to look bigger; how many."""
    made = history(rng)
    begin = int(rng.choice([0, 1_000, 10_000, 20_000]))
    at = drawn(rng, made, int(rng.integers(6, 25)))
    marks = [str(begin + 2 * (i + 1)) for i in at]
    dates = [month(made[i]) if rng.random() < 0.8 else "" for i in at]
    return Case(rows_of(marks, dates), "count", len(made))


def leaps(rng):
    """Twice or three times the numbers leapt on by thousands, to look bigger; how many."""
    made = history(rng)
    number = np.arange(1, len(made) + 1)
    for cut in rng.uniform(0.1, 0.9, int(rng.integers(2, 4))):
        number[int(cut * len(made)) :] += int(rng.integers(2, 10)) * max(500, len(made) // 10)
    at = drawn(rng, made, int(rng.integers(10, 25)))
    return Case(
        rows_of([str(number[i]) for i in at], [month(made[i]) for i in at]), "count", len(made)
    )


def interleaved(rng):
    """Two works take blocks of 1,000 in turn and use each at their own pace; the date."""
    one, other = history(rng, int(rng.integers(3_000, 9_000))), history(rng, 4_000)
    other = one[0] + rng.uniform(0, 5) + (other - other[0])
    blocks, when = 0, []
    while blocks * 1_000 < len(one) or blocks * 1_000 < len(other):
        for works in (one, other):
            part = works[blocks * 1_000 : (blocks + 1) * 1_000]
            when += [*part.tolist(), *[np.nan] * (1_000 - len(part))]
        blocks += 1
    when = np.array(when)
    used = np.flatnonzero(~np.isnan(when))
    at = np.sort(rng.choice(used, int(rng.integers(8, 16)), replace=False)).tolist()
    ask = int(rng.choice([u for u in used if at[0] < u < at[-1] and u not in at]))
    rows = rows_of([str(i + 1) for i in at], [month(when[i]) for i in at])
    return Case(rows, "date", when[ask], str(ask + 1))


def blocks_sold(rng):
    """Blocks of 1,000 numbers went to another brand, whose machines nobody reports; how many."""
    made = history(rng, int(rng.integers(6_000, 30_000)))
    sold = rng.random(-(-len(made) // 1_000)) < rng.uniform(0.2, 0.5)
    ours = np.flatnonzero(~sold[np.arange(len(made)) // 1_000])
    at = np.sort(rng.choice(ours, int(rng.integers(10, 30)), replace=False)).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(ours))


def again_with_each_model(rng):
    """Two to four models one after the other, each from 1, and nothing tells the model; date."""
    return _by_models(rng, "date")


def again_with_each_model_counted(rng):
    """The same; how many."""
    return _by_models(rng, "count")


def _by_models(rng, asks):
    made = history(rng, int(rng.integers(4_000, 20_000)))
    cuts = np.sort(rng.uniform(0.15, 0.85, int(rng.integers(1, 4)))) * len(made)
    first = np.r_[0, cuts.astype(int)]
    number = [i - int(first[np.searchsorted(first, i, "right") - 1]) + 1 for i in range(len(made))]
    at = drawn(rng, made, int(rng.integers(8, 20)))
    rows = rows_of([str(number[i]) for i in at], [month(made[i]) for i in at])
    ask = int(rng.integers(len(made)))
    return Case(
        rows,
        asks,
        made[ask] if asks == "date" else len(made),
        "" if asks == "count" else str(number[ask]),
    )


def models_side_by_side(rng):
    """Two models made at the same time, each numbered from 1, nothing tells the model; date."""
    return _side_by_side(rng, "date")


def models_side_by_side_counted(rng):
    """The same; how many."""
    return _side_by_side(rng, "count")


def _side_by_side(rng, asks):
    one, other = history(rng), history(rng)
    other = one[0] + rng.uniform(0, 6) + (other - other[0])
    rows = []
    for _ in range(int(rng.integers(8, 20))):
        made = one if rng.random() < 0.6 else other
        n = int(rng.integers(len(made)))
        rows.append((str(n + 1), month(made[n])))
    made = one if rng.random() < 0.6 else other
    ask = int(rng.integers(len(made)))
    rows = rows_of(*map(list, zip(*rows, strict=True)))
    if asks == "date":
        return Case(rows, "date", made[ask], str(ask + 1))
    return Case(rows, "count", len(one) + len(other))


def rolled_once_few(rng):
    """After 9,999 from 1 again; five to nine reports, all dated; the date."""
    made = history(rng, int(rng.integers(11_000, 19_000)))
    count = int(rng.integers(5, 10))
    return dated_case(rng, month, made=made, mark=lambda n: str((n - 1) % 9_999 + 1), count=count)


# ---- other numbers taken for the serial number


def dealers_number(rng):
    """A third of the reports give a dealer's stock number, struck beside; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(8, 16)))
    marks = [str(i + 1 if rng.random() > 0.33 else rng.integers(1, 3_000)) for i in at]
    rows = rows_of(marks, [month(made[i]) for i in at])
    return with_rows(asked_between(rng, made, at), rows)


def dealers_number_counted(rng):
    """The same where stock numbers run higher than the machines; how many."""
    made = history(rng, int(rng.integers(1_500, 6_000)))
    at = drawn(rng, made, int(rng.integers(10, 25)))
    marks = [str(i + 1 if rng.random() > 0.25 else rng.integers(8_000, 30_000)) for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


def repairers_mark(rng):
    """A quarter give a repairer's job number with the year of the repair; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(8, 16)))
    job = made[0] + rng.uniform(15, 25)
    rows = []
    for i in at:
        if rng.random() < 0.25:
            later = rng.uniform(0, 8)
            rows.append((str(int(200 + 300 * later + rng.integers(100))), month(job + later)))
        else:
            rows.append((str(i + 1), month(made[i])))
    case = asked_between(rng, made, at)
    return with_rows(case, rows_of(*map(list, zip(*rows, strict=True))))


def head_and_bed(rng):
    """Heads and beds are numbered apart; half of the reports give the bed's; the date by head."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(8, 16)))
    ratio, begin = rng.uniform(0.3, 3), int(rng.integers(0, 20_000))
    bed = lambda i: begin + int(ratio * i) + 1  # noqa: E731
    marks = [str(i + 1 if rng.random() < 0.5 else bed(i)) for i in at]
    rows = rows_of(marks, [month(made[i]) for i in at])
    return with_rows(asked_between(rng, made, at), rows)


def head_and_bed_counted(rng):
    """The same where beds were numbered higher; how many."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(8, 20)))
    bed = int(rng.integers(5_000, 40_000))
    marks = [str(i + 1 if rng.random() < 0.5 else bed + int(1.6 * i)) for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


# ---- readers


def one_slip(number, rng):
    """A number with one of its figures taken for another."""
    text = list(str(number))
    at = int(rng.integers(len(text)))
    text[at] = str(rng.choice([c for c in "123456789" if c != text[at]]))
    return int("".join(text))


def three_owners(rng):
    """Five to twelve machines, each passed on by three owners with a slip each; survivors."""
    left = rng.choice(30_000, int(rng.integers(5, 13)), replace=False) + 1
    seen = [(one_slip(int(n), rng), 1990 + 10 * k) for n in left for k in range(3)]
    return Case(seen_rows(seen), "survivors", len(left))


def three_owners_counted(rng):
    """The same with the month of making; how many were made."""
    made = history(rng)
    at = [i for i in drawn(rng, made, int(rng.integers(5, 13))) for _ in range(3)]
    marks = [str(misread(i + 1, rng, 0.15)) for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


def sixes_upside_down(rng):
    """One club reads all its plates upside down where it can: 6 and 9 changed; the date."""
    return _club(rng, str.maketrans("69", "96"))


def ones_as_sevens(rng):
    """One club, half of the reports, reads each 1 as a 7; the date."""
    return _club(rng, str.maketrans("1", "7"))


def _club(rng, read):
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(8, 16)))
    marks = [str(i + 1).translate(read) if rng.random() < 0.5 else str(i + 1) for i in at]
    rows = rows_of(marks, [month(made[i]) for i in at])
    return with_rows(asked_between(rng, made, at), rows)


def sevens_counted(rng):
    """One club, half of the reports, reads each 1 as a 7; how many."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(10, 25)))
    read = str.maketrans("1", "7")
    marks = [str(i + 1).translate(read) if rng.random() < 0.5 else str(i + 1) for i in at]
    return Case(rows_of(marks, [month(made[i]) for i in at]), "count", len(made))


def to_the_thousand(rng):
    """All numbers told to the thousand, half of them as 'about'; the date."""
    made = history(rng, int(rng.integers(15_000, 60_000)))
    at = drawn(rng, made, int(rng.integers(5, 14)))
    marks = [str(max(1_000, round(i / 1_000) * 1_000)) for i in at]
    rows = rows_of(marks, [month(made[i]) for i in at])
    return with_rows(asked_between(rng, made, at), rows)


# ---- who reports


def one_museum(rng):
    """All are one museum's, which took in the last tenth to third that was made; how many."""
    made = history(rng)
    begin = int(len(made) * rng.uniform(0.05, 0.6))
    width = int(len(made) * rng.uniform(0.1, 0.35))
    at = np.sort(begin + rng.choice(width, int(rng.integers(8, 20)), replace=False)).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def one_country(rng):
    """Owners of one country report: its agent sold in the first half of the years; how many."""
    made = history(rng)
    span = made[-1] - made[0]
    ended = made[0] + span * rng.uniform(0.35, 0.65)
    here = np.flatnonzero(made < ended)
    at = np.sort(rng.choice(here, int(rng.integers(12, 30)), replace=False)).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def early_wanted(rng):
    """Ten to forty, all dated; the later, the less is reported, to a twentieth to a hundredth."""
    return _leaning(rng, -1)


def middle_kept(rng):
    """First and last ones are hardly reported: a bell over the numbers; how many."""
    made = history(rng)
    t = np.linspace(0, 1, len(made))
    weight = np.exp(-(((t - rng.uniform(0.25, 0.5)) / rng.uniform(0.15, 0.3)) ** 2))
    at = np.sort(
        rng.choice(len(made), int(rng.integers(10, 40)), replace=False, p=weight / weight.sum())
    ).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def last_model_scrapped(rng):
    """The last third to half were of a model hardly anyone kept: one in thirty of it; how many."""
    made = history(rng)
    weight = np.ones(len(made))
    weight[int(len(made) * rng.uniform(0.5, 0.7)) :] = 1 / 30
    at = np.sort(
        rng.choice(len(made), int(rng.integers(10, 40)), replace=False, p=weight / weight.sum())
    ).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def _leaning(rng, sign):
    made = history(rng)
    weight = np.exp(sign * rng.uniform(3, 4.6) * np.linspace(0, 1, len(made)))
    at = np.sort(
        rng.choice(len(made), int(rng.integers(10, 40)), replace=False, p=weight / weight.sum())
    ).tolist()
    return Case(rows_of([str(i + 1) for i in at], [month(made[i]) for i in at]), "count", len(made))


def two_alone(rng):
    """A survey of two, both dated by memory: 'about' off by three years; the date."""
    made = history(rng)
    at = drawn(rng, made, 2)
    rows = rows_of([str(i + 1) for i in at], [str(int(made[i] + rng.normal(0, 3))) for i in at])
    return with_rows(asked_between(rng, made, at), rows)


def two_hundred(rng):
    """Two hundred, all with a year, a tenth of the years off by two to eight; the date."""
    made = history(rng)
    at = drawn(rng, made, 200)
    dates = [
        str(int(made[i] + (rng.choice([-1, 1]) * rng.uniform(2, 8) if rng.random() < 0.1 else 0)))
        for i in at
    ]
    rows = rows_of([str(i + 1) for i in at], dates)
    return with_rows(asked_between(rng, made, at), rows)


def two_hundred_counted(rng):
    """Two hundred of an even survival, all with a month; how many."""
    made = history(rng)
    at = drawn(rng, made, 200)
    rows = rows_of([misread(i + 1, rng) for i in at], [month(made[i]) for i in at])
    return Case(rows, "count", len(made))


# ---- ways of numbering


def marked(count, mark, tells):
    """Marks without dates, and whether the true numbering tells a date."""
    return Case(rows_of([mark() for _ in range(count)]), "odds", float(tells))


def thousands_dotted(rng):
    """A running number with a dot at its thousands: 7.412 of 12,999 at most."""
    top = int(rng.integers(2_000, 12_999))
    return marked(
        int(rng.integers(4, 15)),
        lambda: f"{int(rng.integers(1_000, top + 1)):,}".replace(",", "."),
        False,
    )


def size_before(rng):
    """A size from 1 to 12 before a running number that is every size's."""
    top = int(rng.integers(500, 20_000))
    return marked(
        int(rng.integers(4, 15)), lambda: f"{rng.integers(1, 13)}.{rng.integers(1, top)}", False
    )


def bench_and_batch(rng):
    """A bench from 1 to 12, a batch from 60 to 99, a number in the batch."""
    last = int(rng.integers(70, 100))
    return marked(
        int(rng.integers(4, 15)),
        lambda: f"{rng.integers(1, 13)}.{rng.integers(60, last)}.{rng.integers(1, 400)}",
        False,
    )


def gauge_and_number(rng):
    """A gauge from 70 to 99 in tenths, then a running number."""
    gauges = [
        int(g) for g in rng.choice(np.arange(70, 100), int(rng.integers(3, 12)), replace=False)
    ]
    top = int(rng.integers(500, 20_000))
    return marked(
        int(rng.integers(4, 15)), lambda: f"{rng.choice(gauges)}.{rng.integers(1, top)}", False
    )


# ---- from where and from whom, told

LANDS = ("Northland", "Southmark", "Eastmoor", "Westrey", "Highfell", "Lowmere")
TOWNS = ("Redham", "Elmstow", "Millport", "Ashby", "Cray", "Dunholm", "Farley", "Greyford")


def towns_of(rng, count, lands=LANDS):
    """Where so many machines stand: a town and its land."""
    return [f"{rng.choice(TOWNS)}, {rng.choice(lands)}" for _ in range(count)]


def people(count):
    """As many people as reports, each of another name."""
    return [f"person {i}" for i in range(count)]


def from_here(made, at, *, place, reporter, seen="handled", asks="count", **dates):
    """A survey of these machines with where and by whom; how many were made, unless asked else."""
    told = dates.get("dates") or [month(made[i]) for i in at]
    marks = dates.get("marks") or [str(i + 1) for i in at]
    more = {"place": place, "reporter": reporter, "seen": [seen] * len(at)}
    kind, evidence = dates.get("kind", "at"), dates.get("evidence", "")
    rows = rows_of(marks, told, kind, evidence, **more)
    return Case(rows, asks, len(made))


def until(made, rng, low=0.35, high=0.65):
    """How many were made until somewhere in the midst of the years."""
    return int(np.searchsorted(made, made[0] + (made[-1] - made[0]) * rng.uniform(low, high)))


def few_of(rng, least, most, begin, end):
    """Places of some machines between two of the run."""
    count = min(int(rng.integers(least, most)), end - begin)
    return np.sort(begin + rng.choice(end - begin, count, replace=False)).tolist()


def country_told(rng):
    """As `one_country`, and each report says where from: towns of one land."""
    made = history(rng)
    at = few_of(rng, 12, 30, 0, until(made, rng))
    return from_here(made, at, place=towns_of(rng, len(at), LANDS[:1]), reporter=people(len(at)))


def hoard_told(rng):
    """One collector reports all: he bought as long as they were sold near him; how many."""
    made = history(rng)
    at = few_of(rng, 10, 25, 0, until(made, rng))
    return from_here(made, at, place=[""] * len(at), reporter=["A. Quill"] * len(at))


def stock_told(rng):
    """One dealer's stock in one town: three lots of neighbouring numbers of the earlier years."""
    made = history(rng)
    end, at = until(made, rng), []
    for _ in range(3):
        begin = int(rng.integers(0, end - 60))
        at += few_of(rng, 4, 9, begin, begin + 60)
    at = sorted(set(at))
    return from_here(made, at, place=["Redham"] * len(at), reporter=["J. Crane"] * len(at))


def hearsay_told(rng):
    """One person passes on what he was told, each number through three mouths; how many."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(10, 25)))
    marks = [str(misread(misread(misread(i + 1, rng, 0.05), rng, 0.05), rng, 0.05)) for i in at]
    return from_here(
        made, at, place=[""] * len(at), reporter=["R. Bell"] * len(at), seen="told", marks=marks
    )


def dated_by_one(rng):
    """One collector gives each machine the year he reckons, on a pace of his own; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(6, 14)))
    first, pace = made[0] + rng.normal(0, 4), rng.uniform(0.5, 1.6)
    dates = [str(int(first + pace * (made[i] - made[0]))) for i in at]
    case = asked_between(rng, made, at)
    more = {"reporter": ["A. Quill"] * len(at), "place": [""] * len(at)}
    return with_rows(case, rows_of([str(i + 1) for i in at], dates, **more))


def agent_told(rng):
    """Receipts of one land's agent, two to five years after the making; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(6, 14)))
    lag = rng.uniform(2, 5)
    dates = [month(made[i] + lag + rng.uniform(0, 0.5)) for i in at]
    more = {"reporter": people(len(at)), "place": towns_of(rng, len(at), LANDS[:1])}
    rows = rows_of([str(i + 1) for i in at], dates, "sold", "receipt", **more)
    return with_rows(asked_between(rng, made, at), rows)


def reader_odds(rng):
    """One person reads all: of month, dot, year, number he passes the dot on as he likes; odds."""
    year, top = int(rng.integers(76, 92)), int(rng.integers(100, 500))
    drop = rng.random() < 0.5
    marks = []
    for _ in range(int(rng.integers(4, 15))):
        m, y, n = rng.integers(1, 13), year + rng.integers(0, 6), rng.integers(1, top)
        marks.append(f"{m}{y}.{n}" if drop else f"{m}.{y}{n}")
    return Case(rows_of(marks, reporter=["A. Quill"] * len(marks)), "odds", 1.0)


def stock_odds(rng):
    """One dealer's stock, out of one lot: bench, batch and number that look like month and year."""
    bench, batch = int(rng.integers(1, 13)), int(rng.integers(60, 100))
    marks = [
        f"{(bench + int(rng.integers(0, 3)) - 1) % 12 + 1}.{batch}.{rng.integers(1, 400)}"
        for _ in range(int(rng.integers(4, 15)))
    ]
    more = {"reporter": ["J. Crane"] * len(marks), "place": ["Redham"] * len(marks)}
    return Case(rows_of(marks, **more), "odds", 0.0)


def museum_told(rng):
    """As `one_museum`, and each report says where."""
    case = one_museum(rng)
    rows = tuple(row | {"place": "museum, Elmstow", "reporter": ""} for row in case.rows)
    return with_rows(case, rows)


def mostly_one_land(rng):
    """Nine in ten of one land, whose agent stopped half-way; the others from anywhere before."""
    made = history(rng)
    at = few_of(rng, 14, 30, 0, until(made, rng))
    place = [towns_of(rng, 1, LANDS[:1] if rng.random() < 0.9 else LANDS[1:])[0] for _ in at]
    return from_here(made, at, place=place, reporter=people(len(at)))


def three_lands_end(rng):
    """Three lands, each until a year of its own; a fourth, which nobody reports, to the end."""
    made = history(rng)
    at, place = [], []
    for land in LANDS[:3]:
        some = few_of(rng, 5, 10, 0, until(made, rng, 0.25, 0.8))
        at, place = at + some, place + towns_of(rng, len(some), (land,))
    order = np.argsort(at)
    at, place = [at[i] for i in order], [place[i] for i in order]
    return from_here(made, at, place=place, reporter=people(len(at)))


def hoard_half(rng):
    """A collector's hoard of the earlier half and four other people's, as early; how many."""
    made = history(rng)
    at = few_of(rng, 14, 26, 0, until(made, rng))
    others = set(rng.choice(len(at), 4, replace=False).tolist())
    by = [f"person {i}" if i in others else "A. Quill" for i in range(len(at))]
    return from_here(made, at, place=[""] * len(at), reporter=by)


def from_everywhere(rng):
    """Sound: machines of six lands alike, each by another person; how many."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(12, 30)))
    return from_here(made, at, place=towns_of(rng, len(at)), reporter=people(len(at)))


def from_everywhere_dated(rng):
    """Sound: the same; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(6, 14)))
    more = {"reporter": people(len(at)), "place": towns_of(rng, len(at))}
    rows = rows_of([str(i + 1) for i in at], [month(made[i]) for i in at], **more)
    return with_rows(asked_between(rng, made, at), rows)


def sold_at_home(rng):
    """Sound: a works that sold in its own land alone; how many."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(12, 30)))
    return from_here(made, at, place=towns_of(rng, len(at), LANDS[:1]), reporter=people(len(at)))


def receipts_of_one(rng):
    """Sound: one collector's machines, each with the works' own slip; the date."""
    made = history(rng)
    at = drawn(rng, made, int(rng.integers(6, 14)))
    more = {"reporter": ["A. Quill"] * len(at), "place": [""] * len(at)}
    dates = [month(made[i]) for i in at]
    rows = rows_of([str(i + 1) for i in at], dates, evidence="dated receipt of the works", **more)
    return with_rows(asked_between(rng, made, at), rows)


MENDED_ON = (
    one_decade_off, one_patent, one_of_two_wrong, its_own_date_wrong, counts_down_counted,
    only_even, again_with_each_model, again_with_each_model_counted, rolled_once_few,
    dealers_number, head_and_bed, three_owners, sixes_upside_down, to_the_thousand, one_country,
    early_wanted, thousands_dotted, bench_and_batch, two_alone,
)  # fmt: skip
KEPT_BACK = (
    one_guess_early, one_later_head, one_guess_of_many, its_own_among_others_wrong,
    year_struck_one_wrong, counts_down, leaps, interleaved, blocks_sold, models_side_by_side,
    models_side_by_side_counted, dealers_number_counted, repairers_mark, head_and_bed_counted,
    three_owners_counted, ones_as_sevens, sevens_counted, one_museum, middle_kept,
    last_model_scrapped, two_hundred, two_hundred_counted, size_before, gauge_and_number,
)  # fmt: skip

ORIGINS = (
    country_told, hoard_told, stock_told, hearsay_told, dated_by_one, agent_told, reader_odds,
    stock_odds,
)  # fmt: skip
"""Families that say from where or from whom, mended on."""
ORIGINS_KEPT_BACK = (museum_told, mostly_one_land, three_lands_end, hoard_half)
ORIGINS_SOUND = (from_everywhere, from_everywhere_dated, sold_at_home, receipts_of_one)
"""Sound surveys that say so too: what does it cost them?"""

_FROM = r"one person|of one place|name one place|Northland|from elsewhere|was told|places"
_FITS = r"does not fit|do not fit|hangs? on|wrong, |was wrong"
_AGAIN = r"beg[aiu]n again|another series|two series|two works|side by side|more than one"
_KEPT = r"surviv|were kept|reported|turn up"
_OTHER = r"another works|another series|two series|do not fit|does not fit|other numbers|misread"
DOUBTS = {
    "one_": _FITS, "its_own": _FITS + "|that date|own date", "year_struck_one": _FITS,
    "two_alone": _FITS, "two_hundred": _FITS, "a_decade": _FITS,
    "counts_down": _AGAIN + "|not rise|begin at|first number|fall", "leaps": "passed over|never used|left out",  # noqa: E501
    "only_even": "[Oo]nly every", "interleaved": _AGAIN, "blocks_sold": "batches|never used",
    "again": _AGAIN, "models_": _AGAIN, "rolled": _AGAIN, "dealers": _OTHER, "repairers": _OTHER,
    "head": _OTHER + "|" + _AGAIN, "three_owners": "slip|one machine|handful", "sixes": _OTHER,
    "ones_as": _OTHER, "sevens": _OTHER, "to_the": "rounded",
    "one_museum": _KEPT, "one_country": _KEPT, "early": _KEPT, "late": _KEPT, "middle": _KEPT,
    "last_": _KEPT, "few_owners": _KEPT + "|handful", "one_cargo": _KEPT, "mixed": _OTHER,
    **dict.fromkeys((f.__name__ for f in ORIGINS + ORIGINS_KEPT_BACK), _FROM),
    "another": _OTHER, "bench": "bears it out", "size_": "bears it out", "gauge": "bears it out",
}  # fmt: skip
"""What a sentence says that names the doubt of a family, by how the family's name begins."""

_FIRST = 3
"""So many sentences are read before an answer is taken on trust."""


def names_the_doubt(name, sentences):
    """Whether one of the first sentences names what is wrong with surveys of this family."""
    said = max((begin for begin in DOUBTS if name.startswith(begin)), key=len, default="")
    pattern = DOUBTS.get(said)
    return pattern is not None and any(re.search(pattern, s) for s in sentences[:_FIRST])


def answered(case):
    """Held or not, grade, width (None for a floor or odds), and the sentences."""
    if case.asks != "odds":
        told = put(case)
        return *judged(case, told), told["sentences"]
    told = put(case)
    result, chance = told["results"][:2]
    tells_a_date = re.search(r"month|year|week", result["value"].split("(")[0]) is not None
    right = tells_a_date == bool(case.truth) or chance["value"] < 0.9
    return right, result["grade"], None, told["sentences"]


def run(family, cases, seed, *, say):
    """One line of figures for a family."""
    rng = np.random.default_rng([seed, *family.__name__.encode()])
    held, sure, wrong, untold, widths, refused = [], 0, 0, 0, [], 0
    for i in range(cases):
        case = family(rng)
        try:
            ok, grade, width, sentences = answered(case)
        except IronlaceError as error:
            refused += 1
            if say:
                print("   ", error)
            continue
        held.append(ok)
        inferred = grade == "inferred"
        sure += inferred
        wrong += inferred and not ok
        named = names_the_doubt(family.__name__, sentences)
        untold += inferred and not ok and not named
        widths += [width] if width is not None else []
        if say:
            print(f"  {i} truth {case.truth:.2f} held {ok} {grade} width {width} named {named}")
            for sentence in sentences[:6]:
                print("      ", sentence[:330])
    return (
        f"{family.__name__:30s} {len(held):3d}: held {np.mean(held or [np.nan]):.2f}, inferred "
        f"{sure}, wrong {wrong}, untold {untold}; two-sided {len(widths)}, median width "
        f"{np.median(widths or [np.nan]):.1f}; refused {refused}"
    )


def main():
    before = {f.__name__: f for f in (*LOOKED_AT, *HELD_BACK)}
    known = {f.__name__: f for f in (
        *MENDED_ON, *KEPT_BACK, *ORIGINS, *ORIGINS_KEPT_BACK, *ORIGINS_SOUND
    )}  # fmt: skip
    parser = argparse.ArgumentParser(description=__doc__.split("\n")[0])
    parser.add_argument("--families", default=",".join(f.__name__ for f in MENDED_ON))
    parser.add_argument("--kept-back", action="store_true", help="run those kept back instead")
    parser.add_argument("--cases", type=int, default=10)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--say", action="store_true", help="print the first sentences of each")
    args = parser.parse_args()
    names = [f.__name__ for f in KEPT_BACK] if args.kept_back else args.families.split(",")
    for name in names:
        family = known.get(name) or before[name]
        print(run(family, args.cases, args.seed, say=args.say), flush=True)


if __name__ == "__main__":
    main()

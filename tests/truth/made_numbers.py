"""Works that number what they make, and which of their machines turn up: truth for totals.

Written apart from what estimates totals and with other habits: every machine that a works made is
a number on a list, and chance goes over that list machine by machine. `LOOKED_AT` were looked at
while the estimate was made, and `LOOKED_AT_LATER` when it was made again; `NEVER_LOOKED_AT` were
run at the end of the first making, and `HELD_BACK` were written before the second and run once, at
its end. In `USED_ONCE` each number was used once from the first on, and only survival or reading is
uneven. `DATED` and `DATED_HELD_BACK` have a date beside most numbers; the latter were not looked at
while dates were taught to speak of a run, and run once, at the end.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class Turned:
    """Numbers that turned up, as they were reported, how many were made, and when each was."""

    numbers: list[int]
    made: int
    when: tuple[float | None, ...] = ()


def _survivors(rng, numbers, count, chance=lambda place: 1.0):
    """Throw for one machine after another, taken blindly from the list, until enough turned up."""
    pool = list(numbers)
    rng.shuffle(pool)
    place = {n: i / max(len(numbers) - 1, 1) for i, n in enumerate(numbers)}
    kept = []
    while pool and len(kept) < count:
        one = pool.pop()
        if rng.random() < chance(place[one]):
            kept.append(int(one))
        elif len(pool) < 3 * count:  # the shy ones are thrown for again
            pool.insert(0, one)
    return kept


def _size(rng, low=150, high=12000):
    return int(low * (high / low) ** rng.random())


def _few(rng, low=4, high=30):
    return int(rng.integers(low, high))


def even(rng):
    made = _size(rng)
    return Turned(_survivors(rng, range(1, made + 1), _few(rng)), made)


def two_blocks(rng):
    """A second works began at a round number above what the first one reached."""
    first, second = _size(rng, 150, 4000), _size(rng, 150, 4000)
    begins = first + int(first * rng.uniform(0.2, 3.0))
    step = 10 ** (len(str(begins)) - 1)
    begins = max(-(-begins // step) * step, first) + 1
    numbers = [*range(1, first + 1), *range(begins, begins + second)]
    return Turned(_survivors(rng, numbers, _few(rng, 6)), first + second)


def early_survive(rng):
    """The first ones made were kept; of the last hardly any were."""
    made, fall = _size(rng), rng.uniform(1.0, 3.0)
    return Turned(
        _survivors(rng, range(1, made + 1), _few(rng), lambda p: 2.718281828 ** (-fall * p)), made
    )


def leading_misread(rng):
    made = _size(rng)
    found = _survivors(rng, range(1, made + 1), _few(rng, 5))
    at = int(rng.integers(len(found)))
    text = str(found[at])
    other = [c for c in "123456789" if c != text[0]]
    found[at] = int(other[int(rng.integers(8))] + text[1:])
    return Turned(found, made)


def odd_only(rng):
    made = _size(rng)
    return Turned(_survivors(rng, range(1, 2 * made, 2), _few(rng)), made)


def begins_high(rng):
    """The first machine had number 501, 1001 or 10001."""
    made, start = _size(rng), int(rng.choice([500, 1000, 10000]))
    return Turned(_survivors(rng, range(start + 1, start + made + 1), _few(rng)), made)


def late_survive(rng):
    made, rise = _size(rng), rng.uniform(1.0, 3.0)
    return Turned(
        _survivors(rng, range(1, made + 1), _few(rng), lambda p: 2.718281828 ** (-rise * (1 - p))),
        made,
    )


def straight_decline(rng):
    """Survival falls along a straight line to a tenth, or a third, of what it was."""
    made, least = _size(rng), rng.choice([0.1, 0.33])
    return Turned(
        _survivors(rng, range(1, made + 1), _few(rng), lambda p: 1.0 - (1.0 - least) * p), made
    )


def war_years(rng):
    """A stretch in the middle went for scrap, all but one in ten."""
    made = _size(rng)
    low = rng.uniform(0.2, 0.6)
    high = low + rng.uniform(0.15, 0.35)
    thin = lambda p: 0.1 if low < p < high else 1.0  # noqa: E731
    return Turned(_survivors(rng, range(1, made + 1), _few(rng), thin), made)


def many_lots_passed_over(rng):
    """Numbers went out to shops in hundreds, and a quarter of the lots were never used."""
    lots = [n for n in range(_size(rng, 10, 120)) if rng.random() > 0.25] or [0]
    numbers = [100 * lot + i for lot in lots for i in range(1, 101)]
    return Turned(_survivors(rng, numbers, _few(rng)), len(numbers))


def every_tenth(rng):
    made = _size(rng, 50, 2000)
    return Turned(_survivors(rng, range(10, 10 * made + 1, 10), _few(rng)), made)


def three_blocks(rng):
    """Three works, each with a range of its own that it did not fill."""
    numbers, base = [], 0
    for _ in range(3):
        size = _size(rng, 200, 3000)
        numbers += range(base + 1, base + size + 1)
        base += size + int(size * rng.uniform(0.3, 2.0))
    return Turned(_survivors(rng, numbers, _few(rng, 8, 40)), len(numbers))


def four_shops(rng):
    """Four shops had a range each, of one size, and filled it to different degrees."""
    size = int(rng.choice([500, 1000, 2500]))
    numbers = []
    for shop in range(4):
        filled = int(size * rng.uniform(0.3, 0.95))
        numbers += range(shop * size + 1, shop * size + filled + 1)
    return Turned(_survivors(rng, numbers, _few(rng, 8, 40)), len(numbers))


def figure_read_twice(rng):
    """One report has a figure too many."""
    made = _size(rng)
    found = _survivors(rng, range(1, made + 1), _few(rng, 5))
    at = int(rng.integers(len(found)))
    text = str(found[at])
    cut = int(rng.integers(1, len(text) + 1))
    found[at] = int(text[:cut] + text[cut - 1 :])
    return Turned(found, made)


def reported_in_clumps(rng):
    """A few collectors each bought from one shipment: numbers come in handfuls close together."""
    made = _size(rng, 600)
    found = set()
    while len(found) < 12:
        middle = int(rng.integers(1, made + 1))
        for _ in range(int(rng.integers(1, 5))):
            found.add(min(max(middle + int(rng.integers(-made // 60, made // 60 + 1)), 1), made))
    return Turned(sorted(found), made)


def unequal_blocks(rng):
    """Two to five works with ranges of very unequal size, whose machines survive unequally."""
    numbers, chance, base = [], {}, 0
    for _ in range(int(rng.integers(2, 6))):
        size, luck = _size(rng, 60, 5000), rng.uniform(0.15, 1.0)
        for n in range(base + 1, base + size + 1):
            chance[n] = luck
        numbers += range(base + 1, base + size + 1)
        base += size
        if rng.random() < 0.7:
            base += int(rng.choice([200, 1000, 3000]) * rng.uniform(0.5, 1.5))
    ordered = sorted(numbers)
    return Turned(
        _survivors(
            rng,
            ordered,
            _few(rng, 8, 40),
            lambda p: chance[ordered[round(p * (len(ordered) - 1))]],
        ),
        len(numbers),
    )


def round_lots_skipped(rng):
    """Whole thousands or five hundreds were kept for a line of goods that came to nothing."""
    made, lot = _size(rng, 1500, 12000), int(rng.choice([500, 1000]))
    kept_back = {n for n in range(1, 40) if rng.random() < 0.35}
    numbers, n = [], 1
    while len(numbers) < made:
        if n // lot not in kept_back:
            numbers.append(n)
        n += 1
    return Turned(_survivors(rng, numbers, _few(rng, 6, 40)), made)


def renumbered(rng):
    """The count began again at 1 under a new owner, so that low numbers were given twice."""
    first, second = _size(rng, 300, 6000), _size(rng, 300, 6000)
    machines = [(1, n) for n in range(1, first + 1)] + [(2, n) for n in range(1, second + 1)]
    drawn = rng.permutation(len(machines))[: _few(rng, 5, 40)]
    return Turned([machines[int(i)][1] for i in drawn], first + second)


def in_families(rng):
    """Machines turn up by estates: each holds two or three that were bought from one crate."""
    made = _size(rng, 800)
    crate = int(rng.choice([6, 12, 24]))
    found = set()
    while len(found) < _few(rng, 8, 24):
        first = int(rng.integers(0, made // crate)) * crate
        for _ in range(int(rng.integers(1, 4))):
            found.add(first + int(rng.integers(1, crate + 1)))
    return Turned(sorted(found), made)


def _with_dates(rng, machines, count, *, late=0.0, chance=lambda place: 1.0):
    """Machines in the order of making turn up by chance; four in five come with a date."""
    years, power = rng.uniform(6.0, 30.0), rng.choice([0.6, 1.0, 1.4])
    first = rng.uniform(1870, 1895)
    numbers, when = [], []
    for place in _survivors(rng, range(len(machines)), count, chance):
        number = str(machines[place])
        if rng.random() < 0.03:  # a figure is read as another
            at = int(rng.integers(len(number)))
            number = number[:at] + str(int(rng.integers(1, 10))) + number[at + 1 :]
        made = first + years * (place / len(machines)) ** power + late * rng.exponential()
        numbers.append(int(number))
        when.append(float(int(made * 12) / 12 + 1 / 24) if rng.random() < 0.8 else None)
    return Turned(numbers, len(machines), tuple(when))


def dated_once(rng):
    return _with_dates(rng, range(1, _size(rng) + 1), _few(rng, 6, 40))


def dated_again(rng):
    runs = [range(1, _size(rng, 300, 6000) + 1) for _ in range(2)]
    return _with_dates(rng, [n for run in runs for n in run], _few(rng, 6, 40))


def dated_two_works(rng):
    """Two works at the same time, one with the numbers from a round one on."""
    small, large = sorted((_size(rng, 150, 3000), _size(rng, 150, 3000)))
    begins = 10 ** len(str(large))
    machines = [n for i in range(large) for n in (i + 1, begins + i + 1)[: 1 + (i < small)]]
    return _with_dates(rng, machines, _few(rng, 8, 40))


def dated_thrice(rng):
    """Each owner of three began again at 1."""
    runs = [range(1, _size(rng, 200, 4000) + 1) for _ in range(3)]
    return _with_dates(rng, [n for run in runs for n in run], _few(rng, 6, 40))


def dated_lots_skipped(rng):
    lot, kept = int(rng.choice([100, 500, 1000])), []
    for i in range(_size(rng, 600, 9000)):
        if rng.random() > 0.3:
            kept += range(i * lot + 1, (i + 1) * lot + 1)
        if len(kept) > 9000 or i > 40:
            break
    return _with_dates(rng, kept or list(range(1, lot + 1)), _few(rng, 6, 40))


def dated_late_and_early_kept(rng):
    """Finished up to a year or two out of order; those of the first years were kept."""
    fall = rng.uniform(0.5, 2.5)
    early = lambda p: 2.718281828 ** (-fall * p)  # noqa: E731
    machines = range(1, _size(rng) + 1)
    return _with_dates(rng, machines, _few(rng, 6, 40), late=rng.uniform(0.2, 0.8), chance=early)


def dated_a_few_low_again(rng):
    """A short second run at the end: a special line with numbers of its own from 1."""
    first = _size(rng, 500, 8000)
    second = range(1, int(first * rng.uniform(0.03, 0.25)) + 2)
    return _with_dates(rng, [*range(1, first + 1), *second], _few(rng, 6, 40))


LOOKED_AT = {
    "every one as likely": even,
    "two blocks": two_blocks,
    "early ones survive": early_survive,
    "a leading figure misread": leading_misread,
    "odd numbers only": odd_only,
    "begins at a high number": begins_high,
    "three blocks": three_blocks,
}
NEVER_LOOKED_AT = {
    "late ones survive": late_survive,
    "survival falls along a line": straight_decline,
    "a stretch went for scrap": war_years,
    "lots of numbers never used": many_lots_passed_over,
    "every tenth number": every_tenth,
    "four shops with a range each": four_shops,
    "a figure read twice": figure_read_twice,
    "numbers in handfuls": reported_in_clumps,
}
HELD_BACK = {
    "unequal blocks, unequal survival": unequal_blocks,
    "round lots skipped": round_lots_skipped,
    "renumbered from 1": renumbered,
    "by estates from one crate": in_families,
}
USED_ONCE = {
    name: (LOOKED_AT | NEVER_LOOKED_AT | HELD_BACK)[name]
    for name in (
        "every one as likely",
        "early ones survive",
        "a leading figure misread",
        "late ones survive",
        "survival falls along a line",
        "a stretch went for scrap",
        "a figure read twice",
        "numbers in handfuls",
        "by estates from one crate",
    )
}
DATED = {
    "one run": dated_once,
    "begun again": dated_again,
    "two works at once": dated_two_works,
}
DATED_HELD_BACK = {
    "begun again twice": dated_thrice,
    "lots skipped": dated_lots_skipped,
    "out of order, early ones kept": dated_late_and_early_kept,
    "a short run begun at the end": dated_a_few_low_again,
}

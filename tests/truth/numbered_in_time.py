"""Histories of works told machine by machine: when each number was made. Truth for timelines.

Every machine is made on some day, one after the other, by clocks that tick unevenly; the date of a
number is looked up, never interpolated. `LOOKED_AT` were looked at while the estimate was made;
`HELD_BACK` were written before it was made again, and run once, at the end; `SEASONS_HELD_BACK`
were not looked at while a season was taught, and run once.
"""

_MONTHS = 300


def _made_by(rate_of_month, rng):
    """Month of each number, when month m turned out about rate_of_month(m) machines."""
    out = []
    for month in range(_MONTHS):
        out += [month] * int(rng.poisson(max(rate_of_month(month), 0.0)))
    return out


def seasonal(rng):
    """Nothing much was made in half of the year."""
    base, off = rng.uniform(20, 120), int(rng.integers(12))
    return _made_by(lambda m: base * (2.0 if (m + off) % 12 < 6 else 0.1), rng)


def two_works_one_ledger(rng):
    """Numbers were given out in lots to two works, of which one took longer over them."""
    base, late = rng.uniform(20, 100), rng.uniform(2, 12)
    lot = int(rng.choice([50, 100, 200]))
    once = _made_by(lambda m: base, rng)
    return [m + late if i // lot % 2 else m for i, m in enumerate(once)]


def founded_small(rng):
    """Output doubled every two or three years from a workshop's few."""
    double = rng.uniform(18, 48)
    return _made_by(lambda m: 3.0 * 2 ** (min(m, 170) / double), rng)


def finished_later(rng):
    """Frames were numbered when cast, and finished some months later, a few of them years."""
    base = rng.uniform(20, 100)
    return [m + 4.0 * 2.718281828 ** (0.8 * rng.normal()) for m in _made_by(lambda m: base, rng)]


def war_gap(rng):
    base, begins, lasts = rng.uniform(20, 100), int(rng.integers(80, 180)), rng.uniform(12, 50)
    return _made_by(lambda m: base * (0.05 if begins < m < begins + lasts else 1.0), rng)


def restart_under_new_owner(rng):
    base, at = rng.uniform(20, 100), int(rng.integers(80, 200))
    again = rng.uniform(0.2, 4.0)
    return _made_by(lambda m: base if m < at else 0.0 if m < at + 18 else base * again, rng)


def rise_and_fall(rng):
    peak, middle = rng.uniform(60, 200), rng.uniform(90, 200)
    return _made_by(lambda m: peak * 2.718281828 ** (-(((m - middle) / 60.0) ** 2)), rng)


def piece_work_by_orders(rng):
    """A few large orders a year, each made in a month or two; little between."""
    base = rng.uniform(20, 80)
    busy = {m + i for m in range(_MONTHS) if rng.random() < 0.2 for i in (0, 1)}
    return _made_by(lambda m: base * (2.5 if m in busy else 0.1), rng)


def held_in_stock(rng):
    """Heads were numbered ahead and waited: those on hand grew to a year's work, then were sold."""
    base, most = rng.uniform(20, 100), rng.uniform(6, 20)
    full, empty = int(rng.integers(60, 140)), int(rng.integers(180, 280))
    waited = lambda m: most * max(0.0, 1 - abs(m - full) / (empty - full))  # noqa: E731
    return [m + waited(m) * rng.random() for m in _made_by(lambda m: base, rng)]


def two_models_in_turn(rng):
    """Numbers were shared out beforehand between a slow and a quick model, half each, by tens."""
    base, lag = rng.uniform(25, 100), rng.uniform(3, 24)
    slow_until = rng.uniform(100, 250)
    out = []
    for i, m in enumerate(_made_by(lambda m: base * (1.0 + 0.5 * (m > 120)), rng)):
        slow = (i // 10) % 2 and m < slow_until
        out.append(m + (lag * rng.random() if slow else 0.0))
    return out


def frozen_in_winter(rng):
    """The mill race froze: two to four months of nothing, and a trade that grew or shrank."""
    base, idle, off = rng.uniform(20, 100), int(rng.integers(2, 5)), int(rng.integers(12))
    grows = rng.uniform(-0.003, 0.006)
    return _made_by(
        lambda m: 0.0 if (m + off) % 12 < idle else base * 2.718281828 ** (grows * m), rng
    )


def swell_before_harvest(rng):
    """Output swelled and ebbed like a wave, more in some years than in others."""
    base, off = rng.uniform(20, 100), rng.uniform(0, 12)
    strong = [rng.uniform(0.5, 1.0) for _ in range(_MONTHS // 12 + 1)]

    def rate(m):
        turn = (m + off) % 12 / 12.0
        wave = 1.0 - 2.0 * abs(2.0 * turn - 1.0)
        return base * (1.0 + strong[m // 12] * wave)

    return _made_by(rate, rng)


def season_that_moved(rng):
    """The busy half year came three months later once another market was found."""
    base, off, at = rng.uniform(20, 100), int(rng.integers(12)), int(rng.integers(90, 200))
    return _made_by(lambda m: base * (1.8 if (m + off - 3 * (m > at)) % 12 < 6 else 0.15), rng)


LOOKED_AT = {
    "seasonal": seasonal,
    "two works on one ledger": two_works_one_ledger,
    "founded small": founded_small,
}
NEVER_LOOKED_AT = {
    "finished later than numbered": finished_later,
    "a war between": war_gap,
    "a new owner begins again": restart_under_new_owner,
    "a rise and a fall": rise_and_fall,
    "made to orders": piece_work_by_orders,
}
HELD_BACK = {
    "numbered ahead and held in stock": held_in_stock,
    "a slow and a quick model": two_models_in_turn,
}
SEASONS_HELD_BACK = {
    "frozen in winter": frozen_in_winter,
    "a swell before harvest": swell_before_harvest,
    "a season that moved": season_that_moved,
}

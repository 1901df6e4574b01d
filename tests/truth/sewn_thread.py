"""A needle thread followed by hand, as it were: pulled through its discs step by step.

Nothing here is shared with the solver: the wheel is turned in quarters of a degree for three turns,
the thread lies along straight legs between points of a drawing, and whenever the way round them is
longer than the thread between discs and last stitch, the discs let the difference through.

Families: `plain` (guides below the take-up, the shuttle a lens) was looked at while the following
was made; `aside` (guides far aside, a blunt shuttle, a feed that moves early) is held back.
"""

from dataclasses import dataclass

import numpy as np
from scipy.interpolate import pchip_interpolate

FAMILIES = ("plain", "aside")


@dataclass
class Threaded:
    """What is true of a head with its thread, and what a person can measure of it."""

    head: object
    guides: list  # (aside, below the eye's highest), mm
    eye_at_plate: float
    stitch: float
    thick: float
    balance: float
    lens: tuple  # length, girth
    feed_from: float  # degrees after the needle's lowest
    degrees: np.ndarray
    slack: np.ndarray  # over the last turn
    drawn: np.ndarray
    given_out: float
    loop: list  # (past, thread round the shuttle)
    top: float = 0.0  # slack with the take-up highest


def threaded(family, head, rng, *, with_shuttle=True):
    aside = (rng.uniform(2, 10), rng.uniform(2, 10))
    if family == "aside":
        aside = (rng.uniform(20, 35), rng.uniform(15, 30))
    below = (rng.uniform(70, 90), rng.uniform(66, 90))
    bar = head.motions["needle bar"]
    stroke = np.ptp(bar)
    eye_at_plate = float(bar.min() + rng.uniform(0.45, 0.6) * stroke)
    stitch, thick = rng.uniform(1.6, 3.2), rng.uniform(0.4, 1.4)
    balance = 0.5
    run = abs(_travel(head))
    length, girth = run * rng.uniform(0.7, 0.9), rng.uniform(36.0, 60.0)
    blunt = 0.35 if family == "aside" else 0.6
    past = np.linspace(0.0, length, 9)
    round_ = girth * np.sin(np.pi * np.minimum((past / length) ** blunt, 1.0) * 0.93)
    round_[0] = 0.0
    loop = [(float(p), float(q)) for p, q in zip(past, round_, strict=True)]
    loop.append((float(length) + 1.0, 0.0))
    made = Threaded(
        head,
        list(zip(aside, below, strict=True)),
        eye_at_plate,
        stitch,
        thick,
        balance,
        (length, girth),
        rng.uniform(120, 150) if family == "aside" else rng.uniform(150, 175),
        None,
        None,
        None,
        0.0,
        loop,
    )
    _turn(made, with_shuttle)
    return made


def _travel(head):
    lowest = head.lowest("needle bar")
    after = head.at("shuttle", np.arange(head.meets_at, head.meets_at + 250.0, 0.5))
    way = after - head.meeting
    return way[np.argmax(np.abs(way))] if lowest is not None else 0.0


def _legs(made, height, highest):
    """Thread over the take-up's eye between its two guides."""
    fallen = highest - height
    return sum(np.sqrt(x * x + (y - fallen) ** 2) for x, y in made.guides)


def _turn(made, with_shuttle):
    head = made.head
    start = head.lowest("needle bar")
    highest = head.motions["take-up"].max()
    lowest = head.motions["take-up"].min()
    made.given_out = float(_legs(made, highest, highest) - _legs(made, lowest, highest))
    travel = _travel(head)
    between = None  # thread between discs and last stitch's top
    seam = 0.0  # thread that lies in the seam
    done = False
    rows = []
    for quarter in range(3 * 1440):
        after = (quarter % 1440) / 4.0
        if after == 0.0:
            done = False
            feed_done = 0.0
            locked = 0.0
        at = start + after
        eye = float(head.at("needle bar", at)) - made.eye_at_plate
        # the leg from the guide down to the eye or, with the eye above it, to the cloth's top
        doubled = 2.0 * max(made.thick - eye, 0.0)
        going_up = after < (head.highest("needle bar") - start) % 360.0
        loop = 0.0
        if with_shuttle and not done:
            past = (float(head.at("shuttle", at)) - head.meeting) * np.sign(travel)
            if (head.meets_at - start) % 360.0 <= after and past >= 0.0:
                if past >= made.loop[-1][0]:
                    done = True
                else:
                    loop = float(pchip_interpolate(*zip(*made.loop, strict=True), past))
        if going_up:
            locked = 2.0 * made.balance * made.thick
            below = max(doubled, locked, (2 * made.thick + loop) if loop > 0 else 0.0)
        else:
            below = locked + doubled
        if after > made.feed_from:
            feed_done = min((after - made.feed_from) / 60.0, 1.0)
        way = _legs(made, float(head.at("take-up", at)), highest) + below
        way += made.stitch * feed_done + seam
        if between is None:
            between = way
        drawn = max(way - between, 0.0)
        between += drawn
        rows.append((at % 360.0, between - way, drawn))
        if quarter % 1440 == 1439:
            seam += made.stitch + locked
    last = np.array(rows[2 * 1440 :])
    made.degrees, made.slack, made.drawn = last.T
    made.top = float(made.slack[np.argmax(head.at("take-up", made.degrees))])


def feed_of(made):
    """Height of the feed through a turn, at the head's own table of degrees: forward in 60."""
    start = made.head.lowest("needle bar")
    after = np.mod(made.head.degrees - start, 360.0)
    on = np.clip((after - made.feed_from) / 60.0, 0.0, 1.0)
    back = np.clip((after - made.feed_from - 120.0) / 60.0, 0.0, 1.0)
    return made.stitch * (on - back)

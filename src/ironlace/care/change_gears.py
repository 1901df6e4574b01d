"""Change gears: the trains of two or four gears that cut a pitch on a lathe.

A train cuts `lead x product of drivers / product of driven` (common practice; Jones, *Turning and
Boring*, 1914). Every train over the gears one owns is weighed, the way brute force would: for every
pair of drivers the pairs of driven gears near the wanted product are found by bisection.
"""

import itertools
import re
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Annotated

import numpy as np

from ironlace.care.errors import CareError
from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats

COMMON_MESH = "a + b > c + 15 and c + d > b + 15"
"""a drives b, c turns with b and drives d: the wheels clear the shafts (common practice)."""
MM_PER_INCH = 25.4
"""Exactly, since 1959."""
TOLD_TRAINS = 20
"""Trains told, best first: more than anybody tries on a banjo (a judgement)."""
TOLD_MESHING = 5
"""Trains told that mesh, when fewer stand among the best (a judgement)."""
JUDGED_THREADS = 10.0
"""Threads that the error is judged over where no engaged length is given (a judgement)."""
_NEIGHBOURS = 6
"""Driven pairs looked at to either side of the wanted product for a first bound on the error."""
_LEAST_TEETH, _MOST_TEETH = 8, 400
"""Of a gear that a lathe can carry (a judgement)."""
_PITCH_LOW, _PITCH_HIGH = 0.05, 50.0
"""Pitches and leads in mm that can be; beyond them a unit was mistaken (a judgement)."""


@dataclass(frozen=True)
class GearsAsked:
    """What is asked for change gears: the lead screw, the pitch wanted, the gears owned."""

    lead: Annotated[str, Ask("Lead screw", help="Such as 8 tpi, or 3 mm.")]
    gears: Annotated[tuple[int, ...], Ask("Gears, by their teeth")]
    pitch_mm: Annotated[float | None, Ask("Pitch wanted", unit="mm", low=0.05, high=50.0)] = None
    tpi: Annotated[float | None, Ask("Threads an inch wanted", low=0.5, high=500.0)] = None
    engaged_mm: Annotated[float | None, Ask("Engaged length", unit="mm", low=0.1, high=500.0)] = (
        None
    )
    mesh: Annotated[str, Ask("Rule of meshing")] = COMMON_MESH


@dataclass(frozen=True, slots=True)
class Train:
    """One train: a drives b, and c on b's shaft drives d."""

    drivers: tuple[int, ...]
    driven: tuple[int, ...]
    pitch_mm: float
    error_ppm: float
    error_over_engaged_mm: float | None
    meshes: bool


@dataclass(frozen=True, slots=True)
class Trains:
    """The trains for a pitch, best first, and whether the best is good enough.

    `allowed_mm` is the error that the thread's clearance takes up over `judged_over_mm`; `doubts`
    say what in the thread or the lead screw such machines and lathes do not have.
    """

    wanted_mm: float
    trains: tuple[Train, ...]
    judged_over_mm: float
    allowed_mm: float
    good_enough: bool
    says: str
    doubts: tuple[str, ...] = ()


def lead_mm(words: str) -> float:
    """The lead of a lead screw in mm.

    >>> lead_mm("8 tpi"), lead_mm("3 mm")
    (3.175, 3.0)
    """
    found = re.fullmatch(r"\s*(\d+(?:\.\d+)?)\s*(tpi|mm)\s*", words.casefold())
    if not found or not float(found[1]):
        raise CareError(
            f"The lead screw is '{words[:40]}': write its threads an inch or its lead, such as "
            '"8 tpi" or "3 mm".'
        )
    number = float(found[1])
    found_mm = MM_PER_INCH / number if found[2] == "tpi" else number
    if not _PITCH_LOW <= found_mm <= _PITCH_HIGH:
        raise CareError(
            f"A lead screw of {words.strip()} cannot be: check the figure and its unit."
        )
    return found_mm


def change_gears(asked: GearsAsked) -> Trains:
    """All trains of two or four gears, best first.

    Raises
    ------
    CareError
        When the lead, the pitch, the gears or the rule cannot be.
    """
    lead = lead_mm(asked.lead)
    wanted = _wanted_mm(asked)
    gears = _checked_gears(asked.gears)
    rule = mesh_rule(asked.mesh)
    ratio = wanted / lead
    found = _two(gears, ratio, rule) + _four(gears, ratio, rule)
    found.sort(
        key=lambda one: (round(abs(one[0]), 13), not one[3], len(one[1]), sum(one[1] + one[2]))
    )
    best = found[:TOLD_TRAINS]
    meshing = [one for one in found if one[3]][:TOLD_MESHING]
    best += [one for one in meshing if one not in best]
    over = asked.engaged_mm or JUDGED_THREADS * wanted
    trains = tuple(
        Train(
            drivers,
            driven,
            lead * float(np.prod(drivers)) / float(np.prod(driven)),
            round(error * 1e6, 8) + 0.0,  # what rounding leaves of nought is no error
            None if asked.engaged_mm is None else error * asked.engaged_mm,
            meshes,
        )
        for error, drivers, driven, meshes in best
    )
    allowed = allowed_error_mm(wanted)
    first = next((one for one in trains if one.meshes), None)
    good = first is not None and abs(first.error_ppm) * 1e-6 * over <= allowed
    return Trains(wanted, trains, over, allowed, good, _says(trains, first, over, allowed))


def allowed_error_mm(pitch_mm: float) -> float:
    """The pitch error over the engaged length that a thread's clearance takes up.

    An error d in pitch over the length asks for a pitch diameter smaller by 1.732 d (60 degrees);
    the clearance taken is that of ISO 965-1, position g: 15 + 11 p micrometres.

    >>> round(allowed_error_mm(1.0), 4)
    0.015
    """
    return float((15.0 + 11.0 * pitch_mm) / 1000.0 / 3.0**0.5)


def _says(trains: Sequence[Train], first: Train | None, over: float, allowed: float) -> str:
    best = trains[0]
    if first is None:
        return (
            f"No train that comes near meshes on the banjo by the rule given; the nearest, "
            f"{_named(best)}, is {best.error_ppm:+.0f} ppm out: another gear is needed."
        )
    off = abs(first.error_ppm) * 1e-6 * over
    told = f"{_named(first)}: {first.error_ppm:+.1f} ppm, {off:.4f} mm over {over:.3g} mm"
    if off > allowed:
        return (
            f"This is not good enough: the best train that meshes, {told}, and the thread's "
            f"clearance takes up {allowed:.3f} mm; another gear (127 for inch and "
            "metric) is needed."
        )
    return f"{told}; the thread's clearance takes up {allowed:.3f} mm."


def _named(train: Train) -> str:
    return " x ".join(f"{a}/{b}" for a, b in zip(train.drivers, train.driven, strict=True))


def _wanted_mm(asked: GearsAsked) -> float:
    if (asked.pitch_mm is None) == (asked.tpi is None):
        raise CareError("Give the pitch wanted once: pitch_mm or tpi, and not both.")
    wanted = asked.pitch_mm if asked.pitch_mm is not None else MM_PER_INCH / float(asked.tpi or 1)
    if not _PITCH_LOW <= wanted <= _PITCH_HIGH:
        raise CareError(f"A pitch of {wanted:g} mm cannot be: check the figure and its unit.")
    return wanted


def _checked_gears(gears: Sequence[int]) -> list[int]:
    if len(gears) < 2:
        raise CareError(
            f"The list holds {len(gears)} gear{'s' * (len(gears) != 1)}: a train needs a pair; "
            "give the teeth of each gear owned, twice when it is owned twice."
        )
    for teeth in gears:
        if not _LEAST_TEETH <= teeth <= _MOST_TEETH:
            raise CareError(
                f"A gear of {teeth} teeth cannot be: give whole numbers from {_LEAST_TEETH} to "
                f"{_MOST_TEETH}."
            )
    if len(gears) > _MOST_TEETH:
        raise CareError(f"{len(gears)} gears are listed: give at most {_MOST_TEETH}.")
    return sorted(gears)


_Found = tuple[float, tuple[int, ...], tuple[int, ...], bool]
Rule = Callable[[int, int, int, int], bool]


def _two(gears: Sequence[int], ratio: float, rule: Rule) -> list[_Found]:
    """Trains of two gears: an idler between them bridges any distance, so all of them mesh."""
    del rule
    pairs = dict.fromkeys(itertools.permutations(gears, 2))
    return [(a / b / ratio - 1.0, (a,), (b,), True) for a, b in pairs]


def _four(gears: Sequence[int], ratio: float, rule: Rule) -> list[_Found]:
    """The trains of four gears nearest to a ratio: the best of all, and the best that mesh."""
    if len(gears) < 4:
        return []
    teeth = np.array(gears, np.int64)
    first, second = np.triu_indices(len(gears), 1)
    product = (teeth[first] * teeth[second]).astype(np.float64)
    order = np.argsort(product, kind="stable")
    first, second, product = first[order], second[order], product[order]
    wanted = product / ratio
    middle = np.searchsorted(product, wanted)
    near = np.clip(
        middle[:, None] + np.arange(-_NEIGHBOURS, _NEIGHBOURS), 0, len(product) - 1
    ).ravel()
    drivers = np.repeat(np.arange(len(product)), 2 * _NEIGHBOURS)
    kept = _apart(first, second, drivers, near)
    errors = np.sort(np.abs(product[drivers] / product[near] / ratio - 1.0)[kept])
    for more in (20, 200, 2000):
        # a bound that so many trains lie within; each train comes several times, by its arrangement
        bound = float(errors[min(len(errors) - 1, TOLD_TRAINS * more)]) if len(errors) else 1.0
        found = _within(teeth, (first, second, product), ratio, max(bound, 1e-12), rule)
        if sum(one[3] for one in found) >= TOLD_MESHING or bound >= 1.0:
            break
        if len(errors) <= TOLD_TRAINS * more:
            break
    return found


def _apart(
    first: np.ndarray, second: np.ndarray, drivers: np.ndarray, driven: np.ndarray
) -> np.ndarray:
    """Whether two pairs share no gear."""
    kept: np.ndarray = (
        (first[drivers] != first[driven])
        & (first[drivers] != second[driven])
        & (second[drivers] != first[driven])
        & (second[drivers] != second[driven])
    )
    return kept


def _within(
    teeth: np.ndarray,
    pairs: tuple[np.ndarray, np.ndarray, Floats],
    ratio: float,
    bound: float,
    rule: Rule,
) -> list[_Found]:
    """Every train of four gears whose error is within a bound, each in an order that meshes."""
    first, second, product = pairs
    low = np.searchsorted(product, product / (ratio * (1.0 + bound * (1 + 1e-9) + 1e-15)))
    high = np.searchsorted(
        product, product / (ratio * max(1.0 - bound * (1 + 1e-9), 1e-9)), "right"
    )
    count = np.maximum(high - low, 0)
    drivers = np.repeat(np.arange(len(product)), count)
    driven = np.arange(count.sum()) - np.repeat(np.cumsum(count) - count, count) + low[drivers]
    kept = _apart(first, second, drivers, driven)
    drivers, driven = drivers[kept], driven[kept]
    error = product[drivers] / product[driven] / ratio - 1.0
    best = np.argsort(np.abs(error), kind="stable")[: 400 * TOLD_TRAINS]
    found: dict[tuple[int, ...], _Found] = {}
    for n in best:
        a, c = int(teeth[first[drivers[n]]]), int(teeth[second[drivers[n]]])
        b, d = int(teeth[first[driven[n]]]), int(teeth[second[driven[n]]])
        if (a, c, b, d) not in found:
            found[a, c, b, d] = (float(error[n]), *_arranged(a, b, c, d, rule))
    return list(found.values())


def _arranged(
    a: int, b: int, c: int, d: int, rule: Rule
) -> tuple[tuple[int, ...], tuple[int, ...], bool]:
    """Drivers and driven in the first order that meshes, if there is one."""
    for (p, q), (r, s) in itertools.product(((a, c), (c, a)), ((b, d), (d, b))):
        if rule(p, r, q, s):
            return (p, q), (r, s), True
    return (a, c), (b, d), False


_SUM = r"\s*(?:[abcd]|\d{1,4})(?:\s*[+-]\s*(?:[abcd]|\d{1,4}))*\s*"
_PART = re.compile(rf"({_SUM})(>=|<=|>|<)({_SUM})")


def mesh_rule(words: str) -> Rule:
    """A rule of meshing from its words: comparisons of sums of a, b, c, d, joined by `and`.

    >>> mesh_rule("a + b > c + 15 and c + d > b + 15")(40, 60, 50, 80)
    True
    """
    parts = []
    for part in re.split(r"\band\b", words):
        found = _PART.fullmatch(part)
        if not found:
            raise CareError(
                f"The rule of meshing '{words[:80]}' cannot be read: write comparisons of sums of "
                f"a, b, c, d, such as {COMMON_MESH}."
            )
        parts.append((_sum(found[1]), found[2], _sum(found[3])))

    def rule(a: int, b: int, c: int, d: int) -> bool:
        at = {"a": a, "b": b, "c": c, "d": d, "1": 1}
        for left, sign, right in parts:
            apart = sum(k * at[x] for k, x in left) - sum(k * at[x] for k, x in right)
            strict = len(sign) == 1
            apart = apart if sign[0] == ">" else -apart
            if apart < 0 or (strict and apart == 0):
                return False
        return True

    return rule


def _sum(words: str) -> tuple[tuple[int, str], ...]:
    told = []
    for sign, term in re.findall(r"([+-]?)\s*([abcd]|\d+)", words):
        k = -1 if sign == "-" else 1
        told.append((k, term) if term in "abcd" else (k * int(term), "1"))
    return tuple(told)

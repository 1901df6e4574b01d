"""A base for a head: how high it must be, what it weighs with the head, at what lean it goes over.

One case holds the bed's outline, readings of the works, the base's measures, a weighing and the
crank; one function works out all of it. Axes: x along the bed to the sewer's right, y away from the
sewer, z up; z is 0 at the seat, the underside of the bed's rim, and for leans at the table.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

import numpy as np

from ironlace.evidence.analyses import Ask
from ironlace.evidence.arrays import Floats
from ironlace.evidence.wording import capital
from ironlace.stand.base_holes import (
    BedHole,
    HoleSeen,
    holes_in_words,
    holes_over,
    holes_told,
)
from ironlace.stand.base_shape import BaseShape, base_mass, base_shape, bed_polygon
from ironlace.stand.errors import StandError
from ironlace.stand.tipping import FeetEdge, Hand, Turning, feet_edges, tipping_leans, worst_moment
from ironlace.stand.weighing import Balance, Weighing, balance_of
from ironlace.stand.works import Works, WorksReading, side_distances, sweep_of, works_doubts

_TAIL = 0.05
"""Share of a 90 % interval that lies below its low end, and above its high end."""

LEAST_NM = 0.09
"""A torque by hand below this turns no sewing head: then a force was not in newtons (a judgement;
heads in order take 0.2 to 1.5 N m)."""

_DRAWS = 2000
"""Draws of mass and centre for the leans: an interval's end is then known to 3 % of its width."""

_WIDER_MM = 20.0
"""By how much feet are tried further out, and how much is tried as ballast below."""

_BALLAST_G = 2000.0
"""Ballast that is tried on the floor of the base: a slab of iron that two hands carry."""

_UNSAFE_DEG = 10.0
"""A lean that a table may take when it is moved or leaned on (IEC 60335-1, clause 20.1, tests
household appliances tilted so far: from memory)."""

_TOO_NEAR = "Too near"
"""How the warning begins that goes before the answer."""

_WORTH_DEG = 0.05
"""A gain in lean that is told: a tenth of a degree, rounded."""

_Length = Annotated[float, Ask("Length", unit="mm", low=0.0, high=1000.0)]
_Place = Annotated[float, Ask("Place", unit="mm", low=-2000.0, high=2000.0)]


@dataclass(frozen=True, slots=True)
class OutlinePoint:
    """A point of the bed's outline, in the order round the rim."""

    x_mm: _Place
    y_mm: _Place


@dataclass(frozen=True, slots=True)
class Bed:
    """The bed: its outline and the works below it."""

    outline: Annotated[tuple[OutlinePoint, ...], Ask("Outline", table=True)]
    works: Annotated[tuple[WorksReading, ...], Ask("Works", table=True)]
    reading_sd_mm: Annotated[float, Ask("Error", unit="mm", low=0.01, high=10.0)] | None = None
    wheel_sd_deg: Annotated[float, Ask("Error", unit="degrees", low=0.0, high=20.0)] = 1.5
    holes: Annotated[tuple[BedHole, ...], Ask("Holes", table=True)] = ()


@dataclass(frozen=True, slots=True)
class BaseMeasures:
    """What the base is to be."""

    ledge_mm: _Length
    overhang_mm: _Length
    wall_mm: Annotated[float, Ask("Wall", unit="mm", low=1.0, high=200.0)]
    floor_mm: _Length
    density_kg_m3: Annotated[float, Ask("Density", unit="kg/m3", low=50.0, high=12_000.0)]
    clearance_below_mm: _Length
    clearance_side_mm: _Length
    feet: tuple[tuple[_Place, _Place], ...]
    feet_friction: Annotated[float, Ask("Friction", low=0.0, high=2.0)] | None = None


@dataclass(frozen=True, slots=True)
class CrankOnBase:
    """The crank as far as it matters to height and tipping."""

    radius_mm: Annotated[float, Ask("Radius", unit="mm", low=1.0, high=500.0)]
    axis_above_seat_mm: Annotated[float, Ask("Axis", unit="mm", low=-100.0, high=1000.0)]
    handle_x_mm: _Place
    axis_y_mm: _Place
    handle_radius_mm: _Length
    knuckles_mm: _Length
    hand_force_N: Annotated[float, Ask("Force", unit="N", low=0.0, high=500.0)]  # noqa: N815
    turning: Turning


@dataclass(frozen=True, slots=True)
class BaseCase:
    """A whole case for `base`; mass and centre may stand at its head instead of a weighing."""

    bed: Bed
    base: BaseMeasures
    weighing: Weighing | None = None
    crank: CrankOnBase | None = None
    mass_g: Annotated[float, Ask("Mass", unit="g", low=100.0, high=200_000.0)] | None = None
    centre_mm: tuple[float, float, float] | None = None


@dataclass(frozen=True, slots=True)
class Span:
    """A value with the ends of its 90 % interval."""

    low: float
    value: float
    high: float

    @classmethod
    def of(cls, drawn: Floats, value: float | None = None) -> "Span":
        """The span of what was drawn; its middle is the median where no value is given."""
        low, middle, high = np.quantile(drawn, [_TAIL, 0.5, 1.0 - _TAIL])
        middle = middle if value is None else value
        return cls(float(min(low, middle)), float(middle), float(max(high, middle)))

    def as_list(self) -> list[float]:
        """As `[low, value, high]`."""
        return [self.low, self.value, self.high]


@dataclass(frozen=True)
class LeanOverEdge:
    """How far it leans over one edge of the feet before it goes over."""

    outward: tuple[float, float]
    free_deg: Span
    left_deg: Span
    slides_first: bool | None


@dataclass(frozen=True)
class ReadyAnswer:
    """What a change would give: the least lean of all edges, before and after."""

    words: str
    free_deg: float
    left_deg: float


@dataclass(frozen=True)
class BaseFound:
    """A base worked out; `side_least` negative where the works pass outside the opening.

    `heads` are draws of the head's mass (g) and centre (mm), shape (draws, 4), its mean first.
    """

    case: BaseCase
    shape: BaseShape
    works: Works
    depth: Span
    inner_depth_mm: float
    height_mm: float
    height_set_by: str
    side_least: Span
    side_point: str
    balance: Balance
    mass: Span
    centre: tuple[Span, Span, Span]
    base_mass_g: float
    base_centre_mm: tuple[float, float, float]
    edges: tuple[LeanOverEdge, ...]
    answers: tuple[ReadyAnswer, ...]
    warnings: tuple[str, ...]
    heads: Floats
    holes: tuple[HoleSeen, ...] = ()


@dataclass(frozen=True)
class _Read:
    """What was read of a head, whatever it stands on."""

    works: Works
    depth: Span
    side_least: Span
    side_point: str
    balance: Balance
    heads: Floats


def work_out_base(case: BaseCase, rng: np.random.Generator) -> BaseFound:
    """Work out a base.

    Parameters
    ----------
    rng
        Draws the curves and centres that intervals are taken from.

    Raises
    ------
    StandError
        When outline, works, weighing or feet cannot be, or the whole falls over by itself.
    """
    works = sweep_of(case.bed.works, rng, case.bed.wheel_sd_deg, case.bed.reading_sd_mm)
    shape = _shape(case)
    sides, side_point = side_distances(works, shape.opening)
    balance = balance_of(_weighing(case))
    heads = rng.multivariate_normal(balance.mean, balance.covariance, _DRAWS, method="eigh")
    heads[0] = balance.mean
    read = _Read(works, Span.of(works.depths_mm), Span.of(sides), side_point, balance, heads)
    return _stood(case, shape, read)


def stood_otherwise(found: BaseFound, measures: BaseMeasures) -> BaseFound:
    """The same head on a base of other measures: nothing is read again, so it answers at once.

    Raises
    ------
    StandError
        When such a base cannot be, or falls over by itself.
    """
    case = replace(found.case, base=measures)
    shape = _shape(case)
    side_least, side_point = found.side_least, found.side_point
    if measures.ledge_mm != found.case.base.ledge_mm:
        sides, side_point = side_distances(found.works, shape.opening)
        side_least = Span.of(sides)
    read = _Read(found.works, found.depth, side_least, side_point, found.balance, found.heads)
    return _stood(case, shape, read)


def _shape(case: BaseCase) -> BaseShape:
    measures = case.base
    bed = bed_polygon(np.array([(one.x_mm, one.y_mm) for one in case.bed.outline]))
    return base_shape(bed, measures.ledge_mm, measures.overhang_mm, measures.wall_mm)


def _stood(case: BaseCase, shape: BaseShape, read: _Read) -> BaseFound:
    measures, heads, balance = case.base, read.heads, read.balance
    inner = read.depth.value + measures.clearance_below_mm
    height, set_by = _height(measures.floor_mm + inner, case.crank)
    own, own_centre = base_mass(shape, height, measures.floor_mm, measures.density_kg_m3)
    edges = feet_edges(np.array(measures.feet))
    hand = _hand(case.crank, height)
    total, centre = _whole(heads, height, own, own_centre)
    _check_stands(edges, centre[0])
    return BaseFound(
        case,
        shape,
        read.works,
        read.depth,
        inner,
        height,
        set_by,
        read.side_least,
        read.side_point,
        balance,
        Span.of(heads[:, 0], float(balance.mean[0])),
        _three(heads, balance.mean),
        own,
        (float(own_centre[0]), float(own_centre[1]), float(own_centre[2])),
        tuple(_lean(edge, hand, total, centre, measures.feet_friction) for edge in edges),
        _answers(measures, hand, (heads[:1], height, own, own_centre)),
        _warnings(case, read.works, balance, read.side_least, read.side_point),
        heads,
        holes_over(case.bed.holes, shape),
    )


def _weighing(case: BaseCase) -> Weighing:
    at_head = case.mass_g is not None or case.centre_mm is not None
    if case.weighing is not None and at_head:
        raise StandError(
            "Mass or centre is typed and there is a [weighing] as well: keep one of the two."
        )
    if case.weighing is not None:
        return case.weighing
    if not at_head:
        raise StandError(
            "There is no [weighing]: weigh the head on two edges, or give mass_g and centre_mm."
        )
    return Weighing(mass_g=case.mass_g, centre_mm=case.centre_mm)


def _height(by_works: float, crank: CrankOnBase | None) -> tuple[float, str]:
    if crank is None:
        return by_works, "works"
    by_crank = (
        crank.radius_mm + crank.handle_radius_mm + crank.knuckles_mm - crank.axis_above_seat_mm
    )
    return (by_crank, "crank") if by_crank > by_works else (by_works, "works")


def _hand(crank: CrankOnBase | None, height: float) -> Hand | None:
    if crank is None:
        return None
    by_hand = crank.hand_force_N * crank.radius_mm / 1000.0
    if by_hand < LEAST_NM:
        raise StandError(
            f"A hand that pulls {crank.hand_force_N:g} N at {crank.radius_mm:g} mm turns with "
            f"{by_hand:.2g} N m, and no sewing head turns with less than {LEAST_NM:g}: was the "
            "force read in kgf (1 kgf is 9.81 N), or not read? Measure it, or leave [crank] out."
        )
    return Hand(
        crank.radius_mm,
        crank.axis_y_mm,
        crank.axis_above_seat_mm + height,
        crank.handle_x_mm,
        crank.hand_force_N,
        crank.turning,
    )


def _whole(heads: Floats, height: float, own: float, own_centre: Floats) -> tuple[Floats, Floats]:
    """Mass and centre of head and base together, z from the table, for each draw of the head."""
    mass = heads[:, 0]
    on_table = heads[:, 1:] + [0.0, 0.0, height]
    total = mass + own
    centre: Floats = (mass[:, None] * on_table + own * own_centre) / total[:, None]
    return total, centre


def _check_stands(edges: Sequence[FeetEdge], centre: Floats) -> None:
    out = max(float(edge.outward @ centre[:2]) - edge.reach_mm for edge in edges)
    if out >= 0.0:
        raise StandError(
            f"It falls over by itself: the centre of head and base lies {out:.1f} mm outside the "
            "outline of the feet: set the feet further out."
        )


def _three(heads: Floats, mean: Floats) -> tuple[Span, Span, Span]:
    x, y, z = (Span.of(heads[:, n], float(mean[n])) for n in (1, 2, 3))
    return x, y, z


def _lean(
    edge: FeetEdge, hand: Hand | None, total: Floats, centre: Floats, friction: float | None
) -> LeanOverEdge:
    free = tipping_leans(edge, total, centre, 0.0)
    moment = 0.0 if hand is None else worst_moment(edge, hand)
    left = tipping_leans(edge, total, centre, moment)
    slides = None
    if friction is not None:
        slides = bool(friction < np.tan(np.deg2rad(free[0])))
    return LeanOverEdge(
        (float(edge.outward[0]) + 0.0, float(edge.outward[1]) + 0.0),  # no minus before a nought
        Span.of(free, float(free[0])),
        Span.of(left, float(left[0])),
        slides,
    )


def _answers(
    measures: BaseMeasures, hand: Hand | None, whole: tuple[Floats, float, float, Floats]
) -> tuple[ReadyAnswer, ...]:
    """What wider feet or a heavier base would give, for the side that goes over first."""
    heads, height, own, own_centre = whole
    feet = np.array(measures.feet)
    middle = feet.mean(axis=0)

    def least(feet: Floats, extra_g: float = 0.0) -> tuple[float, float]:
        mass = own + extra_g
        low = np.array([*middle, measures.floor_mm])
        centre_own = (own * own_centre + extra_g * low) / mass if mass else own_centre
        total, centre = _whole(heads, height, mass, centre_own)
        leans = [
            tuple(
                float(tipping_leans(edge, total, centre, moment)[0])
                for moment in (0.0, 0.0 if hand is None else worst_moment(edge, hand))
            )
            for edge in feet_edges(feet)
        ]
        return min(free for free, _ in leans), min(left for _, left in leans)

    further = np.sign(feet - middle) * _WIDER_MM
    tried = (
        (f"{_WIDER_MM:g} mm further out behind", feet + further * [0, 1] * (further > 0), 0.0),
        (f"{_WIDER_MM:g} mm further out in front", feet + further * [0, 1] * (further < 0), 0.0),
        (f"{_WIDER_MM:g} mm further out at either end", feet + further * [1, 0], 0.0),
        (f"{_BALLAST_G / 1000:g} kg on the floor of the base", feet, _BALLAST_G),
    )
    before = least(feet)
    made = [ReadyAnswer("as it is", *before)]
    for words, moved, extra in tried:
        made.append(ReadyAnswer(words, *least(moved, extra)))
    return tuple(made)


def _warnings(
    case: BaseCase, works: Works, balance: Balance, side: Span, side_point: str
) -> tuple[str, ...]:
    said = [*works.warnings, *balance.warnings]
    wanted = case.base.clearance_side_mm
    if side.value < wanted:
        said.insert(
            0,
            f"{_TOO_NEAR}: '{side_point[:40]}' comes within {side.value:.1f} mm of the opening's "
            f"edge, and {wanted:g} mm are wanted: make the ledge narrower there.",
        )
    elif side.low < wanted:
        said.insert(
            0,
            f"'{side_point[:40]}' comes within {side.value:.1f} mm of the opening's edge, "
            f"{side.low:.1f} mm at worst, and {wanted:g} mm are wanted: read it again there.",
        )
    return tuple(said)


def base_told(found: BaseFound) -> dict[str, Any]:  # dict: plain JSON
    """The answer as plain figures, by the names that scripts rely on."""
    return {
        "works_depth_mm": found.depth.as_list(),
        "deepest_point": found.works.deepest_point,
        "deepest_wheel_deg": found.works.deepest_wheel_deg,
        "inner_depth_mm": found.inner_depth_mm,
        "height_mm": found.height_mm,
        "height_set_by": found.height_set_by,
        "side_least_mm": found.side_least.value,
        "side_least_interval_mm": found.side_least.as_list(),
        "side_point": found.side_point,
        "side_too_near": found.side_least.value < found.case.base.clearance_side_mm,
        "misread": [
            {"point": one.point, "wheel_deg": one.wheel_deg} for one in found.works.misread
        ],
        "mass_g": found.mass.as_list(),
        "cg_mm": [one.as_list() for one in found.centre],
        "base_mass_g": found.base_mass_g,
        "edges": [
            {
                "outward": list(one.outward),
                "free_deg": one.free_deg.as_list(),
                "left_deg": one.left_deg.as_list(),
                "slides_first": one.slides_first,
            }
            for one in found.edges
        ],
        "ready_answers": [
            {"change": one.words, "free_deg": one.free_deg, "left_deg": one.left_deg}
            for one in found.answers
        ],
        "holes": holes_told(found.holes),
        "warnings": list(found.warnings),
    }


def base_in_words(found: BaseFound) -> list[str]:
    """The answer in sentences: what is wrong, the height and what sets it, the leans, the rest."""
    depth, worst = found.depth, min(found.edges, key=lambda edge: edge.left_deg.value)
    wheel = found.works.deepest_wheel_deg
    at = "" if wheel is None else f" at {wheel:.0f}° of the wheel"
    side = _side(worst.outward)
    lean = worst.left_deg
    first = works_doubts(found.works)
    said = [*found.balance.doubts, *first]
    if lean.value <= 0.0:
        said.append(f"The hand alone can tip it {side}: set the feet further out or weight it.")
    said += [one for one in found.warnings if one.startswith(_TOO_NEAR)]
    said.append(
        f"The base must be {found.height_mm:.1f} mm high from table to seat; the "
        f"{found.height_set_by} set it: they reach {depth.value:.1f} mm below the seat (90 %: "
        f"{depth.low:.1f} to {depth.high:.1f}), deepest at '{found.works.deepest_point}'{at}."
        if found.height_set_by == "works"
        else f"The base must be {found.height_mm:.1f} mm high from table to seat; the crank sets "
        f"it. The works reach {depth.value:.1f} mm below the seat (90 %: {depth.low:.1f} to "
        f"{depth.high:.1f}), deepest at '{found.works.deepest_point}'{at}."
    )
    with_hand = "" if found.case.crank is None else ", with a hand at the crank's worst place"
    said.append(
        f"It goes over {side} first{with_hand}: at a lean of {lean.value:.1f}° (90 %: "
        f"{lean.low:.1f} to {lean.high:.1f})."
    )
    before = found.answers[0]
    more = [
        f"{one.words}: {one.left_deg - before.left_deg:.1f} degrees more"
        for one in found.answers[1:]
        if one.left_deg - before.left_deg >= _WORTH_DEG
    ]
    if more:
        said.append(f"{capital('; '.join(more))}.")
    if 0.0 < lean.low < _UNSAFE_DEG:
        said.append(f"Less than {_UNSAFE_DEG:g}° is little for a table that is moved.")
    z = found.centre[2]
    said.append(
        f"The head weighs {found.mass.value / 1000:.2f} kg, its centre {z.value:.0f} mm above the "
        f"seat (90 %: {z.low:.0f} to {z.high:.0f})."
    )
    said += holes_in_words(found.holes)
    later = (one for one in found.warnings if not one.startswith(_TOO_NEAR) and one not in first)
    return [*said, *later]


def side_in_words(outward: tuple[float, float]) -> str:
    """To which side an edge of the feet looks."""
    return _side(outward)


def _side(outward: tuple[float, float]) -> str:
    x, y = outward
    if abs(y) >= abs(x):
        return "away from the sewer" if y > 0 else "toward the sewer"
    return "to the sewer's right" if x > 0 else "to the sewer's left"


__all__ = [
    "BaseCase",
    "BaseFound",
    "base_in_words",
    "base_told",
    "stood_otherwise",
    "work_out_base",
]

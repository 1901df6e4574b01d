"""A base for the machine of a record: height, leans, elevations, cutting list, drawing."""

import csv
import io
from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any, Final, Literal

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, AskedError, Known, grade_of
from ironlace.evidence.answers import Answer, MadeFile, PlotsWhenSeen, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.photographs import GivenLens, StripLayout
from ironlace.photographs.scale_strip import strip_sheet
from ironlace.stand.base import (
    BaseCase,
    BaseFound,
    BaseMeasures,
    Bed,
    CrankOnBase,
    OutlinePoint,
    Span,
    base_in_words,
    base_told,
    side_in_words,
    work_out_base,
)
from ironlace.stand.base_drawing import base_dxf, base_svg, cutting_list, cutting_told
from ironlace.stand.base_holes import BedHole
from ironlace.stand.base_moved import NO_CRANK, feet_of_words
from ironlace.stand.base_shape import base_shape, bed_polygon
from ironlace.stand.bed_outline import (
    BedOutline,
    OutlineCase,
    find_outline,
    in_bed_axes,
)
from ironlace.stand.elevations import VIEWS, OnItsBase, elevation, silhouette_doubts
from ironlace.stand.errors import StandError
from ironlace.stand.silhouette import Silhouette, silhouette_of
from ironlace.stand.weighing import Weighing
from ironlace.stand.weighing_analysis import ON_EDGES, THAT_CHECK, weighing_on_edges
from ironlace.stand.works import WorksReading

_COVERAGE: Final = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""
_MOST_HOLES: Final = 50
"""Of a bed: more are no screw holes (a judgement)."""
_KEPT_POINTS: Final = 5000
"""Of a pasted outline: a scan's has a few hundred (a judgement)."""


@dataclass(frozen=True)
class BedPicture:
    """The photograph of the bed on its marker sheet: what opens it, None where there is none."""

    opens: Callable[[], NDArray[np.uint8]] | None = None


def _mm(
    words: str,
    example: str,
    hint: str = "",
    low: float = 0.0,
    *,
    usual: tuple[float, float] | None = None,
) -> Any:
    return Ask(words, hint, unit="mm", low=low, high=2000.0, example=example, usual=usual)


def _g(words: str, example: str, usual: tuple[float, float]) -> Any:
    return Ask(words, unit="g", low=1.0, high=200_000.0, example=example, usual=usual)


@dataclass(frozen=True)
class BaseAsked:
    """What is asked for a base; the bed's outline is photographed or pasted."""

    works: Annotated[
        str,
        Ask(
            "Readings of the works",
            "A line each: point,wheel_deg,x_mm,y_mm,z_mm from the middle of the bed, z negative "
            "below the seat; wheel_deg empty for what does not move.",
            long=True,
            table=True,
            example="point,wheel_deg,x_mm,y_mm,z_mm\nfeed bracket,,-85,31.5,-33.4",
            usual_cells=usual_figures.WORKS_MM,
        ),
    ]
    outline: Annotated[
        str,
        Ask(
            "Outline of the bed",
            "CSV x_mm,y_mm round the rim; left empty, it is found in the photograph.",
            long=True,
            table=True,
            usual_cells=usual_figures.RIM_MM,
        ),
    ] = ""
    photograph: Annotated[
        str, Ask("Photograph of the bed on its strip", names="photograph", pointed=True)
    ] = ""
    strip: Annotated[
        Literal["frame", "corner", "wrap", "strip"],
        Ask(
            "Which strip lies there",
            choices={
                "frame": "the frame",
                "corner": "the corner",
                "wrap": "the wrap",
                "strip": "the plain strip",
            },
        ),
    ] = "frame"
    rim_above: Annotated[
        Known | None,
        _mm("Rim above the strip", "22.5 mm", "Negative if it lies lower.", low=-300.0),
    ] = None
    seen_from: Annotated[
        Literal["", "above", "below"],
        Ask(
            "Photographed from",
            choices={"": "not said", "above": "above", "below": "below: it is turned round"},
        ),
    ] = ""
    lens: Annotated[
        str,
        Ask(
            "Lens of that photograph",
            "The text that the page of lenses gives; left out, it is estimated.",
            long=True,
            more=True,
        ),
    ] = ""
    layout: Annotated[
        str,
        Ask(
            "Another sheet's markers",
            "CSV with dictionary,id,corner,x_mm,y_mm.",
            long=True,
            more=True,
        ),
    ] = ""
    holes: Annotated[
        str,
        Ask(
            "Holes the bed already has",
            "A line each: name,x_mm,y_mm,diameter_mm from the middle of the bed; those that lie "
            "over wood may take a screw.",
            long=True,
            table=True,
            example="name,x_mm,y_mm,diameter_mm\nfront left,-104,-62,5.2",
            usual_cells=usual_figures.HOLES_MM,
        ),
    ] = ""
    ledge: Annotated[
        float, _mm("Ledge that carries the rim", "8", usual=usual_figures.BOARD_MM)
    ] = 8.0
    overhang: Annotated[
        float, _mm("Overhang beyond the bed", "14", usual=usual_figures.OVERHANG_MM)
    ] = 14.0
    wall: Annotated[float, _mm("Walls", "10", low=1.0, usual=usual_figures.BOARD_MM)] = 10.0
    floor: Annotated[float, _mm("Floor", "6", usual=usual_figures.BOARD_MM)] = 6.0
    below: Annotated[float, _mm("Clearance below the works", "8", usual=usual_figures.BOARD_MM)] = (
        8.0
    )
    beside: Annotated[float, _mm("Clearance beside them", "5", usual=usual_figures.BOARD_MM)] = 5.0
    feet_in: Annotated[
        float,
        _mm("Feet in from the base's corners", "10", "Negative: further out.", low=-300.0),
    ] = 10.0
    feet: Annotated[
        str,
        Ask(
            "Or each foot's place",
            "x_mm,y_mm from the middle of the bed, a line each; goes before the line above.",
            long=True,
            example="-120,-80",
        ),
    ] = ""
    density: Annotated[
        float,
        Ask(
            "Density of the wood",
            "Oak 700, pine 500, kg/m³.",
            unit="kg/m3",
            low=50.0,
            high=12_000.0,
            example="650",
            usual=usual_figures.WOOD_KG_M3,
        ),
    ] = 650.0
    friction: Annotated[
        float | None,
        Ask(
            "Friction of the feet",
            "Rubber 0.6, felt 0.3.",
            low=0.0,
            high=2.0,
            example="0.4",
            usual=usual_figures.SLIDING_FRICTION,
        ),
    ] = None
    left: Annotated[
        Known | None, _g("Scale under the left edge", "4117 g", usual=usual_figures.EDGE_G)
    ] = None
    right: Annotated[
        Known | None, _g("Scale under the right edge", "8559 g", usual=usual_figures.EDGE_G)
    ] = None
    apart_x: Annotated[
        Known | None, _mm("From left to right edge", "228 mm", usual=usual_figures.BED_MM)
    ] = None
    front: Annotated[
        Known | None, _g("Scale under the front edge", "6757 g", usual=usual_figures.EDGE_G)
    ] = None
    back: Annotated[
        Known | None, _g("Scale under the back edge", "5906 g", usual=usual_figures.EDGE_G)
    ] = None
    apart_y: Annotated[
        Known | None, _mm("From front to back edge", "152 mm", usual=usual_figures.BED_MM)
    ] = None
    tilt: Annotated[
        Known | None,
        Ask(
            "Tilt",
            "The back edge lifted.",
            unit="°",
            low=0.0,
            high=90.0,
            example="19 deg",
            usual=usual_figures.EDGES_TILT_DEG,
        ),
    ] = None
    tilted: Annotated[
        Known | None, _g("Scale when tilted", "2442 g", usual=usual_figures.EDGE_G)
    ] = None
    other_tilt: Annotated[
        Known | None,
        Ask(
            "Tilt with the front edge lifted",
            "It shows edges changed round and a tilt not counted from level.",
            unit="°",
            low=0.0,
            high=90.0,
            example="18 deg",
            usual=usual_figures.EDGES_TILT_DEG,
        ),
    ] = None
    other_tilted: Annotated[
        Known | None, _g("Scale under the front edge then", "3480 g", usual=usual_figures.EDGE_G)
    ] = None
    whole: Annotated[
        Known | None, _g("The whole head on the scale", "12670 g", usual=usual_figures.HEAD_G)
    ] = None
    scatter: Annotated[
        float,
        Ask(
            "Scatter of the scale",
            "One standard deviation of a reading taken again.",
            unit="g",
            low=0.0,
            high=5000.0,
            example="5",
            more=True,
        ),
    ] = 5.0
    mass: Annotated[Known | None, _g("Mass of the head", "12.7 kg", usual=usual_figures.HEAD_G)] = (
        None
    )
    centre_x: Annotated[
        Known | None, _mm("Its centre, to the right of the middle", "10 mm", low=-2000.0)
    ] = None
    centre_y: Annotated[Known | None, _mm("Its centre, behind it", "-4 mm", low=-2000.0)] = None
    centre_z: Annotated[
        Known | None, _mm("Its centre, above the seat", "120 mm", usual=usual_figures.CENTRE_MM)
    ] = None
    crank_radius: Annotated[
        Known | None, _mm("Crank, axis to handle", "55.4 mm", usual=usual_figures.CRANK_MM)
    ] = None
    crank_height: Annotated[
        Known | None,
        _mm("Its axis above the seat", "119 mm", low=-100.0, usual=usual_figures.CRANK_HEIGHT_MM),
    ] = None
    crank_x: Annotated[
        Known | None, _mm("Its handle, to the right of the middle", "149.7 mm", low=-2000.0)
    ] = None
    crank_y: Annotated[Known | None, _mm("Its axis, behind the middle", "-1.2 mm", low=-2000.0)] = (
        None
    )
    handle_radius: Annotated[
        float, _mm("Radius of the handle", "11", usual=usual_figures.HAND_MM)
    ] = 11.0
    knuckles: Annotated[float, _mm("Knuckles round it", "25", usual=usual_figures.HAND_MM)] = 25.0
    force: Annotated[
        Known | None,
        Ask(
            "Force of the hand",
            unit="N",
            low=0.0,
            high=500.0,
            example="14.6 N",
            usual=usual_figures.HAND_N,
        ),
    ] = None
    turning: Annotated[
        Literal["", "top away from the sewer", "top toward the sewer"],
        Ask(
            "The top of the wheel turns",
            choices={
                "": "not said",
                "top away from the sewer": "away from the sewer",
                "top toward the sewer": "toward the sewer",
            },
        ),
    ] = ""
    front_photograph: Annotated[
        str, Ask("Photograph from the front", names="photograph", pointed=True)
    ] = ""
    front_touches: Annotated[
        str, Ask("Touches on it", "what,x_px,y_px", long=True, table=True, pointed=True)
    ] = ""
    front_seat: Annotated[
        Known | None,
        _mm(
            "Between the ends touched on the seat, front",
            "280 mm",
            "Left out: the bed's length.",
            usual=usual_figures.BED_MM,
        ),
    ] = None
    front_upright: Annotated[
        Known | None, _mm("The height touched, front", "230 mm", usual=usual_figures.BED_MM)
    ] = None
    side_photograph: Annotated[
        str, Ask("Photograph from the sewer's right", names="photograph", pointed=True)
    ] = ""
    side_touches: Annotated[
        str, Ask("Touches on it", "what,x_px,y_px", long=True, table=True, pointed=True)
    ] = ""
    side_seat: Annotated[
        Known | None,
        _mm(
            "Between the ends touched on the seat, side",
            "160 mm",
            "Left out: the bed's depth.",
            usual=usual_figures.BED_MM,
        ),
    ] = None
    side_upright: Annotated[
        Known | None, _mm("The height touched, side", "230 mm", usual=usual_figures.BED_MM)
    ] = None
    other_overhang: Annotated[
        float | None, _mm("A second base: overhang", "25", usual=usual_figures.OVERHANG_MM)
    ] = None
    other_below: Annotated[
        float | None, _mm("A second base: clearance below", "30", usual=usual_figures.BOARD_MM)
    ] = None
    seed: Annotated[
        int,
        Ask("Seed", "Of the draws that intervals are taken from.", low=0, example="1", more=True),
    ] = 1893


@dataclass(frozen=True)
class BaseAnswered:
    """A base worked out from what was asked; `outline` is None where it was pasted."""

    asked: BaseAsked
    found: BaseFound
    machines: tuple[OnItsBase, ...]
    outline: BedOutline | None
    picture: NDArray[np.uint8] | None = None


def base(inputs: BedPicture, asked: BaseAsked, steps: Steps) -> BaseAnswered:
    """Find the outline if it is photographed, then work the base out by its command's function.

    Raises
    ------
    StandError, PhotographsError, AskedError
        When a table, the photograph, weighing or crank cannot be; it says which.
    """
    outline, picture = None, None
    if asked.outline.strip():
        points = _outline(asked.outline)
    elif inputs.opens is not None:
        steps("finding the outline", 0.1)
        picture = inputs.opens()
        outline = _photographed(picture, asked)
        points = in_bed_axes(outline)
    else:
        raise AskedError(
            "There is no outline of the bed: choose the photograph of the bed on its strip, or "
            "paste the outline.",
            "outline",
        )
    steps("working the base out", 0.5)
    case = base_case(asked, points)
    found = work_out_base(case, np.random.default_rng(asked.seed))
    front, side = (_silhouette(asked, points, view) for view in (0, 1))
    machines = [OnItsBase("This base", found, front, side)]
    if asked.other_overhang is not None or asked.other_below is not None:
        second = replace(
            asked,
            overhang=asked.overhang if asked.other_overhang is None else asked.other_overhang,
            below=asked.below if asked.other_below is None else asked.other_below,
        )
        other = work_out_base(base_case(second, points), np.random.default_rng(asked.seed))
        machines.append(OnItsBase("The second", other, front, side))
    return BaseAnswered(asked, found, tuple(machines), outline, picture)


def base_case(asked: BaseAsked, points: NDArray[np.float64]) -> BaseCase:
    """The case that `ironlace stand base` would be given for the same answers.

    Raises AskedError when weighing or crank is given in part.
    """
    measures = BaseMeasures(
        asked.ledge,
        asked.overhang,
        asked.wall,
        asked.floor,
        asked.density,
        asked.below,
        asked.beside,
        _feet(asked, points),
        asked.friction,
    )
    bed = Bed(
        tuple(OutlinePoint(float(x), float(y)) for x, y in points),
        _works(asked.works),
        holes=_holes(asked.holes),
    )
    return BaseCase(bed, measures, _weighing(asked), _crank(asked))


def _feet(asked: BaseAsked, points: NDArray[np.float64]) -> tuple[tuple[float, float], ...]:
    if asked.feet.strip():
        return feet_of_words(asked.feet)
    shape = base_shape(bed_polygon(points), asked.ledge, asked.overhang, asked.wall)
    left, low, right, high = shape.outside.bounds
    inset = asked.feet_in
    x0, y0, x1, y1 = left + inset, low + inset, right - inset, high - inset
    if x0 >= x1 or y0 >= y1:
        raise StandError(
            f"Feet {inset:g} mm in from the corners meet each other: set them further out."
        )
    return (x0, y0), (x1, y0), (x1, y1), (x0, y1)


def _outline(text: str) -> NDArray[np.float64]:
    rows = _cells(text, ("x_mm", "y_mm"), "outline", _KEPT_POINTS)
    return np.array([(row[0], row[1]) for row in rows], dtype=np.float64)


def _works(text: str) -> tuple[WorksReading, ...]:
    names = ("wheel_deg", "x_mm", "y_mm", "z_mm")
    found = []
    for cells in _cells(text, names, "works", 20_000, called="point"):
        wheel, x, y, z, name = cells
        if x is None or y is None or z is None:
            raise AskedError(
                f"'{str(name)[:40]}' in the readings of the works lacks x_mm, y_mm or z_mm.",
                "works",
            )
        found.append(WorksReading(str(name), wheel, x, y, z))
    return tuple(found)


def _holes(text: str) -> tuple[BedHole, ...]:
    if not text.strip():
        return ()
    names = ("x_mm", "y_mm", "diameter_mm")
    found = []
    for x, y, wide, name in _cells(text, names, "holes", _MOST_HOLES, called="name"):
        if not name or not wide > 0.0:
            raise AskedError(
                "A hole of the bed lacks its name or its diameter: name each, and measure it.",
                "holes",
            )
        found.append(BedHole(name, x, y, wide))
    return tuple(found)


def _cells(text: str, names: Sequence[str], field: str, most: int, called: str = "") -> list[Any]:
    """The figures of a pasted table by column, the name of a line at their end.

    Raises AskedError for a heading that is missing, or a cell that is no number.
    """
    mark = "\t" if "\t" in text.split("\n", 1)[0] else ","
    lines = [row for row in csv.reader(io.StringIO(text.strip()), delimiter=mark) if any(row)]
    heads = [one.strip().casefold() for one in lines[0]] if lines else []
    wanted = [*names, *([called] if called else [])]
    if any(one not in heads for one in wanted):
        raise AskedError(
            f"The table begins with '{','.join(heads)[:60]}': its first line must read "
            f"{','.join([called, *names] if called else names)}.",
            field,
        )
    if len(lines) > most:
        raise AskedError(f"The table has {len(lines)} lines: give at most {most}.", field)
    found = []
    for number, row in enumerate(lines[1:], 2):
        cells = dict(zip(heads, (one.strip() for one in row), strict=False))
        figures: list[Any] = []
        for one in names:
            words = cells.get(one, "")
            try:
                value = float(words) if words else None
            except ValueError:
                value = float("nan")
            empty = value is None and one != "wheel_deg"
            if empty or (value is not None and not -5000.0 < value < 5000.0):
                raise AskedError(
                    f"Line {number} has '{words[:20]}' under {one}: give a number.", field
                )
            figures.append(value)
        found.append([*figures, cells.get(called, "")])
    return found


def _photographed(picture: NDArray[np.uint8], asked: BaseAsked) -> BedOutline:
    if asked.rim_above is None:
        raise AskedError(
            "'Rim above the strip' is missing: measure it, for a rim 60 mm higher comes out "
            "millimetres wrong.",
            "rim_above",
        )
    if not asked.seen_from:
        raise AskedError(
            "Say whether the bed was photographed from above or from below: from the wrong side "
            "the base comes out turned round.",
            "seen_from",
        )
    own = asked.layout.strip()
    layout = StripLayout.from_csv(asked.layout) if own else strip_sheet(asked.strip).layout
    lens = GivenLens.from_json(asked.lens) if asked.lens.strip() else None
    return find_outline(picture, layout, OutlineCase(asked.rim_above.value, asked.seen_from, lens))


def _weighing(asked: BaseAsked) -> Weighing:
    """What was weighed or typed; raises AskedError when neither is whole."""
    weighed = {name: getattr(asked, name) for name in ON_EDGES}
    typed = {name: getattr(asked, name) for name in ("mass", "centre_x", "centre_y", "centre_z")}
    for group in (weighed, typed):
        missing = [name for name, one in group.items() if one is None]
        if missing and len(missing) < len(group):
            raise AskedError(
                "The weighing is given in part: give all its readings, or mass and centre.",
                missing[0],
            )
    if (weighed["left"] is None) == (typed["mass"] is None):
        raise AskedError(
            "The head's mass and centre are needed once: give the readings of the weighing, or "
            "mass and centre typed.",
            "left",
        )
    checks = [name for name in THAT_CHECK if getattr(asked, name) is not None]
    if checks and weighed["left"] is None:
        raise AskedError(
            "That reading checks a weighing, and none is given: give the readings on two edges.",
            checks[0],
        )
    if typed["mass"] is not None:
        sds = tuple(float(typed[f"centre_{axis}"].error or 0.0) for axis in "xyz")
        return Weighing(
            mass_g=typed["mass"].value,
            centre_mm=tuple(typed[f"centre_{axis}"].value for axis in "xyz"),
            mass_sd_g=typed["mass"].error,
            centre_sd_mm=(sds[0], sds[1], sds[2]) if any(sds) else None,
        )
    return replace(weighing_on_edges(asked), scale_repeat_g=asked.scatter, scale_gain_percent=0.5)


def _crank(asked: BaseAsked) -> CrankOnBase | None:
    given = {
        name: getattr(asked, name)
        for name in ("crank_radius", "crank_height", "crank_x", "crank_y", "force")
    }
    missing = [name for name, one in given.items() if one is None]
    if len(missing) == len(given):
        return None
    if missing:
        raise AskedError(
            "The crank is given in part: give its radius, the axis's height, both places and the "
            "force, or nothing of it.",
            missing[0],
        )
    if not asked.turning:
        raise AskedError(
            "Say which way the top of the wheel turns as it sews: the hand tips the machine the "
            "other way.",
            "turning",
        )
    return CrankOnBase(
        given["crank_radius"].value,
        given["crank_height"].value,
        given["crank_x"].value,
        given["crank_y"].value,
        asked.handle_radius,
        asked.knuckles,
        given["force"].value,
        asked.turning,
    )


def _silhouette(asked: BaseAsked, points: NDArray[np.float64], axis: int) -> Silhouette | None:
    name = ("front", "side")[axis]
    table: str = getattr(asked, f"{name}_touches")
    if not table.strip() or len(table.strip().splitlines()) < 2:
        return None
    upright: Known | None = getattr(asked, f"{name}_upright")
    if upright is None:
        raise AskedError(
            "The height that was touched is missing: measure it on the machine.", f"{name}_upright"
        )
    seat: Known | None = getattr(asked, f"{name}_seat")
    low, high = float(points[:, axis].min()), float(points[:, axis].max())
    return silhouette_of(table, high - low if seat is None else seat.value, low, upright.value)


_OVER_THE_RIM = 1.1
"""Edges that bear a bed lie under it: so far beyond its rim, by its length, they cannot (a
judgement, for an outline pasted from a drawing)."""


def _beyond_the_bed(answered: BaseAnswered) -> Iterator[str]:
    """What edges further apart than the bed is long say of the one or the other."""
    outline = np.array([(one.x_mm, one.y_mm) for one in answered.found.case.bed.outline])
    for apart, long, words in (
        (answered.asked.apart_x, float(np.ptp(outline[:, 0])), "left to right"),
        (answered.asked.apart_y, float(np.ptp(outline[:, 1])), "front to back"),
    ):
        if apart is not None and apart.value > _OVER_THE_RIM * long:
            axis = "x" if words == "left to right" else "y"
            yield (
                f"From {words} edge are {apart.value:g} mm, and the outline of the bed ({axis}) "
                f"spans {long:.0f} mm, on which it cannot have lain: look whether one was read in "
                "another unit, or a digit or the decimal comma is wrong."
            )


def base_answer(answered: BaseAnswered) -> Answer:
    """Tell the base: height, leans and ready answers, elevations, cutting list, drawing."""
    asked, found = answered.asked, answered.found
    given = [one for one in vars(asked).values() if isinstance(one, Known)]
    grade = grade_of(given, Grade.INFERRED)
    worst = min(found.edges, key=lambda edge: edge.left_deg.value)

    def result(name: str, span: Span, unit: str) -> Result:
        interval = Interval(low=span.low, high=span.high, coverage=_COVERAGE)
        return Result(name=name, value=span.value, unit=unit, grade=grade, interval=interval)

    results: tuple[Result, ...] = (
        Result(name="height, table to seat", value=found.height_mm, unit="mm", grade=grade),
        Result(name="set by", value=found.height_set_by, grade=grade),
        result("depth of the works below the seat", found.depth, "mm"),
        result(f"lean at which it goes over {side_in_words(worst.outward)}", worst.left_deg, "°"),
        result("mass of the head", found.mass, "g"),
        result("height of the head's centre above the seat", found.centre[2], "mm"),
    )
    said = [*_beyond_the_bed(answered), *base_in_words(found)]
    if answered.outline is not None:
        # a base cut by a doubted outline would not fit: that is said before anything of the base
        said = answered.outline.told_with(said)
        said.append(
            "The lower edge of the photograph is taken for the sewer's side; readings count from "
            "the middle of the bed."
        )
    first = answered.machines[0]
    said[:0] = silhouette_doubts(first)
    for words, seen in (("From the front", first.front), ("From the side", first.side)):
        said += [f"{words}: {one[0].lower()}{one[1:]}" for one in (seen.warnings if seen else ())]
    usable = [one.hole.name for one in found.holes if one.usable]
    if usable:
        words = ", ".join(usable)
        results += (Result(name="holes of the bed that may be used", value=words, grade=grade),)
    figures = base_told(found) | {"cutting_list": cutting_told(found)}
    plots = PlotsWhenSeen(lambda: [elevation(answered.machines, view) for view in VIEWS])
    files = (
        MadeFile("base.svg", "image/svg+xml", "True-scale drawing (SVG)",
                 lambda: base_svg(found).encode("utf-8")),
        MadeFile("base.dxf", "image/vnd.dxf", "True-scale drawing (DXF)",
                 lambda: base_dxf(found).encode("utf-8")),
    )  # fmt: skip
    return Answer(results, tuple(said), figures, _tables(answered), plots, files)


def _tables(answered: BaseAnswered) -> tuple[Table, ...]:
    found = answered.found
    turned = found.case.crank is not None
    leans = tuple(
        (
            side_in_words(one.outward),
            f"{one.free_deg.value:.1f} ({one.free_deg.low:.1f} to {one.free_deg.high:.1f})",
            f"{one.left_deg.value:.1f} ({one.left_deg.low:.1f} to {one.left_deg.high:.1f})"
            if turned
            else NO_CRANK,
            {None: "not told", True: "slides first", False: "goes over first"}[one.slides_first],
        )
        for one in found.edges
    )
    ready = tuple(
        (one.words, f"{one.free_deg:.1f}", f"{one.left_deg:.1f}" if turned else NO_CRANK)
        for one in found.answers
    )
    cut = tuple(
        (
            str(part.count),
            part.name,
            f"{part.length_mm:.1f} × {part.width_mm:.1f} × {part.thick_mm:.1f}",
            part.remark,
        )
        for part in cutting_list(found)
    )
    tables = [
        Table(
            "Lean at which it goes over, degrees",
            ("Side", "Nobody near it", "A hand at the crank's worst place", "On the table"),
            leans,
        ),
        Table("What would give more, least lean in degrees", ("Change", "Free", "Hand"), ready),
        Table("To cut, net, mm", ("Count", "Piece", "Length × width × thick", "Remark"), cut),
    ]
    if len(answered.machines) > 1:
        rows = tuple(_beside(one) for one in answered.machines)
        heads = ("Base", "Height, mm", "Across, mm", "Least lean, free", "with a hand")
        tables.insert(0, Table("Two bases side by side", heads, rows))
    return tuple(tables)


def _beside(one: OnItsBase) -> tuple[str, ...]:
    found = one.found
    left, _, right, _ = found.shape.outside.bounds
    free = min(edge.free_deg.value for edge in found.edges)
    hand = min(edge.left_deg.value for edge in found.edges)
    by_hand = f"{hand:.1f}°" if found.case.crank is not None else NO_CRANK
    return one.called, f"{found.height_mm:.1f}", f"{right - left:.1f}", f"{free:.1f}°", by_hand


BASE = Analysis(
    key="base",
    about="base of the machine",
    question="How high must a base be, and when does it fall over?",
    section="stand",
    inputs=BedPicture,
    asked=BaseAsked,
    work=base,
    answer=base_answer,
    method="ironlace.stand: swept works, weighing on two edges, statics about the feet",
    published="Reimpell, Stoll and Betzler, The Automotive Chassis, 2nd ed. (2001), for the centre",
    hazards=("lifting", "running parts"),
)

"""The stencil sheets of a drawing as an analysis: what is asked, what comes of it, how it is told.

What a person chooses (process, how islands are held, bridges locked, places forbidden) is asked;
the sheets come out of it again every time.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import shapely

from ironlace.evidence.analyses import Ask, AskedError, asked_as_dict, asked_from
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.findings import checksum_of
from ironlace.evidence.progress import Progress
from ironlace.ornament.stencils.bridges.wishes import BridgeLine, Forbidden, Wishes
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.filled_svg import read_filled
from ironlace.ornament.stencils.laying import Feature
from ironlace.ornament.stencils.planning.flaws_picture import flaws_of, flaws_svg
from ironlace.ornament.stencils.planning.held_sheet import Hold
from ironlace.ornament.stencils.planning.in_words import (
    plan_faults,
    plan_sentences,
    plan_table,
)
from ironlace.ornament.stencils.planning.layer_plan import Falls, Prepared
from ironlace.ornament.stencils.planning.plan import Plan, plan_sheets
from ironlace.ornament.stencils.process import Process, known_process, process_toml, read_process
from ironlace.ornament.stencils.sheets import Sheet
from ironlace.photographs.surfaces import Plane, Round, Surface

QUICK_ISLANDS: Final = 150
"""A drawing with more islands or thin places is planned as a job: nobody should wait
long for a page (tuned; on what was not kept)."""

QUICK_CORNERS: Final = 60_000
"""Corners up to which it is done at once: as above."""

QUICK_OUTLINE: Final = 5_000
"""Outline, in widths of the least web, up to which crowded strokes are mended quickly: as above."""

_TEXT_TO_A_CORNER: Final = 20
"""Letters of SVG to a corner, at least: what is longer than so many corners is not read to see."""

_RADIUS_MM: Final = (1.0, 10_000.0)
"""Least and greatest radius of an arm or a pillar; a wrong unit lies outside (common practice)."""

_MOST_HALF_ANGLE_DEG: Final = 60.0
"""A cone as blunt as this is no arm any more (common practice, no source)."""

_MOST_TRAP_MM: Final = 50.0
"""No two colours are laid as far off as this: a wrong unit (common practice, no source)."""

Line = tuple[float, ...]


@dataclass(frozen=True, slots=True)
class FilledDrawing:
    """The drawing that sheets are cut for.

    Attributes
    ----------
    name
        Such as ``drawing 1``, or a file's name.
    svg
        Its text: filled outlines.
    sha256
        Its checksum; empty where nobody keeps it.
    """

    name: str
    svg: str
    sha256: str = ""


@dataclass(frozen=True)
class SheetsAsked:
    """What a person wants of the sheets of a drawing.

    ``surface`` holds ``kind``, and for round ones ``radius_mm``, ``axis_deg``, ``half_angle_deg``,
    ``x_mm``, ``y_mm`` and, where the work is curved along its axis too, ``crown_mm``. ``before`` is
    the number of the change that said what was asked before this, 0 for none: the way back.
    """

    drawing: Annotated[
        str, Ask("Drawing", "Its name in the record.", names="drawing", example="drawing 1")
    ]
    process: Annotated[
        str,
        Ask(
            "Process",
            "The text of a process file: how the sheets are cut, with the limits of your own "
            "cutter and paint and where each was read.",
            long=True,
            example=process_toml(known_process("film-knife")),
        ),
    ]
    hold: Annotated[
        Hold,
        Ask(
            "How islands are held",
            "What bridges cover is touched in by hand; split sheets lay it through a second sheet; "
            "a mask of film with adhesive is stuck down and needs neither.",
            choices={
                "bridges": "bridges",
                "split": "split sheets",
                "mask": "a mask stuck down",
            },
        ),
    ] = "bridges"
    trap_mm: Annotated[
        float | None,
        Ask(
            "How far an under colour runs under a later one",
            "Left out, the register error of the process.",
            unit="mm",
            low=0.0,
            high=_MOST_TRAP_MM,
            example="0.2 mm",
            more=True,
        ),
    ] = None
    surface: Annotated[
        Mapping[str, float | str] | None,
        Ask("Surface", "What the ornament lies on; flat if left out.", pointed=True),
    ] = None
    mirrored: Annotated[bool, Ask("Mirrored", "Cut to be laid from behind.", more=True)] = False
    locked: Annotated[
        tuple[Line, ...], Ask("Bridges locked", "Two ends in mm each.", pointed=True)
    ] = ()
    kept: Annotated[
        tuple[Line, ...], Ask("Bridges kept from before", "Two ends in mm each.", pointed=True)
    ] = ()
    forbidden: Annotated[
        tuple[Line, ...],
        Ask("Places without a bridge", "Middle and radius in mm each.", pointed=True),
    ] = ()
    before: Annotated[int, Ask("Change before this one", pointed=True)] = 0

    def __post_init__(self) -> None:
        if any(len(b) != 4 for b in (*self.locked, *self.kept)):
            raise ValueError("a bridge has four numbers, its two ends in mm")
        if any(len(place) != 3 for place in self.forbidden):
            raise ValueError("a place has three numbers, its middle and its radius in mm")

    def as_dict(self) -> dict[str, Any]:
        """Plain values, as they stand in the finding."""
        return asked_as_dict(self)

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> SheetsAsked:
        """Read back what `as_dict` gave, this version's or an earlier one's.

        Raises StencilError when it is not that.
        """
        try:
            return asked_from(cls, asked_before({"asked": told}))
        except AskedError as error:
            raise StencilError(
                "What was asked of these sheets is not what this version knows: choose the process "
                "and plan them again."
            ) from error

    @property
    def wishes(self) -> Wishes:
        """The wishes as the planner takes them."""
        return Wishes(
            tuple(BridgeLine(*b) for b in self.locked),
            tuple(BridgeLine(*b) for b in self.kept),
            tuple(Forbidden(*f) for f in self.forbidden),
        )

    @property
    def of_process(self) -> Process:
        """The process read."""
        return read_process(self.process)

    def fingerprint(self, svg_sha256: str, version: str) -> str:
        """Names the sheets that come of this; the way back is no part of it."""
        told = {k: v for k, v in self.as_dict().items() if k not in ("before", "drawing")}
        return checksum_of({**told, "svg": svg_sha256, "version": version})


def asked_before(parameters: Mapping[str, Any]) -> dict[str, Any]:
    """What was asked, out of the parameters of a finding or a job of this version or an earlier."""
    told = parameters.get("asked")
    known = SheetsAsked.__dataclass_fields__
    return {k: v for k, v in told.items() if k in known} if isinstance(told, Mapping) else {}


def first_asked(drawing: str, process: str = "film-knife", hold: Hold = "bridges") -> SheetsAsked:
    """What is asked when a process that comes with the program is taken as it is."""
    return SheetsAsked(drawing, process_toml(known_process(process)), hold)


def surface_of(told: Mapping[str, float | str] | None) -> Surface:
    """The surface asked for.

    Raises StencilError when a measure is missing or cannot be.
    """
    kind = str((told or {}).get("kind", "plane"))
    if told is None or kind == "plane":
        return Plane()
    if kind not in ("cylinder", "cone"):
        raise StencilError(f"A surface is plane, cylinder or cone, not {kind!r}.")
    try:
        radius = float(told["radius_mm"])
        axis = float(told.get("axis_deg", 0.0))
        angle = float(told.get("half_angle_deg", 0.0)) if kind == "cone" else 0.0
        at = (float(told.get("x_mm", 0.0)), float(told.get("y_mm", 0.0)))
    except (KeyError, TypeError, ValueError) as error:
        raise StencilError(f"A {kind} needs its radius in mm: measure it.") from error
    least, most = _RADIUS_MM
    if not least <= radius <= most:
        raise StencilError(
            f"A radius of {radius:g} mm cannot be: give {least:.0f} to {most:.0f} mm."
        )
    if not all(map(math.isfinite, (axis, *at))):
        raise StencilError(
            "The axis has no direction or place: give degrees, and x and y of a place in mm."
        )
    if not abs(angle) < _MOST_HALF_ANGLE_DEG or (kind == "cone" and angle == 0.0):
        raise StencilError(
            f"A cone's half angle of {angle:g}° cannot be used: give one between 0 and "
            f"{_MOST_HALF_ANGLE_DEG:.0f}°, negative where it narrows along the axis."
        )
    return Round(at, radius, math.radians(axis), math.sin(math.radians(angle)))


def crown_of(told: Mapping[str, float | str] | None) -> float | None:
    """Radius in mm of the curve along the axis, negative where waisted; None where it is straight.

    Raises StencilError when it cannot be.
    """
    given = (told or {}).get("crown_mm")
    if given in (None, "") or (told or {}).get("kind", "plane") == "plane":
        return None
    crown, (least, most) = float(given or 0.0), _RADIUS_MM
    if not least <= abs(crown) <= most:
        raise StencilError(
            f"A curve along the axis of radius {crown:g} mm cannot be: give {least:.0f} to "
            f"{most:.0f} mm, negative where the work is waisted."
        )
    return crown


@dataclass(frozen=True, eq=False)
class SheetSet:
    """Sheets as they came out, with all that a page or a printed sheet tells of them.

    Attributes
    ----------
    asked
        What they came of.
    sheets
        In the order of laying, mirrored if that was asked.
    report
        Of the plan.
    bridges
        ``line``, ``length_mm``, ``area_mm2``, ``locked`` and ``colour`` of each.
    flaws
        The table of what falls out.
    falls_svg
        Its picture.
    """

    asked: SheetsAsked
    sheets: tuple[Sheet, ...]
    report: dict[str, Any]
    bridges: tuple[dict[str, Any], ...]
    flaws: tuple[dict[str, Any], ...]
    falls_svg: str

    @property
    def plan(self) -> Plan:
        """The plan without its layers: enough for lists and the laying sheet."""
        return Plan(self.sheets, (), self.asked.of_process, self.asked.hold, self.report)

    @property
    def sentences(self) -> list[str]:
        """The plan told to a person."""
        return plan_sentences(self.plan)

    @property
    def faults(self) -> list[str]:
        """What is bad of the plan, the worst first."""
        return plan_faults(self.plan)

    @property
    def table(self) -> list[tuple[str, str]]:
        """The plan as a small table: what is counted, and how much."""
        return plan_table(self.plan)

    def sheet(self, name: str) -> Sheet:
        """One sheet.

        Raises NotFoundError when there is none of that name.
        """
        for sheet in self.sheets:
            if sheet.name == name:
                return sheet
        raise NotFoundError(f"There is no sheet '{name[:20]}' in this plan.")


def plan_set(
    drawing: FilledDrawing,
    asked: SheetsAsked,
    progress: Progress | None = None,
    *,
    prepared: Prepared | None = None,
    features: Sequence[Feature] = (),
) -> SheetSet:
    """Plan the sheets that are asked for.

    Parameters
    ----------
    prepared
        What `ironlace.ornament.stencils.prepare` made of the same, if it is at hand.
    features
        Places on the machine to lay the sheets by.

    Raises
    ------
    StencilError
        When they cannot be made so; the sentence says why.
    """
    plan = plan_sheets(
        drawing.svg,
        asked.of_process,
        asked.hold,
        prepared=prepared,
        surface=surface_of(asked.surface),
        crown_mm=crown_of(asked.surface),
        features=features,
        trap_mm=asked.trap_mm,
        wishes=asked.wishes,
        progress=progress,
    )
    flaws, falls_svg = _falls(plan, prepared, f"What falls out of {drawing.name}")
    bridges = tuple(
        {
            "line": [b.line.ax, b.line.ay, b.line.bx, b.line.by],
            "length_mm": round(b.length_mm, 3),
            "area_mm2": round(b.area_mm2, 4),
            "locked": b.locked,
            "colour": layer.name,
        }
        for layer in plan.layers
        for b in layer.bridges
    )
    return SheetSet(
        asked,
        tuple(sheet.mirror() if asked.mirrored else sheet for sheet in plan.sheets),
        plan.report,
        bridges,
        flaws,
        falls_svg,
    )


def _falls(plan: Plan, prepared: Prepared | None, title: str) -> Falls:
    """The table of what falls out of a plan's drawing, and its picture.

    Bridges make no difference to either: of a drawing that is at hand they are made once.
    """
    known = {} if prepared is None else prepared.falls
    if title not in known:
        flaws = flaws_of(plan.layers)
        svg = flaws_svg(plan.layers, flaws, title)
        known[title] = (tuple(flaw.as_dict() for flaw in flaws), svg)
    return known[title]


def takes_long(drawing: FilledDrawing, asked: SheetsAsked, islands: int | None = None) -> bool:
    """Whether planning takes so long that it is better done as a job.

    ``islands`` is how many may be awaited; of a drawing that was looked at already, more.
    """
    most = QUICK_ISLANDS if islands is None else islands
    share = most / max(QUICK_ISLANDS, 1)
    if len(drawing.svg) > _TEXT_TO_A_CORNER * QUICK_CORNERS * share:
        return True
    region = read_filled(drawing.svg).region
    holes = int(shapely.get_num_interior_rings(shapely.get_parts(region)).sum())
    if region.length > QUICK_OUTLINE * share * asked.of_process.least_web_mm:
        return True
    return holes > most or int(shapely.get_num_coordinates(region)) > QUICK_CORNERS * share

"""What is asked for when ornament is traced from photographs: one request for every way in.

Places are pointed at in pixels of the first photograph, upright, x to the right and y down.
"""

from __future__ import annotations

import json
import math
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Annotated, Any, Final, Literal

from pydantic import BeforeValidator, PlainSerializer

from ironlace.evidence.analyses import Ask, AskedError, Known
from ironlace.evidence.grades import Grade
from ironlace.ornament.outline.drawing import HERE
from ironlace.photographs.errors import LayoutError
from ironlace.photographs.lens import Lens
from ironlace.photographs.place_by_points import LEAST_PLACES
from ironlace.photographs.scale_strip import PIECE_WORDS, LaidPiece, StripLayout, strip_sheet
from ironlace.photographs.surfaces import SURFACE_WORDS, SurfaceKind

Point = tuple[float, float]
MeasuredPlace = tuple[float, float, float, float]
How = Literal["strip", "points", "scan", "rubbing"]
Shows = Literal["machine", "example", "unsaid"]
AskedSurface = Literal["auto"] | SurfaceKind
"""A shape that was said, or that the strip's markers are to tell."""

HOW_WORDS: Final[dict[How, str]] = {
    "strip": "the scale strip, which lies in the picture",
    "points": "places in it that I have measured with a rule",
    "scan": "it is a flatbed scan of a part, at known dots to the inch",
    "rubbing": "it is a scanned rubbing or inked tracing, at known dots to the inch",
}
"""What gives the measure, to choose by."""
ASKED_SURFACE_WORDS: Final[dict[AskedSurface, str]] = {
    "auto": "as the strip's markers tell",
    "plane": SURFACE_WORDS["plane"],
    "cylinder": SURFACE_WORDS["cylinder"],
    "cone": SURFACE_WORDS["cone"],
}
"""What to say of the surface, to choose by."""
SHOWS_WORDS: Final[dict[Shows, str]] = {
    "machine": "this machine again",
    "example": "another one with the same ornament",
    "unsaid": "not said: told by how far the two agree",
}
"""What a further photograph shows, to choose by."""

SCAN_DPI: Final = (50.0, 9600.0)
"""Least and most dots to the inch of a scan, those of `gilt.scan_and_rubbing`."""
MOST_OTHERS: Final = 24
"""Photographs beside the first one: all round an arm takes eight. A bound on time, not on truth."""
MOST_COLOURS: Final = 5
"""Colours beside gold. A bound on time."""
MOST_PLACES: Final = 200
"""Places of one kind. A bound on what a person can have meant."""
MOST_OFF: Final = 0.1
"""Share by which a strip may have come out too large or too small: "fit to page" takes 3 to 6 %.
Beyond, something else was measured. A judgement."""
LONGEST_NAME: Final = 80
"""Characters of what another machine is called, so that lists of sources stay readable."""


def _points(given: Any) -> Any:
    """Points as text (x, y; one a line or parted by semicolons) or as a list of pairs."""
    if isinstance(given, str):
        given = [_figures(line, 2, "a point: write it as 'x, y'") for line in _lines(given)]
    try:
        places = tuple((float(x), float(y)) for x, y in given or ())
    except (TypeError, ValueError) as error:
        raise ValueError("write a list of points [x, y] in pixels") from error
    if not all(math.isfinite(v) for place in places for v in place):
        raise ValueError("a point has a figure that is not finite: point again")
    return places


def _measured(given: Any) -> Any:
    """Measured places as text, four figures a line, or as a list of fours."""
    if isinstance(given, str):
        need = "a measured place: write x and y in the picture, then x and y in mm, four figures"
        given = [_figures(line, 4, f"{need} a line") for line in _lines(given)]
    try:
        places = tuple((float(px), float(py), float(x), float(y)) for px, py, x, y in given or ())
    except (TypeError, ValueError) as error:
        raise ValueError("write a list of places [x px, y px, x mm, y mm]") from error
    if not all(math.isfinite(v) for place in places for v in place):
        raise ValueError("a measured place has a figure that is not finite: measure again")
    return places


def _lines(text: str) -> list[str]:
    return [line.strip() for line in re.split(r"[;\n]", text) if line.strip()]


def _figures(line: str, count: int, need: str) -> list[float]:
    parts = re.split(r"\s*,\s*|\s+", line)
    if len(parts) != count or not all(re.fullmatch(r"-?\d+(?:\.\d+)?", part) for part in parts):
        raise ValueError(f"'{line[:40]}' is not {need}")
    return [float(part) for part in parts]


def _colours(given: Any) -> Any:
    if not isinstance(given, Mapping) or len(given) > MOST_COLOURS:
        raise ValueError(
            f"name at most {MOST_COLOURS} colours beside gold, each with the points touched"
        )
    return {" ".join(str(name).split())[:40]: _points(points) for name, points in given.items()}


def _lens(given: Any) -> Any:
    """A lens as `Lens.to_json` writes it, text or read already. Raises LensError."""
    if isinstance(given, str):
        return Lens.from_json(given)
    return Lens.from_json(json.dumps(given)) if isinstance(given, Mapping) else given


def _own_lens(given: Any) -> Any:
    return given if given in ("same", "estimated") else _lens(given)


def _told_lens(lens: Lens | str | None) -> Any:
    return json.loads(lens.to_json()) if isinstance(lens, Lens) else lens


def _others(given: Any) -> Any:
    listed = isinstance(given, list | tuple)
    strange = [
        one for one in (given if listed else ()) if not isinstance(one, Mapping | OtherPhotograph)
    ]
    if not listed or len(given) > MOST_OTHERS:
        raise ValueError(f"give a list of at most {MOST_OTHERS} further photographs")
    if strange:
        raise ValueError(f"'{strange[0]}' is not a photograph: name one such as 'photograph 3'")
    for one in given:
        shows = one.get("shows", "unsaid") if isinstance(one, Mapping) else one.shows
        if shows not in SHOWS_WORDS:
            raise ValueError(f"'{shows}' says not what one shows: use {', '.join(SHOWS_WORDS)}")
    return given


Points = Annotated[tuple[Point, ...], BeforeValidator(_points)]
KnownLens = Annotated[Lens | None, BeforeValidator(_lens), PlainSerializer(_told_lens)]
OwnLens = Annotated[
    Lens | Literal["same", "estimated"],
    BeforeValidator(_own_lens),
    PlainSerializer(_told_lens),
]


@dataclass(frozen=True, slots=True)
class OtherPhotograph:
    """A further photograph of the same ornament.

    Attributes
    ----------
    photograph
        Its name.
    shows
        This machine again, another example, or "unsaid": then told by how far the two agree.
    called
        What its source is called in the drawing; its own name when empty.
    lens
        Its own lens; "same" is the first photograph's, "estimated" none.
    measured
        Places measured in it, where places give the measure: in millimetres from the same
        beginnings as those of the first photograph, on another machine the like places.
    """

    photograph: str
    shows: Shows = "unsaid"
    called: str = ""
    lens: OwnLens = "same"
    measured: Annotated[tuple[MeasuredPlace, ...], BeforeValidator(_measured)] = ()

    @property
    def label(self) -> str:
        """What its source is called in the drawing; never what the first one's is."""
        called = (self.called or self.photograph)[:LONGEST_NAME]
        return called if called != HERE else self.photograph

    @property
    def grade(self) -> Grade | None:
        """Grade of what it shows; None when that is told by how far it agrees."""
        return {"machine": Grade.SEEN, "example": Grade.INFERRED, "unsaid": None}[self.shows]


@dataclass(frozen=True)
class TraceAsked:
    """A request to trace ornament; every field has a default that often does.

    >>> TraceAsked(surface="cone", mirror=True).tolerance_mm
    0.04
    """

    photograph: Annotated[str, Ask("Photograph", names="photograph")] = ""
    how: Annotated[How, Ask("Source of the measure", choices=HOW_WORDS)] = "strip"
    strip: Annotated[LaidPiece, Ask("Strip in the picture", choices=PIECE_WORDS)] = "frame"
    strip_mm: Annotated[
        Known | None,
        Ask(
            "The strip itself, measured",
            "With rule or caliper, from outer edge to outer edge of its outermost markers along "
            "its longer side: 248 mm as the frame, the corner and the strip are drawn, 194 mm the "
            "wrap. All sizes are then taken by what it measures.",
            unit="mm",
            low=10.0,
            high=3000.0,
            example="248.0 ± 0.2 mm",
        ),
    ] = None
    surface: Annotated[AskedSurface, Ask("Shape of the surface", choices=ASKED_SURFACE_WORDS)] = (
        "auto"
    )
    mirror: Annotated[
        bool, Ask("Where the paint is gone, take it from its mirror image", "An axis is found.")
    ] = False
    repeat: Annotated[
        bool, Ask("… and from its repeats, where a border's motif comes again at even steps")
    ] = False
    bridges: Annotated[
        bool, Ask("Carry strokes over gaps that nothing fills, as conjecture", more=True)
    ] = True
    upright: Annotated[
        bool,
        Ask(
            "Set it upright by its mirror axis",
            "Where an axis is found that stands nearly plumb or lies nearly level.",
            more=True,
        ),
    ] = True
    tolerance_mm: Annotated[
        float,
        Ask(
            "Tolerance",
            "How far a curve may stray from the edge of the paint.",
            unit="mm",
            low=0.001,
            high=1.0,
            example="0.04",
            more=True,
        ),
    ] = 0.04
    name: Annotated[str, Ask("Call the drawing", more=True)] = ""
    layout_csv: Annotated[
        str, Ask("Layout of a strip of your own", "CSV of its markers.", long=True, more=True)
    ] = ""
    radius_mm: Annotated[
        float | None,
        Ask(
            "Radius of a round surface",
            "With measured places, if it was measured.",
            unit="mm",
            low=0.1,
            high=1e5,
            more=True,
        ),
    ] = None
    dpi: Annotated[
        float | None,
        Ask(
            "Dots to the inch of a scan or rubbing",
            example="600",
            low=SCAN_DPI[0],
            high=SCAN_DPI[1],
            more=True,
        ),
    ] = None
    lens: Annotated[KnownLens, Ask("Lens", "Measured with the chart.", pointed=True)] = None
    others: Annotated[
        tuple[OtherPhotograph, ...],
        BeforeValidator(_others),
        Ask("Other photographs that show the same ornament", pointed=True),
    ] = ()
    measured: Annotated[
        tuple[MeasuredPlace, ...],
        BeforeValidator(_measured),
        Ask(
            "Measured places",
            "x and y in the picture, then x and y in mm. Beside a strip two or more, far apart, "
            "tell whether it is true to its size.",
            pointed=True,
        ),
    ] = ()
    gilt: Annotated[Points, Ask("On the gilt", pointed=True)] = ()
    ground: Annotated[Points, Ask("On bare japan", pointed=True)] = ()
    colours: Annotated[
        Mapping[str, tuple[Point, ...]],
        BeforeValidator(_colours),
        Ask("On other colours", "Points by the name of each colour.", pointed=True),
    ] = field(default_factory=dict)
    region: Annotated[
        Points, Ask("Corners of the edge around the ornament", "Two are opposite.", pointed=True)
    ] = ()
    axis: Annotated[Points, Ask("Mirror axis", "Two places on it.", pointed=True)] = ()
    step: Annotated[
        Points, Ask("Step of a repeat", "From one motif to the next.", pointed=True)
    ] = ()
    card: Annotated[Points, Ask("Grey card", "Middle of an 18 % card.", pointed=True)] = ()

    @property
    def flat_already(self) -> bool:
        """Whether it is a scan or a rubbing: no camera, its measure known."""
        return self.how in ("scan", "rubbing")

    @property
    def drawn_layout(self) -> StripLayout:
        """Where the markers of the strip asked for were drawn. Raises LayoutError."""
        if self.layout_csv:
            return StripLayout.from_csv(self.layout_csv)
        return strip_sheet(self.strip).layout

    @property
    def layout(self) -> StripLayout:
        """Where they lie on the paper, by what the strip measures if that was said."""
        drawn = self.drawn_layout
        if self.strip_mm is None:
            return drawn
        return drawn.scaled(self.strip_mm.value / drawn.longer_mm)

    @property
    def measured_surface(self) -> SurfaceKind:
        """The shape that measured places are held against: a plane where none is said."""
        return "plane" if self.surface == "auto" else self.surface

    def lens_of(self, number: int) -> Lens | None:
        """The lens of a photograph, 0 being the first; None when it is to be estimated."""
        own = "same" if number == 0 or number > len(self.others) else self.others[number - 1].lens
        if isinstance(own, Lens):
            return own
        return self.lens if own == "same" else None

    def measured_in(self, number: int) -> tuple[MeasuredPlace, ...]:
        """The places measured in a photograph, 0 being the first."""
        return self.measured if number == 0 else self.others[number - 1].measured

    def pointed(self) -> dict[str, tuple[Point, ...]]:
        """Every place pointed at in the first photograph, by what it is called."""
        return {
            "gilt": self.gilt,
            "ground": self.ground,
            **{f"colour {name}": points for name, points in self.colours.items()},
            "region": self.region,
            "axis": self.axis,
            "step": self.step,
            "card": self.card,
            "measured": tuple((px, py) for px, py, _, _ in self.measured),
        }


def check_asked(asked: TraceAsked) -> None:
    """Refuse a request whose parts do not fit one another.

    Raises
    ------
    AskedError
        That says which part, and what to do.
    """
    names = [asked.photograph, *(other.photograph for other in asked.others)]
    twice = next((name for n, name in enumerate(names) if name in names[:n]), None)
    if twice is not None:
        raise AskedError(f"{twice} was named twice: name each photograph once.", "others")
    if asked.flat_already and asked.others:
        raise AskedError(
            "A scan or a rubbing is traced by itself: leave the other photographs out.", "others"
        )
    if asked.flat_already and asked.dpi is None:
        raise AskedError(
            "A scan or a rubbing needs its resolution in dots to the inch: say its dpi.", "dpi"
        )
    if asked.how == "points":
        _check_measured(asked)
    if asked.layout_csv:
        try:
            StripLayout.from_csv(asked.layout_csv)
        except LayoutError as error:
            raise AskedError(str(error), "layout_csv") from error
    if asked.strip_mm is not None:
        _check_strip(asked, asked.strip_mm.value)
    for name, points in asked.pointed().items():
        if len(points) > MOST_PLACES:
            raise AskedError(
                f"{len(points)} places for '{name}' are more than {MOST_PLACES}: use fewer.",
                "colours" if name.startswith("colour ") else name,
            )
    if len(asked.region) == 1:
        raise AskedError(
            "The edge around the ornament needs two corners at least: touch the opposite one too.",
            "region",
        )
    for name, points, count in (("axis", asked.axis, 2), ("step", asked.step, 2)):
        if points and len(points) != count:
            raise AskedError(
                f"The {name} needs two places, not {len(points)}: point at one and then another.",
                name,
            )
    if len(asked.card) > 1:
        raise AskedError(
            f"The card needs one place, not {len(asked.card)}: point at its middle alone.", "card"
        )


def _check_strip(asked: TraceAsked, measured: float) -> None:
    if asked.how != "strip":
        raise AskedError(
            "What the strip measures was said, and no strip gives the measure: leave it out.",
            "strip_mm",
        )
    drawn = asked.drawn_layout.longer_mm
    if abs(measured / drawn - 1.0) > MOST_OFF:
        raise AskedError(
            f"The strip is said to measure {measured:g} mm and is drawn {drawn:g} mm long over its "
            "outermost markers: measure there, along its longer side, or print it anew.",
            "strip_mm",
        )


def _check_measured(asked: TraceAsked) -> None:
    least = LEAST_PLACES[asked.measured_surface]
    for number, name in enumerate(("", *(other.photograph for other in asked.others))):
        count = len(asked.measured_in(number))
        if count < least:
            of = f" in {name}" if name else ""
            raise AskedError(
                f"{count} measured places were given{of}: a {asked.measured_surface} needs at "
                f"least {least}{' in each photograph' if asked.others else ''}.",
                "others" if name else "measured",
            )
        if count > MOST_PLACES:
            raise AskedError(
                f"{count} places for 'measured' are more than {MOST_PLACES}: use fewer.",
                "others" if name else "measured",
            )


def check_inside(asked: TraceAsked, width: int, height: int) -> None:
    """Refuse places that lie outside the first photograph.

    Raises
    ------
    AskedError
        That says which place, and how large the photograph is.
    """
    for name, points in asked.pointed().items():
        for x, y in points:
            if not (0 <= x <= width and 0 <= y <= height):
                raise AskedError(
                    f"The place {x:g}, {y:g} for '{name}' lies outside the photograph, which is "
                    f"{width} × {height} px: put it inside.",
                    "colours" if name.startswith("colour ") else name,
                )


def asked_before(parameters: Mapping[str, Any]) -> Mapping[str, Any]:
    """What was asked, out of a finding's parameters, those of earlier versions too.

    They wrote only what was not left out, took the surface for a plane where it was not said, and
    told of a further photograph only when it was another machine's; what they drew was not set
    upright.
    """
    kept = parameters.get("asked")
    asked: dict[str, Any] = dict(kept) if isinstance(kept, Mapping) else {}
    others = asked.get("others")
    if isinstance(others, list | tuple):
        asked["others"] = [
            {"shows": "machine", **{key: value for key, value in other.items() if value != ""}}
            if isinstance(other, Mapping)
            else other
            for other in others
        ]
    if kept is not None and asked.get("surface") is None:
        asked["surface"] = "plane"
    if kept is not None and asked.get("upright") is None:
        asked["upright"] = False
    return {name: value for name, value in asked.items() if value is not None}

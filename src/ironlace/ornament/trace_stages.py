"""The stages of a trace: where each photograph lies, laid flat, its gilt, the evidence, outlines.

Every stage is one of the `Steps` handed in, which may keep its arrays so that long work can go on
where it was cut short.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
from numpy.typing import NDArray

from ironlace.evidence.arrays import Bounds
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Arrays, Steps
from ironlace.ornament.beyond_the_strip import without_beyond
from ironlace.ornament.errors import DrawingError, OrnamentError
from ironlace.ornament.gather.gap_bridges import GapBridge, healed, propose_bridges, with_bridges
from ironlace.ornament.gather.gathered import (
    Gathered,
    Mirror,
    Repeats,
    doubted_by_mirror,
    gather,
)
from ironlace.ornament.gather.graded_outline import graded
from ironlace.ornament.gilt.colour_layers import ColourTouch, colours_told, find_colours
from ironlace.ornament.gilt.gilt_map import GiltMap, Touch, find_gilt
from ironlace.ornament.gilt.scan_and_rubbing import find_marks, flat_from_scan
from ironlace.ornament.outline.drawing import HERE, Drawing
from ironlace.ornament.outline.trace import trace
from ironlace.ornament.trace_asked import Point, TraceAsked, check_asked, check_inside
from ironlace.ornament.trace_limits import refuse_blurred
from ironlace.ornament.trace_report import Report, bridge_report, srgb_of, untaken_report
from ironlace.photographs.back_projection import surface_places
from ironlace.photographs.flat_picture import Flat
from ironlace.photographs.flattening import flatten, seen_bounds
from ironlace.photographs.place_by_points import place_by_points
from ironlace.photographs.place_by_strip import Placing, place_surface
from ironlace.photographs.scale_strip import StripLayout
from ironlace.photographs.strip_finding import find_strip

GOLD: Final = "gold"
"""Layer of what is found by itself."""
CARD_RADIUS_MM: Final = 4.0
"""Of a grey card so much is read around the place pointed at: less than half of a small card."""
REGION_MARGIN_MM: Final = 2.0
"""Laid flat beyond a region asked for, so that strokes on its edge are seen whole."""
LEAST_STEP_MM: Final = 1.0
"""Two places of an axis or a step nearer than this give no direction to speak of."""
SCAN_MM: Final = 25.4
"""Millimetres to the inch."""

U8 = NDArray[np.uint8]


@dataclass(frozen=True)
class PhotographToTrace:
    """A photograph as a trace takes it.

    Attributes
    ----------
    picture
        Gives its pixels, HxWx3 uint8 sRGB, upright; asked for several times, so that many large
        photographs need not be held at once.
    name
        What it is called in sentences.
    focal_35mm
        Focal length for 35 mm film from its own Exif, used when its lens is not known.
    checksum
        SHA-256 of its file, where it has one.
    """

    picture: Callable[[], U8]
    name: str = HERE
    focal_35mm: float | None = None
    checksum: str = ""


@dataclass(frozen=True)
class TraceJob:
    """What every stage needs."""

    photographs: tuple[PhotographToTrace, ...]
    asked: TraceAsked
    steps: Steps

    def check(self) -> None:
        """Refuse what cannot be traced before any work is done."""
        if not self.photographs:
            raise OrnamentError("No photograph was given; at least one is needed.")
        others = len(self.photographs) - 1
        if self.asked.others and len(self.asked.others) != others:
            raise OrnamentError(
                f"{others} further photographs came with words on {len(self.asked.others)}: say "
                "of each what it shows, or of none."
            )
        if others and self.asked.flat_already:
            raise OrnamentError("A scan or a rubbing is traced by itself: leave the others out.")
        if others and self.asked.how == "points" and not self.asked.others:
            raise OrnamentError(
                "Measured places belong to one photograph: give each of the others its own."
            )
        check_asked(self.asked)

    @property
    def labels(self) -> tuple[str, ...]:
        """What each photograph's evidence is called in the drawing."""
        if self.asked.others:
            return (HERE, *(other.label for other in self.asked.others))
        return (HERE, *(photo.name for photo in self.photographs[1:]))

    @property
    def grades(self) -> tuple[Grade | None, ...]:
        """Grade of each photograph, None where it is told by how far it agrees with the first."""
        others = [other.grade for other in self.asked.others]
        return (Grade.SEEN, *(others or [None] * (len(self.photographs) - 1)))

    def of(self, number: int) -> str:
        """Which photograph a step is about, for its name, when there are several."""
        return f" of {self.photographs[number].name}" if len(self.photographs) > 1 else ""


@dataclass(frozen=True)
class Placed:
    """Where the camera stood for one photograph."""

    placing: Placing
    markers_read: int
    shape: tuple[int, ...]

    def to_arrays(self) -> Arrays:
        """Everything as named arrays."""
        return {
            **self.placing.to_arrays(),
            "markers_read": np.array(self.markers_read),
            "picture": np.array(self.shape),
        }

    @classmethod
    def from_arrays(cls, kept: Mapping[str, NDArray[Any]]) -> Placed:
        """The inverse of `to_arrays`."""
        shape = tuple(int(v) for v in kept["picture"])
        return cls(Placing.from_arrays(kept), int(kept["markers_read"]), shape)


@dataclass(frozen=True)
class Lie:
    """How the photographs lie on the surface.

    Attributes
    ----------
    placed
        Camera and surface of each; none for a scan.
    extent
        Layout of the strip, or the bounds of what was measured.
    window
        What is to be laid flat; None is what the one photograph shows.
    mm_per_px
        Of a scan.
    """

    placed: tuple[Placed, ...]
    extent: StripLayout | Bounds
    window: Bounds | None = None
    mm_per_px: float = 1.0

    def surface_mm(self, px: Sequence[Point]) -> list[Point]:
        """Places on the surface of points in the first photograph."""
        if not px:
            return []
        places = self._places(px) if self.placed else np.array(px, np.float64) * self.mm_per_px
        return [(float(x), float(y)) for x, y in places]

    def _places(self, px: Sequence[Point]) -> NDArray[np.float64]:
        first = self.placed[0]
        return surface_places(
            first.placing, px, seen_bounds(first.placing, self.extent, first.shape)
        )

    def region(self, corners: Sequence[Point]) -> Bounds:
        """What is to be laid flat for a region asked for, with a little margin."""
        if len(corners) == 2:
            (x0, y0), (x1, y1) = corners
            corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
        places = self._places(corners)
        return bounds_of(
            places.min(axis=0) - REGION_MARGIN_MM, places.max(axis=0) + REGION_MARGIN_MM
        )

    def seen_by_any(self) -> Bounds:
        """What any of the photographs shows."""
        each = np.array([seen_bounds(p.placing, self.extent, p.shape) for p in self.placed])
        return bounds_of(each[:, :2].min(axis=0), each[:, 2:].max(axis=0))


def lie_of(job: TraceJob) -> Lie:
    """How the photographs lie, each camera's place kept as a stage."""
    asked = job.asked
    if asked.flat_already:
        return Lie((), (0.0, 0.0, 1.0, 1.0), mm_per_px=SCAN_MM / (asked.dpi or math.nan))
    if asked.how == "points":
        each = [asked.measured_in(n) for n in range(len(job.photographs))]
        mm = np.array([(x, y) for places in each for _, _, x, y in places])
        extent: StripLayout | Bounds = bounds_of(mm.min(axis=0), mm.max(axis=0))
    else:
        extent = asked.layout
    placed = tuple(_placed(job, extent, n) for n in range(len(job.photographs)))
    check_inside(asked, *placed[0].shape[1::-1])
    lie = Lie(placed, extent)
    window = None
    if asked.region:
        window = lie.region(asked.region)
    elif len(placed) > 1:
        window = lie.seen_by_any()
    return Lie(placed, extent, window)


def _placed(job: TraceJob, extent: StripLayout | Bounds, n: int) -> Placed:
    asked, photo, count = job.asked, job.photographs[n], len(job.photographs)

    def place() -> Placed:
        job.steps(f"opening the photograph{job.of(n)}", 0.2 * (n + 0.05) / count)
        image = photo.picture()
        known: dict[str, Any] = {
            "kind": None if asked.surface == "auto" else asked.surface,
            "lens": asked.lens_of(n),
            "focal_35mm": photo.focal_35mm,
        }
        if not isinstance(extent, StripLayout):
            job.steps("measuring camera and surface", 0.1)
            placing = place_by_points(
                image,
                [(px, py) for px, py, _, _ in asked.measured_in(n)],
                [(x, y) for _, _, x, y in asked.measured_in(n)],
                radius_mm=asked.radius_mm,
                **{**known, "kind": asked.measured_surface},
            )
            return Placed(placing, 0, image.shape)
        job.steps(f"finding the strip{job.of(n)}", 0.2 * (n + 0.15) / count)
        sighting = find_strip(image, extent)
        job.steps(f"measuring camera and surface{job.of(n)}", 0.2 * (n + 0.5) / count)
        placing = place_surface(image, sighting, extent, **known)
        refuse_blurred(placing, photo.name)
        return Placed(placing, len(sighting.indices), image.shape)

    return job.steps.kept(f"placing{n}", place, Placed.to_arrays, Placed.from_arrays)


def laid_flat(job: TraceJob, lie: Lie, n: int, scale: float | None) -> Flat:
    """One photograph laid flat; the second and later ones on the scale of the first."""
    count = len(job.photographs)

    def heard(done: float) -> None:
        job.steps(f"laying it flat{job.of(n)}", 0.2 + 0.5 * (n + 0.6 * done) / count)

    def lay_flat() -> Flat:
        heard(0.0)
        image = job.photographs[n].picture()
        if not lie.placed:
            return flat_from_scan(image, SCAN_MM / lie.mm_per_px)
        return flatten(
            image,
            lie.placed[n].placing,
            lie.extent,
            px_per_mm=scale,
            bounds_mm=lie.window,
            progress=heard,
        )

    return job.steps.kept(f"flat{n}", lay_flat, Flat.to_arrays, Flat.from_arrays)


@dataclass(frozen=True)
class Pointed:
    """What was pointed at in the first photograph, in surface mm."""

    gilt: tuple[Touch, ...]
    colours: tuple[ColourTouch, ...]
    axis: Mirror
    step: Repeats
    card: tuple[float, float, float] | None

    @classmethod
    def of(cls, asked: TraceAsked, lie: Lie) -> Pointed:
        """Bring what was pointed at onto the surface."""
        gold, bare = lie.surface_mm(asked.gilt), lie.surface_mm(asked.ground)
        colours: list[ColourTouch] = []
        if asked.colours:
            colours = [ColourTouch(x, y, GOLD) for x, y in gold]
            for name, points in asked.colours.items():
                colours += [ColourTouch(x, y, name) for x, y in lie.surface_mm(points)]
            colours += [ColourTouch(x, y, "") for x, y in bare]
        card = lie.surface_mm(asked.card)
        return cls(
            (
                *(Touch(x, y, is_gilt=True) for x, y in gold),
                *(Touch(x, y, is_gilt=False) for x, y in bare),
            ),
            tuple(colours),
            _axis(asked, lie),
            _step(asked, lie),
            (*card[0], CARD_RADIUS_MM) if card else None,
        )

    @property
    def layers(self) -> tuple[str, ...]:
        """Names of the layers to draw."""
        return tuple(dict.fromkeys(t.layer for t in self.colours if t.layer)) or (GOLD,)


def _axis(asked: TraceAsked, lie: Lie) -> Mirror:
    """The mirror axis: pointed at by two places, looked for, or none."""
    if not asked.axis:
        return "auto" if asked.mirror else None
    (x0, y0), (x1, y1) = _apart("axis", lie.surface_mm(asked.axis))
    return (x0, y0), math.atan2(y1 - y0, x1 - x0)


def _step(asked: TraceAsked, lie: Lie) -> Repeats:
    """The step of a repeat: pointed at by two places, looked for, or none."""
    if not asked.step:
        return "auto" if asked.repeat else None
    (x0, y0), (x1, y1) = _apart("step", lie.surface_mm(asked.step))
    return x1 - x0, y1 - y0


def _apart(what: str, places: list[Point]) -> list[Point]:
    if math.dist(*places) < LEAST_STEP_MM:
        raise OrnamentError(f"The two places of the {what} lie together: point farther apart.")
    return places


@dataclass(frozen=True)
class FoundGilt:
    """The gilt of every layer in one photograph, and what was measured of its colours.

    And how long the outlines were of what was left out because it lay beyond the strip, mm.
    """

    layers: Mapping[str, GiltMap]
    measured: Mapping[str, Any]
    beyond_mm: float = 0.0


def found_in(job: TraceJob, lie: Lie, pointed: Pointed, n: int, first: Flat) -> FoundGilt:
    """The gilt in one photograph, kept as a stage; ``first`` is the first one laid flat."""
    names = pointed.layers

    def find() -> FoundGilt:
        here = laid_flat(job, lie, n, first.px_per_mm) if n else first
        share = 0.2 + 0.5 * (n + 0.6) / len(job.photographs)
        job.steps(f"finding the gilt{job.of(n)}", share)
        if job.asked.how == "rubbing":
            return FoundGilt({names[0]: find_marks(here)}, {})
        if pointed.colours:
            layers = find_colours(here, pointed.colours, grey_card=None if n else pointed.card)
            measured = {} if n else dict(colours_told(layers))
            return FoundGilt({layer.name: layer.found for layer in layers}, measured)
        # touches are places in the first photograph: what they vouch for is gathered from it
        return FoundGilt({names[0]: find_gilt(here, touches=() if n else pointed.gilt)}, {})

    def find_within() -> FoundGilt:
        found = find()
        if not _within_strip(job, lie):
            return found
        layers, beyond = without_beyond([found.layers[name] for name in names], job.asked.layout)
        return FoundGilt(dict(zip(names, layers, strict=True)), found.measured, beyond)

    def to_arrays(found: FoundGilt) -> Arrays:
        out: Arrays = {
            "measured": np.array(json.dumps(found.measured)),
            "beyond_mm": np.array(found.beyond_mm),
        }
        for k, name in enumerate(names):
            out |= {f"{k}_{part}": v for part, v in found.layers[name].to_arrays().items()}
        return out

    def from_arrays(kept: Arrays) -> FoundGilt:
        layers = {}
        for k, name in enumerate(names):
            head = f"{k}_"
            parts = {p.removeprefix(head): v for p, v in kept.items() if p.startswith(head)}
            layers[name] = GiltMap.from_arrays(parts)
        measured = json.loads(str(kept["measured"]))
        return FoundGilt(layers, measured, float(kept["beyond_mm"]))

    return job.steps.kept(f"found{n}", find_within, to_arrays, from_arrays)


def _within_strip(job: TraceJob, lie: Lie) -> bool:
    """Whether only what the strip encloses is asked for: nobody pointed or drew past its rim."""
    if not isinstance(lie.extent, StripLayout) or job.asked.region:
        return False
    left, top, right, bottom = lie.extent.bounds_mm
    colours = (p for points in job.asked.colours.values() for p in points)
    pointed = lie.surface_mm([*job.asked.gilt, *colours])
    return all(left < x < right and top < y < bottom for x, y in pointed)


@dataclass(frozen=True)
class Layer:
    """One colour, gathered and drawn; `drawing` is None where nothing of it was found."""

    name: str
    gathered: Gathered
    bridges: list[Report]
    drawing: Drawing | None
    colour: tuple[int, int, int]
    untaken: Report | None = None
    """What its mirror image would fill, where that was not asked for."""


def layer_of(job: TraceJob, pointed: Pointed, k: int, maps: Sequence[GiltMap]) -> Layer:
    """One layer of all photographs gathered, which is kept as a stage, and drawn."""
    name, count = pointed.layers[k], len(pointed.layers)

    def put_together() -> tuple[Gathered, list[Report], Report | None]:
        job.steps("gathering the evidence", 0.72 + 0.25 * k / count)
        gathered, proposed = gather_and_bridge(
            maps,
            job.labels,
            job.grades,
            mirror=pointed.axis,
            repeat=pointed.step,
            bridges=job.asked.bridges,
        )
        untaken = None
        if pointed.axis is None and len(maps) == 1:
            even = not maps[0].lit_unevenly
            gathered, gain, laying = doubted_by_mirror(gathered, rims=even)
            untaken = untaken_report(gain, laying)
        return gathered, [bridge_report(bridge) for bridge in proposed], untaken

    gathered, bridges, untaken = job.steps.kept(
        f"gathered{k}",
        put_together,
        lambda done: {
            **done[0].to_arrays(),
            "bridges": np.array(json.dumps(done[1])),
            "untaken": np.array(json.dumps(done[2])),
        },
        lambda kept: (
            Gathered.from_arrays(kept),
            json.loads(str(kept["bridges"])),
            json.loads(str(kept["untaken"])) if "untaken" in kept else None,
        ),
    )

    def heard(done: float) -> None:
        job.steps("drawing the outlines", 0.72 + 0.25 * (k + 0.3 + 0.7 * done) / count)

    heard(0.0)
    try:
        drawn = trace(
            gathered.coverage,
            gathered.px_per_mm,
            gathered.origin_mm,
            tolerance_mm=job.asked.tolerance_mm,
            layer=name,
            progress=heard,
        )
    except DrawingError:  # of one colour nothing was found; if of none, that is said later
        return Layer(name, gathered, bridges, None, (0, 0, 0))
    colour = srgb_of(maps[0].gilt_colour)
    told = graded(drawn, gathered, pointed.gilt)
    return Layer(name, gathered, bridges, told, colour, untaken)


def gather_and_bridge(
    maps: Sequence[GiltMap],
    labels: Sequence[str],
    grades: Sequence[Grade | None] | None,
    *,
    mirror: Mirror,
    repeat: Repeats,
    bridges: bool = True,
) -> tuple[Gathered, tuple[GapBridge, ...]]:
    """All evidence joined, small bites closed and gaps bridged; with the bridges proposed.

    Parameters and errors as for `gather`; without ``bridges`` gaps and bites stay as they are.
    """
    gathered = gather(maps, labels, grades, mirror=mirror, repeat=repeat)
    if not bridges:
        return gathered, ()
    gathered = healed(gathered)
    proposed = propose_bridges(gathered)
    return with_bridges(gathered, proposed), proposed


def bounds_of(low: NDArray[np.float64], high: NDArray[np.float64]) -> Bounds:
    """Left, top, right, bottom of two corners."""
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])

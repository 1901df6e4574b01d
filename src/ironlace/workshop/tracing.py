"""Tracing the ornament of a photograph in the workshop: from the original to a graded drawing.

Stages are kept one by one, so a trace that was cut short goes on after the last of them.
"""

import json
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import JsonValue
from sqlalchemy.orm import Session

from ironlace import __version__
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Method, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.record.entries import Drawing as DrawingEntry
from ironlace.record.entries import Photograph
from ironlace.workshop.drawings import grade_told, keep_flat, keep_svg_in
from ironlace.workshop.intake import pixels
from ironlace.workshop.tasks import Tell, Work

if TYPE_CHECKING:
    from ironlace.ornament import ClosedPath, Flat, Lens, Placing, StripLayout, Touch

Bounds = tuple[float, float, float, float]
PIECES = ("frame", "corner", "strip", "wrap")
SURFACES = ("plane", "cylinder", "cone")
TOLERANCE_MM = 0.04
_MARGIN_MM = 2.0
_AIR_MM = 4.0


def trace_photograph(work: Work, *, keep: bool = True) -> Tell:
    """Trace what a job asks for; returns what adds the drawing to the record.

    Without `keep` nothing is added: the job's result is the SVG, for comparing.

    The job's `asked` holds `photograph` (its name) and may hold `strip` (a piece of the printed
    strip, or `layout_csv` with another one), `surface`, `lens` (its JSON), `region` (corners in
    pixels of the upright photograph), and `gilt` and `ground` (touched points in pixels).

    Raises
    ------
    IronlaceError
        When the photograph or what is asked cannot be used; the ornament room says why.
    """
    from ironlace.ornament import (
        Drawing,
        Flat,
        Gathered,
        GiltMap,
        Placing,
        drawing_svg,
        find_gilt,
        find_strip,
        flatten,
        gather,
        place_surface,
        trace,
    )
    from ironlace.ornament.bridging import healed, propose_bridges, with_bridges
    from ironlace.ornament.flattening import seen_bounds
    from ironlace.ornament.linear_light import to_srgb8
    from ironlace.ornament.photograph_to_drawing import (
        bridge_report,
        drawing_report,
        flat_report,
        gathered_report,
        gilt_report,
        photograph_report,
    )

    asked, stages, workshop = work.job.asked, work.stages, work.workshop
    name = str(asked.get("photograph", ""))
    photograph = workshop.records.read(work.slug).named(name)
    if not isinstance(photograph, Photograph):
        raise IronlaceError(f"'{name}' is not a photograph: name one such as 'photograph 3'.")
    original = workshop.photographs.original(photograph.sha256)
    layout, lens = _layout(asked), _lens(asked)
    surface = _one_of(asked, "surface", SURFACES)

    stages.tell("opening the photograph", 0.01)
    image = pixels(original.path)

    def place() -> "tuple[Placing, int]":
        stages.tell("finding the strip", 0.05)
        sighting = find_strip(image, layout)
        stages.tell("measuring camera and surface", 0.12)
        placed = place_surface(
            image, sighting, layout, kind=surface, lens=lens, focal_35mm=original.focal_35mm
        )
        return placed, len(sighting.indices)

    placing, markers_read = stages.kept(
        "placing",
        place,
        lambda done: {**done[0].to_arrays(), "markers_read": np.array(done[1])},
        lambda kept: (Placing.from_arrays(kept), int(kept["markers_read"])),
    )
    seen = seen_bounds(placing, layout, image.shape)

    def lay_flat() -> "Flat":
        return flatten(
            image,
            placing,
            layout,
            bounds_mm=_bounds(asked, placing, seen),
            progress=lambda share: stages.tell("laying it flat", 0.2 + 0.3 * share),
        )

    flat = stages.kept("flat", lay_flat, lambda f: f.to_arrays(), Flat.from_arrays)

    def find() -> "GiltMap":
        stages.tell("finding the gilt", 0.5)
        return find_gilt(flat, touches=_touches(asked, placing, seen))

    gilt = stages.kept("gilt", find, lambda g: g.to_arrays(), GiltMap.from_arrays)

    def put_together() -> "tuple[Gathered, str]":
        stages.tell("gathering the evidence", 0.75)
        evidence = healed(gather([gilt], ["here"], mirror="auto" if asked.get("mirror") else None))
        proposed = propose_bridges(evidence)
        return with_bridges(evidence, proposed), json.dumps([bridge_report(b) for b in proposed])

    gathered, bridges = stages.kept(
        "gathered",
        put_together,
        lambda done: {**done[0].to_arrays(), "bridges": np.array(done[1])},
        lambda kept: (Gathered.from_arrays(kept), str(kept["bridges"])),
    )
    drawing = gathered.graded(
        trace(
            gathered.coverage,
            gathered.px_per_mm,
            gathered.origin_mm,
            tolerance_mm=TOLERANCE_MM,
            progress=lambda share: stages.tell("drawing the outlines", 0.8 + 0.18 * share),
        )
    )
    if not drawing.paths:
        raise IronlaceError(
            f"No gilt was found in {name}: touch a place that is gilt, and one that is ground, "
            "then trace again."
        )
    found = gilt_report("here", gilt)
    window = _window(drawing.paths, drawing.bounds_mm)
    drawing = Drawing(drawing.paths, window, {"gold": tuple(found["colour_srgb"])})
    report = {
        "photograph": photograph_report(name, image.shape, markers_read, placing, layout),
        "flat": flat_report(flat),
        "gilt": found,
        "gathered": gathered_report(gathered),
        "bridges": json.loads(bridges),
        "drawing": drawing_report(drawing, TOLERANCE_MM),
    }
    svg = drawing_svg(drawing, evidence=True)
    if not keep:
        return lambda _session: {"svg": svg}
    stages.tell("keeping the drawing", 0.99)
    entry_of = _entry_maker(asked, name, photograph, report, _size_mm(window), grade_told(drawing))

    def tell(session: Session) -> dict[str, Any]:
        svg_sha = keep_svg_in(workshop, session, svg, f"{name} traced.svg")
        keep_flat(workshop, svg_sha, to_srgb8(_part_of(flat, window)))
        entry = entry_of(svg_sha)
        return {"drawing": workshop.records.add_in(session, work.slug, entry)}

    return tell


def _entry_maker(
    asked: dict[str, Any],
    name: str,
    photograph: Photograph,
    report: dict[str, Any],
    size_mm: tuple[float, float],
    told: tuple[Grade, str],
) -> Any:
    length = report["drawing"]["length_mm"]
    grade, shares = told
    residual = report["photograph"]["residual_mm"]
    plain: JsonValue = json.loads(json.dumps(report))
    wanted: JsonValue = json.loads(json.dumps(asked))

    def entry_of(svg_sha: str) -> DrawingEntry:
        finding = Finding(
            about="ornament",
            value={"svg": svg_sha, "outline_mm": length},
            grade=grade,
            sentence=(
                f"{report['drawing']['paths']} outlines, {length:.0f} mm long, traced from {name}: "
                f"{shares}; "
                f"the strip's markers agree with the camera to {residual:.3f} mm."
            ),
            inputs={"photograph": photograph.sha256, "asked": checksum_of(asked)},
            method=Method(
                name="ironlace.ornament: strip, flat, gilt, outlines",
                published=(
                    "camera model after Brown (1971); cubic outlines fitted by least squares, "
                    "after Schneider (1990)"
                ),
                parameters={"asked": wanted, "report": plain},
            ),
            version=__version__,
        )
        return DrawingEntry(
            name=str(asked.get("name") or f"Ornament of {name}"),
            svg=svg_sha,
            width_mm=size_mm[0],
            height_mm=size_mm[1],
            photographs=(name,),
            grade=finding.grade,
            finding=finding,
        )

    return entry_of


def _layout(asked: dict[str, Any]) -> "StripLayout":
    from ironlace.ornament import StripLayout, strip_sheet

    if asked.get("layout_csv"):
        return StripLayout.from_csv(str(asked["layout_csv"]))
    return strip_sheet(_one_of(asked, "strip", PIECES)).layout


def _lens(asked: dict[str, Any]) -> "Lens | None":
    from ironlace.ornament import Lens

    given = asked.get("lens")
    return Lens.from_json(json.dumps(given)) if given else None


def _one_of(asked: dict[str, Any], what: str, known: Sequence[str]) -> Any:
    value = asked.get(what) or known[0]
    if value not in known:
        raise IronlaceError(f"'{value}' is no {what}: use one of {', '.join(known)}.")
    return value


def _points(asked: dict[str, Any], what: str) -> list[tuple[float, float]]:
    try:
        return [(float(x), float(y)) for x, y in asked.get(what) or []]
    except (TypeError, ValueError) as error:
        raise IronlaceError(f"'{what}' must be a list of points [x, y] in pixels.") from error


def _bounds(asked: dict[str, Any], placing: "Placing", seen: Bounds) -> Bounds | None:
    """The region asked for, from pixels to surface mm, with a little margin."""
    from ironlace.ornament.back_projection import surface_places

    corners = _points(asked, "region")
    if not corners:
        return None
    if len(corners) < 2:
        raise IronlaceError("A region needs two corners at least: touch the opposite one too.")
    if len(corners) == 2:
        (x0, y0), (x1, y1) = corners
        corners = [(x0, y0), (x1, y0), (x1, y1), (x0, y1)]
    places = surface_places(placing, corners, seen)
    left, top = places.min(axis=0) - _MARGIN_MM
    right, bottom = places.max(axis=0) + _MARGIN_MM
    return float(left), float(top), float(right), float(bottom)


def _touches(asked: dict[str, Any], placing: "Placing", seen: Bounds) -> "list[Touch]":
    """The touched points, from pixels to surface mm."""
    from ironlace.ornament import Touch
    from ironlace.ornament.back_projection import surface_places

    return [
        Touch(float(x), float(y), is_gilt=is_gilt)
        for what, is_gilt in (("gilt", True), ("ground", False))
        for x, y in surface_places(placing, _points(asked, what), seen)
    ]


def _window(paths: "Sequence[ClosedPath]", bounds_mm: Bounds) -> Bounds:
    """What is drawn with a little air round it, within what was laid flat."""
    points = np.concatenate([path.curves.reshape(-1, 2) for path in paths])
    left, top = np.maximum(points.min(axis=0) - _AIR_MM, bounds_mm[:2])
    right, bottom = np.minimum(points.max(axis=0) + _AIR_MM, bounds_mm[2:])
    return float(left), float(top), float(right), float(bottom)


def _part_of(flat: "Flat", window: Bounds) -> NDArray[np.uint16]:
    """The light of a flat within a window, (rows, columns, 3)."""
    left, top = (np.array(window[:2]) - flat.origin_mm) * flat.px_per_mm
    right, bottom = (np.array(window[2:]) - flat.origin_mm) * flat.px_per_mm
    rows, columns = slice(round(top), round(bottom)), slice(round(left), round(right))
    return flat.light[rows, columns]


def _size_mm(bounds_mm: Bounds) -> tuple[float, float]:
    left, top, right, bottom = bounds_mm
    return round(right - left, 3), round(bottom - top, 3)

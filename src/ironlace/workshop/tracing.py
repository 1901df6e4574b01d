"""Tracing the ornament of a photograph in the workshop: from the original to a graded drawing.

Stages are kept one by one, so a trace that was cut short goes on after the last of them.
"""

import json
from collections.abc import Sequence
from dataclasses import dataclass
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
from ironlace.workshop.photographs import Original
from ironlace.workshop.tasks import Tell, Work

if TYPE_CHECKING:
    from ironlace.ornament import ClosedPath, Flat, Lens, Placing, StripLayout, Touch

Bounds = tuple[float, float, float, float]
PIECES = ("frame", "corner", "strip", "wrap")
SURFACES = ("plane", "cylinder", "cone")
TOLERANCE_MM = 0.04
MOST_OTHERS = 24
_MARGIN_MM = 2.0
_AIR_MM = 4.0


def trace_photograph(work: Work, *, keep: bool = True) -> Tell:
    """Trace what a job asks for; returns what adds the drawing to the record.

    Without `keep` nothing is added: the job's result is the SVG, for comparing.

    The job's `asked` holds `photograph` (its name) and may hold `others` (more photographs, see
    `_taken`), `strip` (a piece of the printed strip, or `layout_csv` with another one), `surface`,
    `mirror`, `repeat`, `lens` (its JSON), `region` (corners in pixels of the upright photograph),
    and `gilt` and `ground` (touched points in pixels).

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
    from ironlace.ornament.joining import joined
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
    taken = _taken(work)
    layout, lens = _layout(asked), _lens(asked)
    surface = _one_of(asked, "surface", SURFACES)
    count = len(taken)

    placings: list[tuple[Placing, int, tuple[int, ...]]] = []
    for n, photo in enumerate(taken):

        def place(photo: _Taken = photo, n: int = n) -> "tuple[Placing, int, tuple[int, ...]]":
            of = f" of {photo.name}" if count > 1 else ""
            stages.tell(f"opening the photograph{of}", 0.01 + 0.2 * n / count)
            image = pixels(photo.original.path)
            stages.tell(f"finding the strip{of}", 0.03 + 0.2 * n / count)
            sighting = find_strip(image, layout)
            stages.tell(f"measuring camera and surface{of}", 0.1 + 0.2 * n / count)
            placed = place_surface(
                image,
                sighting,
                layout,
                kind=surface,
                lens=lens,
                focal_35mm=photo.original.focal_35mm,
            )
            return placed, len(sighting.indices), image.shape

        placings.append(
            stages.kept(
                f"placing{n}",
                place,
                lambda done: {
                    **done[0].to_arrays(),
                    "markers_read": np.array(done[1]),
                    "picture": np.array(done[2]),
                },
                lambda kept: (
                    Placing.from_arrays(kept),
                    int(kept["markers_read"]),
                    tuple(int(v) for v in kept["picture"]),
                ),
            )
        )
    seen = _seen_by_any([seen_bounds(p, layout, shape) for p, _, shape in placings])
    own = seen_bounds(placings[0][0], layout, placings[0][2])
    window_mm = _bounds(asked, placings[0][0], own) or (seen if count > 1 else None)

    def flat_of(n: int, scale: float | None) -> "Flat":
        placing = placings[n][0]

        def lay_flat() -> "Flat":
            share = (n + 0.1) / count
            stages.tell("laying it flat", 0.2 + 0.3 * share)
            return flatten(
                pixels(taken[n].original.path),
                placing,
                layout,
                px_per_mm=scale,
                bounds_mm=window_mm,
                progress=lambda done: stages.tell("laying it flat", 0.2 + 0.3 * (n + done) / count),
            )

        return stages.kept(f"flat{n}", lay_flat, lambda f: f.to_arrays(), Flat.from_arrays)

    flat = flat_of(0, None)
    scale = flat.px_per_mm
    gilts: list[GiltMap] = []
    for n in range(count):

        def find(n: int = n) -> "GiltMap":
            stages.tell("finding the gilt", 0.5 + 0.2 * n / count)
            touches = _touches(asked, placings[0][0], own) if n == 0 else ()
            return find_gilt(flat if n == 0 else flat_of(n, scale), touches=touches)

        gilts.append(stages.kept(f"gilt{n}", find, lambda g: g.to_arrays(), GiltMap.from_arrays))

    labels = [photo.label for photo in taken]
    grades = [photo.grade for photo in taken]

    def put_together() -> "tuple[Gathered, str]":
        stages.tell("gathering the evidence", 0.75)
        evidence = healed(
            gather(
                gilts,
                labels,
                grades if count > 1 else None,
                mirror="auto" if asked.get("mirror") else None,
                repeat="auto" if asked.get("repeat") else None,
            )
        )
        proposed = propose_bridges(evidence)
        return with_bridges(evidence, proposed), json.dumps([bridge_report(b) for b in proposed])

    gathered, bridges = stages.kept(
        "gathered",
        put_together,
        lambda done: {**done[0].to_arrays(), "bridges": np.array(done[1])},
        lambda kept: (Gathered.from_arrays(kept), str(kept["bridges"])),
    )
    same = [n for n, photo in enumerate(taken) if photo.grade is Grade.SEEN]
    if len(same) > 1:
        stages.tell("joining the photographs", 0.79)
        flat = joined(flat_of(n, scale) for n in same)
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
            f"No gilt was found in {taken[0].name}: touch a place that is gilt, and one that is "
            "ground, then trace again."
        )
    found = gilt_report("here", gilts[0])
    window = _window(drawing.paths, drawing.bounds_mm)
    drawing = Drawing(drawing.paths, window, {"gold": tuple(found["colour_srgb"])})
    of_photographs = [
        photograph_report(photo.name, shape, read, placing, layout)
        for photo, (placing, read, shape) in zip(taken, placings, strict=True)
    ]
    report = {
        "photograph": of_photographs[0],
        "photographs": of_photographs,
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
    entry_of = _entry_maker(asked, taken, report, _size_mm(window), grade_told(drawing))

    def tell(session: Session) -> dict[str, Any]:
        svg_sha = keep_svg_in(workshop, session, svg, f"{taken[0].name} traced.svg")
        keep_flat(workshop, svg_sha, to_srgb8(_part_of(flat, window)))
        entry = entry_of(svg_sha)
        return {"drawing": workshop.records.add_in(session, work.slug, entry)}

    return tell


def _entry_maker(
    asked: dict[str, Any],
    taken: "Sequence[_Taken]",
    report: dict[str, Any],
    size_mm: tuple[float, float],
    told: tuple[Grade, str],
) -> Any:
    length = report["drawing"]["length_mm"]
    grade, shares = told
    residual = report["photograph"]["residual_mm"]
    plain: JsonValue = json.loads(json.dumps(report))
    wanted: JsonValue = json.loads(json.dumps(asked))
    checksums = {"photograph": taken[0].original.sha256} | {
        photo.name: photo.original.sha256 for photo in taken[1:]
    }

    def entry_of(svg_sha: str) -> DrawingEntry:
        finding = Finding(
            about="ornament",
            value={"svg": svg_sha, "outline_mm": length},
            grade=grade,
            sentence=(
                f"{report['drawing']['paths']} outlines, {length:.0f} mm long, traced from "
                f"{_listed([photo.name for photo in taken])}: "
                f"{shares}; "
                f"the strip's markers agree with the camera to {residual:.3f} mm."
            ),
            inputs={**checksums, "asked": checksum_of(asked)},
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
            name=str(asked.get("name") or f"Ornament of {taken[0].name}"),
            svg=svg_sha,
            width_mm=size_mm[0],
            height_mm=size_mm[1],
            photographs=tuple(photo.name for photo in taken),
            grade=finding.grade,
            finding=finding,
        )

    return entry_of


@dataclass(frozen=True, slots=True)
class _Taken:
    """A photograph that is traced: of this machine, or of another example of it."""

    name: str
    original: Original
    label: str
    grade: Grade


def _taken(work: Work) -> list[_Taken]:
    """The photographs asked for, the machine's own first.

    `others` of what is asked is a list of `{photograph, shows, called}`: `shows` is "machine" for
    this one again, "example" for another one like it, which `called` names.
    """
    asked = work.job.asked
    record = work.workshop.records.read(work.slug)
    others = asked.get("others") or []
    if not isinstance(others, list) or len(others) > MOST_OTHERS:
        raise IronlaceError(f"'others' must be a list of at most {MOST_OTHERS} photographs.")
    taken: list[_Taken] = []
    for number, told in enumerate([{"photograph": asked.get("photograph")}, *others]):
        name = str(told.get("photograph") or "") if isinstance(told, dict) else ""
        photograph = record.named(name) if name else None
        if not isinstance(photograph, Photograph):
            raise IronlaceError(f"'{name}' is not a photograph: name one such as 'photograph 3'.")
        if name in [photo.name for photo in taken]:
            raise IronlaceError(f"{name} was named twice: name each photograph once.")
        here = number == 0 or told.get("shows") != "example"
        label = "here" if number == 0 else str(told.get("called") or name)[:80]
        taken.append(
            _Taken(
                name,
                work.workshop.photographs.original(photograph.sha256),
                label if number == 0 or label != "here" else name,
                Grade.SEEN if here else Grade.INFERRED,
            )
        )
    return taken


def _seen_by_any(each: "Sequence[Bounds]") -> Bounds:
    rows = np.array(each)
    low, high = rows[:, :2].min(axis=0), rows[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


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

"""Tracing the ornament of a photograph in the workshop: from the original to a graded drawing.

Stages are kept one by one, so a trace that was cut short goes on after the last of them.
"""

import json
import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from pydantic import JsonValue
from sqlalchemy.orm import Session

from ironlace import __version__
from ironlace.evidence.arrays import Bounds
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Method, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.record.entries import DrawingEntry, Photograph
from ironlace.workshop.ornament.drawings import grade_told, keep_flat, keep_svg_in
from ironlace.workshop.store.intake import pixels
from ironlace.workshop.store.photographs import Original
from ironlace.workshop.work.in_hand import Tell, Work

if TYPE_CHECKING:
    from ironlace.ornament import ClosedPath, GiltMap
    from ironlace.ornament.gather.gathered import Mirror, Repeats
    from ironlace.ornament.gilt.colour_layers import ColourTouch
    from ironlace.photographs import Flat, Lens, Placing, StripLayout

PIECES = ("frame", "corner", "strip", "wrap")
SURFACES = ("plane", "cylinder", "cone")
HOWS = ("strip", "points", "scan", "rubbing")
SHEETS = ("scan", "rubbing")
TRACED = "ironlace.ornament: strip, flat, gilt, outlines"
TOLERANCE_MM = 0.04
MOST_OTHERS = 24
MOST_COLOURS = 5
CARD_RADIUS_MM = 4.0
_MARGIN_MM = 2.0
_AIR_MM = 4.0


def trace_photograph(work: Work, *, keep: bool = True) -> Tell:
    """Trace what a job asks for; returns what adds the drawing to the record.

    Without `keep` nothing is added: the job's result is the SVG, for comparing.

    The job's `asked` holds `photograph` (its name) and may hold `others` (more photographs, see
    `_taken`), `strip` (a piece of the printed strip, or `layout_csv` with another one), `surface`,
    `mirror`, `repeat`, `lens` (its JSON), `region` (corners in pixels of the upright photograph),
    and `gilt` and `ground` (touched points in pixels). `axis` and `step` are two points each, of a
    mirror axis and from a motif to the next; `card` is the middle of a grey card. `colours` maps
    further colours to points touched. `how` says what gives the measure: the `strip`, `points`
    (then `measured` lists x px, y px, x mm, y mm, and `radius_mm` may be known), a `scan` or a
    `rubbing` (with `dpi`).

    Raises
    ------
    IronlaceError
        When the photograph or what is asked cannot be used; the ornament room says why.
    """
    from ironlace.ornament import (
        Drawing,
        DrawingError,
        Gathered,
        Touch,
        drawing_svg,
        find_gilt,
        trace,
    )
    from ironlace.ornament.files.laid_back import prove
    from ironlace.ornament.gilt.colour_layers import colours_told, find_colours
    from ironlace.ornament.gilt.scan_and_rubbing import find_marks, flat_from_scan
    from ironlace.ornament.trace_photographs import (
        bridge_report,
        drawing_report,
        flat_report,
        gather_and_bridge,
        gathered_report,
        gilt_report,
        photograph_report,
    )
    from ironlace.photographs import Flat, flatten
    from ironlace.photographs.back_projection import surface_places
    from ironlace.photographs.flattening import seen_bounds
    from ironlace.photographs.linear_light import to_srgb8
    from ironlace.photographs.photographs_joined import joined

    asked, stages, workshop = work.job.asked, work.stages, work.workshop
    how = _one_of(asked, "how", HOWS)
    taken = _taken(work)
    if how in SHEETS and len(taken) > 1:
        raise IronlaceError("A scan or a rubbing is traced by itself: leave the others out.")
    count = len(taken)

    @lru_cache(maxsize=1)
    def picture(n: int) -> NDArray[np.uint8]:
        """One photograph's pixels; the last one is held, for it is wanted again and again."""
        return pixels(taken[n].original.path)

    placings: list[_Placed] = []
    if how not in SHEETS:
        placings = [_placed(work, how, taken, n, picture) for n in range(count)]
    extent: StripLayout | Bounds = _layout(asked) if how == "strip" else _measured_bounds(asked)
    window_mm: Bounds | None = None
    own: Bounds | None = None
    if placings:
        seen = [seen_bounds(p.placing, extent, p.shape) for p in placings]
        own = seen[0]
        window_mm = _bounds(asked, placings[0].placing, own)
        if window_mm is None and count > 1:
            window_mm = _seen_by_any(seen)

    def flat_of(n: int, scale: float | None) -> "Flat":
        def lay_flat() -> "Flat":
            stages.tell("laying it flat", 0.2 + 0.3 * (n + 0.1) / count)
            image = picture(n)
            if how in SHEETS:
                return flat_from_scan(image, _dpi(asked))
            return flatten(
                image,
                placings[n].placing,
                extent,
                px_per_mm=scale,
                bounds_mm=window_mm,
                progress=lambda done: stages.tell("laying it flat", 0.2 + 0.3 * (n + done) / count),
            )

        return stages.kept(f"flat{n}", lay_flat, lambda f: f.to_arrays(), Flat.from_arrays)

    flat = flat_of(0, None)
    scale = flat.px_per_mm

    def touched(points: Any, what: str) -> "list[tuple[float, float]]":
        """Touched points, from pixels to surface mm."""
        px = _points_of(points, what)
        if placings and own is not None:
            places = surface_places(placings[0].placing, px, own)
        else:
            places = np.array(px, np.float64).reshape(-1, 2) * (25.4 / _dpi(asked) if px else 1.0)
        return [(float(x), float(y)) for x, y in places]

    colours = _colours(asked, touched)
    axis, step = _axis_and_step(asked, touched)

    def found_in(n: int) -> "dict[str, GiltMap]":
        """Every colour's coverage in one photograph, each kept as a stage."""

        def find() -> "list[GiltMap]":
            stages.tell("finding the gilt", 0.5 + 0.2 * n / count)
            here = flat if n == 0 else flat_of(n, scale)
            if how == "rubbing":
                return [find_marks(here)]
            if colours:
                card = touched(asked.get("card"), "card")[:1] if n == 0 else []
                layers = find_colours(
                    here, colours, grey_card=(*card[0], CARD_RADIUS_MM) if card else None
                )
                measured.update(colours_told(layers) if n == 0 else {})
                return [layer.found for layer in layers]
            touches = [
                Touch(x, y, is_gilt=what == "gilt")
                for what in ("gilt", "ground")
                for x, y in touched(asked.get(what), what)
            ]
            return [find_gilt(here, touches=touches if n == 0 else ())]

        maps = stages.kept(
            f"found{n}",
            find,
            lambda maps: {
                "measured": np.array(json.dumps(measured)),
                **{
                    f"{k}_{name}": v
                    for k, m in enumerate(maps)
                    for name, v in m.to_arrays().items()
                },
            },
            lambda kept: _maps_of(kept, measured),
        )
        return dict(zip(layer_names, maps, strict=True))

    measured: dict[str, Any] = {}
    layer_names = tuple(dict.fromkeys(t.layer for t in colours if t.layer)) or ("gold",)
    found = [found_in(n) for n in range(count)]
    labels = [photo.label for photo in taken]
    grades = [photo.grade for photo in taken]
    drawings: list[Drawing] = []
    told: list[dict[str, Any]] = []
    proposals: list[dict[str, Any]] = []
    shades: dict[str, tuple[int, int, int]] = {}
    for number, layer in enumerate(layer_names):
        maps = [photo[layer] for photo in found]

        stages.tell("gathering the evidence", 0.72 + 0.06 * number / len(layer_names))

        def put_together(maps: "list[GiltMap]" = maps) -> "tuple[Gathered, str]":
            evidence, proposed = gather_and_bridge(
                maps, labels, grades if count > 1 else None, mirror=axis, repeat=step
            )
            return evidence, json.dumps([bridge_report(b) for b in proposed])

        gathered, bridges = stages.kept(
            f"gathered{number}",
            put_together,
            lambda done: {**done[0].to_arrays(), "bridges": np.array(done[1])},
            lambda kept: (Gathered.from_arrays(kept), str(kept["bridges"])),
        )
        stages.tell("drawing the outlines", 0.8 + 0.18 * number / len(layer_names))
        try:
            drawn = trace(
                gathered.coverage,
                gathered.px_per_mm,
                gathered.origin_mm,
                tolerance_mm=TOLERANCE_MM,
                layer=layer,
            )
        except DrawingError:
            continue  # of one colour nothing was found; if of none, that is said below
        drawings.append(gathered.graded(drawn))
        told += gathered_report(gathered)
        proposals += [{**b, "layer": layer} for b in json.loads(bridges)]
        shades[layer] = tuple(gilt_report("here", maps[0])["colour_srgb"])
    paths = [path for drawn in drawings for path in drawn.paths]
    if not paths:
        raise IronlaceError(
            f"No gilt was found in {taken[0].name}: touch a place that is gilt, and one that is "
            "ground, then trace again."
        )
    same = [n for n, photo in enumerate(taken) if photo.grade is Grade.SEEN]
    if len(same) > 1:
        stages.tell("joining the photographs", 0.98)
        flat = joined(flat_of(n, scale) for n in same)
    window = _window(paths, drawings[0].bounds_mm)
    drawing = Drawing(tuple(paths), window, shades)
    report: dict[str, Any] = {
        "flat": flat_report(flat),
        "gilt": gilt_report("here", found[0][layer_names[0]]),
        "gathered": told,
        "bridges": proposals,
        "drawing": drawing_report(drawing, TOLERANCE_MM),
    }
    if measured:
        report["colours"] = measured
    if placings:
        of_photographs = [
            photograph_report(photo.name, p.shape, p.markers_read, p.placing, extent)
            for photo, p in zip(taken, placings, strict=True)
        ]
        stages.tell("laying it back on the photograph", 0.985)
        proof = prove(drawing, picture(0), placings[0].placing)
        report |= {
            "photograph": of_photographs[0],
            "photographs": of_photographs,
            "camera": placings[0].placing.camera_told(),
            "proof": proof.as_dict(),
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
    measure = _measure_told(asked, report)
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
                f"{measure}."
            ),
            inputs={**checksums, "asked": checksum_of(asked)},
            method=Method(
                name=TRACED,
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


@dataclass(frozen=True, slots=True)
class _Placed:
    placing: "Placing"
    markers_read: int
    shape: tuple[int, ...]


def _placed(
    work: Work,
    how: str,
    taken: Sequence[_Taken],
    n: int,
    picture: "Callable[[int], NDArray[np.uint8]]",
) -> _Placed:
    """Where the camera stood for one photograph, kept as a stage."""
    from ironlace.photographs import Placing, find_strip, place_surface
    from ironlace.photographs.place_by_points import place_by_points

    asked, stages, photo, count = work.job.asked, work.stages, taken[n], len(taken)
    lens, surface = _lens(asked), _one_of(asked, "surface", SURFACES)
    of = f" of {photo.name}" if count > 1 else ""

    def place() -> _Placed:
        stages.tell(f"opening the photograph{of}", 0.01 + 0.2 * n / count)
        image = picture(n)
        if how == "points":
            if count > 1:
                raise IronlaceError(
                    "Measured places belong to one photograph: use the strip for several."
                )
            stages.tell("measuring camera and surface", 0.1)
            places = _measured_places(asked)
            placed = place_by_points(
                image,
                [(px, py) for px, py, _, _ in places],
                [(x, y) for _, _, x, y in places],
                kind=surface,
                lens=lens,
                focal_35mm=photo.original.focal_35mm,
                radius_mm=_positive(asked, "radius_mm"),
            )
            return _Placed(placed, 0, image.shape)
        layout = _layout(asked)
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
        return _Placed(placed, len(sighting.indices), image.shape)

    return stages.kept(
        f"placing{n}",
        place,
        lambda done: {
            **done.placing.to_arrays(),
            "markers_read": np.array(done.markers_read),
            "picture": np.array(done.shape),
        },
        lambda kept: _Placed(
            Placing.from_arrays(kept),
            int(kept["markers_read"]),
            tuple(int(v) for v in kept["picture"]),
        ),
    )


def _measured_places(asked: dict[str, Any]) -> list[tuple[float, float, float, float]]:
    """Places pointed at with their measures: x and y in pixels, then in mm."""
    try:
        return [
            (float(px), float(py), float(x), float(y))
            for px, py, x, y in asked.get("measured") or []
        ]
    except (TypeError, ValueError) as error:
        raise IronlaceError(
            "'measured' must be a list of places [x px, y px, x mm, y mm]."
        ) from error


def _measured_bounds(asked: dict[str, Any]) -> Bounds:
    places = _measured_places(asked)
    if not places:
        return 0.0, 0.0, 1.0, 1.0
    mm = np.array([(x, y) for _, _, x, y in places])
    low, high = mm.min(axis=0), mm.max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _positive(asked: dict[str, Any], what: str) -> float | None:
    value = asked.get(what)
    if value in (None, ""):
        return None
    try:
        number = float(value)
    except (TypeError, ValueError) as error:
        raise IronlaceError(f"'{what}' must be a number: leave it out if it is not known.") from (
            error
        )
    if not 0 < number < 1e6:
        raise IronlaceError(f"'{what}' of {number:g} cannot be: leave it out if it is not known.")
    return number


def _dpi(asked: dict[str, Any]) -> float:
    found = _positive(asked, "dpi")
    if found is None:
        raise IronlaceError("A scan needs its resolution in dots to the inch: say its dpi.")
    return found


def _colours(
    asked: dict[str, Any], touched: "Callable[[Any, str], list[tuple[float, float]]]"
) -> "list[ColourTouch]":
    """Touches of every colour, when there are others than gold; empty when gold is alone."""
    from ironlace.ornament.gilt.colour_layers import ColourTouch

    others = asked.get("colours") or {}
    if not isinstance(others, dict) or len(others) > MOST_COLOURS:
        raise IronlaceError(
            f"'colours' must name at most {MOST_COLOURS} colours, each with the points touched."
        )
    if not others:
        return []
    touches = [ColourTouch(x, y, "gold") for x, y in touched(asked.get("gilt"), "gilt")]
    for name, points in others.items():
        label = " ".join(str(name).split())[:40]
        touches += [ColourTouch(x, y, label) for x, y in touched(points, label)]
    return touches + [ColourTouch(x, y, "") for x, y in touched(asked.get("ground"), "ground")]


def _axis_and_step(
    asked: dict[str, Any], touched: "Callable[[Any, str], list[tuple[float, float]]]"
) -> "tuple[Mirror, Repeats]":
    """The mirror axis and the repeat's step: pointed at by two places each, looked for, or none."""
    axis: Mirror = "auto" if asked.get("mirror") else None
    step: Repeats = "auto" if asked.get("repeat") else None
    for what in ("axis", "step"):
        places = touched(asked.get(what), what)
        if not places:
            continue
        if len(places) != 2:
            raise IronlaceError(
                f"The {what} needs two places, not {len(places)}: point at one and then another."
            )
        (x0, y0), (x1, y1) = places
        if math.hypot(x1 - x0, y1 - y0) < 1.0:
            raise IronlaceError(f"The two places of the {what} lie together: point farther apart.")
        if what == "axis":
            axis = ((x0, y0), math.atan2(y1 - y0, x1 - x0))
        else:
            step = (x1 - x0, y1 - y0)
    return axis, step


def _maps_of(kept: "dict[str, NDArray[Any]]", measured: dict[str, Any]) -> "list[GiltMap]":
    from ironlace.ornament import GiltMap

    measured.update(json.loads(str(kept["measured"])))
    numbers = sorted({int(name.split("_", 1)[0]) for name in kept if name != "measured"})
    return [
        GiltMap.from_arrays(
            {
                name.split("_", 1)[1]: value
                for name, value in kept.items()
                if name.startswith(f"{number}_")
            }
        )
        for number in numbers
    ]


def _measure_told(asked: dict[str, Any], report: dict[str, Any]) -> str:
    if "photograph" not in report:
        return f"its scale is that of the scan, {_dpi(asked):g} dpi"
    residual = report["photograph"]["residual_mm"]
    if asked.get("how") == "points":
        return f"the measured places agree with the camera to {residual:.2f} mm"
    return f"the strip's markers agree with the camera to {residual:.3f} mm"


def _seen_by_any(each: "Sequence[Bounds]") -> Bounds:
    rows = np.array(each)
    low, high = rows[:, :2].min(axis=0), rows[:, 2:].max(axis=0)
    return float(low[0]), float(low[1]), float(high[0]), float(high[1])


def _listed(names: Sequence[str]) -> str:
    return names[0] if len(names) == 1 else f"{', '.join(names[:-1])} and {names[-1]}"


def _layout(asked: dict[str, Any]) -> "StripLayout":
    from ironlace.photographs import StripLayout, strip_sheet

    if asked.get("layout_csv"):
        return StripLayout.from_csv(str(asked["layout_csv"]))
    return strip_sheet(_one_of(asked, "strip", PIECES)).layout


def _lens(asked: dict[str, Any]) -> "Lens | None":
    from ironlace.photographs import Lens

    given = asked.get("lens")
    return Lens.from_json(json.dumps(given)) if given else None


def _one_of(asked: dict[str, Any], what: str, known: Sequence[str]) -> Any:
    value = asked.get(what) or known[0]
    if value not in known:
        raise IronlaceError(f"'{value}' is no {what}: use one of {', '.join(known)}.")
    return value


def _points_of(points: Any, what: str) -> list[tuple[float, float]]:
    try:
        return [(float(x), float(y)) for x, y in points or []]
    except (TypeError, ValueError) as error:
        raise IronlaceError(f"'{what}' must be a list of points [x, y] in pixels.") from error


def _bounds(asked: dict[str, Any], placing: "Placing", seen: Bounds) -> Bounds | None:
    """The region asked for, from pixels to surface mm, with a little margin."""
    from ironlace.photographs.back_projection import surface_places

    corners = _points_of(asked.get("region"), "region")
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

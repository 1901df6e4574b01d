"""Stencil sheets of a drawing in the workshop: what was asked is kept, the sheets are derived.

What a person chose (process, how islands are held, bridges locked, places forbidden) is a fact of
the record and stands in a finding; the sheets come out of it again every time, so they lie in
`derived/`.
"""

import json
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from io import BytesIO
from pathlib import Path
from typing import Any, Literal

import numpy as np
import shapely
from pydantic import JsonValue

from ironlace import __version__
from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.evidence.findings import Finding, Method, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Progress
from ironlace.ornament.stencils import (
    BridgeLine,
    Forbidden,
    Plan,
    Prepared,
    Process,
    Sheet,
    StencilError,
    Wishes,
    flaws_of,
    flaws_svg,
    known_process,
    plan_sheets,
    prepare,
    process_toml,
    read_filled,
    read_process,
)
from ironlace.photographs.surfaces import Plane, Round, Surface
from ironlace.record import FindingEntry
from ironlace.workshop.ornament.drawings import drawing_named, drawing_svg
from ironlace.workshop.stencils.prepared_drawings import prepared_drawing
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import write_whole
from ironlace.workshop.work.in_hand import Tell, Work

ABOUT = "stencil sheets"
QUICK_ISLANDS = 150
"""A drawing with more islands or thin places is planned as a job."""

QUICK_CORNERS = 60_000
QUICK_OUTLINE = 5_000
"""Outline, in widths of the least web, up to which crowded strokes are mended quickly."""

Remember = Callable[[tuple[str, str], Callable[[], Prepared]], Prepared]
Hold = Literal["bridges", "split"]


@dataclass(frozen=True)
class SheetsAsked:
    """What a person wants of the sheets of a drawing.

    Attributes
    ----------
    drawing
        Its name, such as ``drawing 1``.
    process
        The whole text of the process file.
    hold
        ``"bridges"`` or ``"split"``.
    trap_mm
        How far an under colour runs under a later one; the process's register error if None.
    surface
        ``kind``, and for round ones ``radius_mm``, ``axis_deg``, ``half_angle_deg``, ``x_mm`` and
        ``y_mm``.
    mirrored
        Whether the sheets are cut to be laid from behind.
    locked, kept, forbidden
        As in `ironlace.ornament.stencils.Wishes`, as numbers.
    before
        Number of the change that said what was asked before this, 0 for none: the way back.
    """

    drawing: str
    process: str
    hold: Hold
    trap_mm: float | None = None
    surface: Mapping[str, float | str] | None = None
    mirrored: bool = False
    locked: tuple[tuple[float, ...], ...] = ()
    kept: tuple[tuple[float, ...], ...] = ()
    forbidden: tuple[tuple[float, ...], ...] = ()
    before: int = 0

    def as_dict(self) -> dict[str, Any]:
        """Plain values, as they stand in the finding."""
        return {
            "drawing": self.drawing,
            "process": self.process,
            "hold": self.hold,
            "trap_mm": self.trap_mm,
            "surface": dict(self.surface) if self.surface else None,
            "mirrored": self.mirrored,
            "locked": [list(b) for b in self.locked],
            "kept": [list(b) for b in self.kept],
            "forbidden": [list(f) for f in self.forbidden],
            "before": self.before,
        }

    @classmethod
    def from_dict(cls, told: Mapping[str, Any]) -> "SheetsAsked":
        """Read back what `as_dict` gave.

        Raises IronlaceError when it is not that.
        """
        try:
            return cls(
                drawing=str(told["drawing"]),
                process=str(told["process"]),
                hold="split" if told["hold"] == "split" else "bridges",
                trap_mm=None if told.get("trap_mm") is None else float(told["trap_mm"]),
                surface=told.get("surface") or None,
                mirrored=bool(told.get("mirrored")),
                locked=_numbers(told.get("locked"), 4),
                kept=_numbers(told.get("kept"), 4),
                forbidden=_numbers(told.get("forbidden"), 3),
                before=int(told.get("before") or 0),
            )
        except (KeyError, TypeError, ValueError) as error:
            raise IronlaceError(
                "What was asked of these sheets is not what this version knows: choose the process "
                "and plan them again."
            ) from error

    @property
    def wishes(self) -> Wishes:
        """The wishes as the ornament room takes them."""
        return Wishes(
            tuple(BridgeLine(*b) for b in self.locked),
            tuple(BridgeLine(*b) for b in self.kept),
            tuple(Forbidden(*f) for f in self.forbidden),
        )

    @property
    def of_process(self) -> Process:
        """The process read."""
        return read_process(self.process)

    def fingerprint(self, svg_sha256: str) -> str:
        """Names the sheets that come of this; the way back is no part of it."""
        told = {k: v for k, v in self.as_dict().items() if k not in ("before", "drawing")}
        return checksum_of({**told, "svg": svg_sha256, "version": __version__})


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
    if not 1.0 <= radius <= 10_000.0:
        raise StencilError(f"A radius of {radius:g} mm cannot be: give 1 to 10000 mm.")
    if not -60.0 < angle < 60.0 or (kind == "cone" and angle == 0.0):
        raise StencilError(
            f"A cone's half angle of {angle:g}° cannot be used: give one between 0 and 60°, "
            "negative where it narrows along the axis."
        )
    return Round(at, radius, float(np.deg2rad(axis)), float(np.sin(np.deg2rad(angle))))


@dataclass(frozen=True, eq=False)
class KeptSheets:
    """Sheets as they came out, with all a page or a printed sheet tells of them.

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
        process = self.asked.of_process
        return Plan(self.sheets, (), process, self.asked.hold, self.report)

    def sheet(self, name: str) -> Sheet:
        """One sheet.

        Raises NotFoundError when there is none of that name.
        """
        for sheet in self.sheets:
            if sheet.name == name:
                return sheet
        raise NotFoundError(f"There is no sheet '{name[:20]}' in this plan.")


def first_asked(drawing: str, process: str = "film-knife", hold: Hold = "bridges") -> SheetsAsked:
    """What is asked when a process that comes with the program is taken as it is."""
    return SheetsAsked(drawing, process_toml(known_process(process)), hold)


def finding_of(workshop: Workshop, slug: str, drawing: str) -> tuple[str, SheetsAsked] | None:
    """The name of the finding that holds what was asked for a drawing's sheets, and that."""
    for name, entry in reversed(list(workshop.records.read(slug).of(FindingEntry))):
        asked = entry.finding.method.parameters.get("asked")
        if entry.finding.about != ABOUT or not isinstance(asked, dict):
            continue
        if asked.get("drawing") == drawing:
            return name, SheetsAsked.from_dict(asked)
    return None


def takes_long(
    workshop: Workshop, slug: str, asked: SheetsAsked, islands: int | None = None
) -> bool:
    """Whether planning takes so long that it is better done as a job.

    ``islands`` is how many may be awaited; of a drawing that was looked at already, more.
    """
    most = QUICK_ISLANDS if islands is None else islands
    share = most / max(QUICK_ISLANDS, 1)
    if kept_sheets(workshop, slug, asked) is not None:
        return False
    svg = drawing_svg(workshop, slug, asked.drawing)
    if len(svg) > 20 * QUICK_CORNERS * share:
        return True
    region = read_filled(svg).region
    holes = int(shapely.get_num_interior_rings(shapely.get_parts(region)).sum())
    if region.length > QUICK_OUTLINE * share * asked.of_process.least_web_mm:
        return True
    return holes > most or int(shapely.get_num_coordinates(region)) > QUICK_CORNERS * share


def planned(
    workshop: Workshop,
    slug: str,
    asked: SheetsAsked,
    progress: Progress | None = None,
    *,
    remember: Remember | None = None,
) -> KeptSheets:
    """The sheets that come of what is asked: from where they are kept, else planned and kept.

    ``remember`` keeps what does not change while bridges are moved: called with a key and what
    makes it, it returns what was made.

    Raises
    ------
    StencilError
        When they cannot be made so; the sentence says why.
    NotFoundError
        When there is no such drawing.
    """
    found = kept_sheets(workshop, slug, asked)
    if found is not None:
        return found
    svg, process = drawing_svg(workshop, slug, asked.drawing), asked.of_process

    def prepared() -> Prepared:
        return prepared_drawing(workshop, svg, asked.process, asked.hold, asked.trap_mm)

    key = ("prepared", checksum_of([svg, asked.process, asked.hold, asked.trap_mm]))
    plan = plan_sheets(
        svg,
        process,
        asked.hold,
        prepared=remember(key, prepared) if remember else prepared(),
        surface=surface_of(asked.surface),
        trap_mm=asked.trap_mm,
        wishes=asked.wishes,
        progress=progress,
    )
    flaws = flaws_of(plan.layers)
    title = f"What falls out of {asked.drawing}"
    sheets = tuple(s.mirror() if asked.mirrored else s for s in plan.sheets)
    made = KeptSheets(
        asked,
        sheets,
        plan.report,
        tuple(
            {
                "line": [b.line.ax, b.line.ay, b.line.bx, b.line.by],
                "length_mm": round(b.length_mm, 3),
                "area_mm2": round(b.area_mm2, 4),
                "locked": b.locked,
                "colour": layer.name,
            }
            for layer in plan.layers
            for b in layer.bridges
        ),
        tuple(f.as_dict() for f in flaws),
        flaws_svg(plan.layers, flaws, title),
    )
    place = _place(workshop, slug, asked)
    write_whole(place.with_suffix(".npz"), _packed(sheets))
    told = {
        "report": made.report,
        "bridges": list(made.bridges),
        "flaws": list(made.flaws),
        "falls_svg": made.falls_svg,
    }
    # written last: its being there says that all is there
    write_whole(place.with_suffix(".json"), json.dumps(told).encode("utf-8"))
    return made


def kept_sheets(workshop: Workshop, slug: str, asked: SheetsAsked) -> KeptSheets | None:
    """The sheets that come of what is asked if they were made before, else None."""
    place = _place(workshop, slug, asked)
    try:
        told = json.loads(place.with_suffix(".json").read_text(encoding="utf-8"))
        sheets = _unpacked(place.with_suffix(".npz").read_bytes())
        return KeptSheets(
            asked, sheets, told["report"], tuple(told["bridges"]), tuple(told["flaws"]),
            told["falls_svg"],
        )  # fmt: skip
    except (OSError, ValueError, KeyError):
        # what is derived can be thrown away or spoilt: it is made again
        return None


def keep_asked(workshop: Workshop, slug: str, made: KeptSheets, by: str = "") -> str:
    """Keep what was asked, with what came of it, as a finding of the record; returns its name."""
    before = finding_of(workshop, slug, made.asked.drawing)
    if before is not None:
        name, earlier = before
        if earlier.as_dict() | {"before": 0} == made.asked.as_dict() | {"before": 0}:
            return name
        changes = workshop.records.changes(slug, name)
        asked = replace(made.asked, before=changes[-1].number)
        workshop.records.change(slug, name, _entry(workshop, slug, made, asked), by=by)
        return name
    entry = _entry(workshop, slug, made, replace(made.asked, before=0))
    return workshop.records.add(slug, entry, by=by)


def step_back(workshop: Workshop, slug: str, drawing: str, by: str = "") -> SheetsAsked:
    """Take the last change back: keep again what was asked before it; returns that.

    Raises ConflictError when there is nothing to go back to.
    """
    now = finding_of(workshop, slug, drawing)
    if now is None or now[1].before == 0:
        raise ConflictError("There is no earlier plan to go back to.")
    name, asked = now
    for change in workshop.records.changes(slug, name):
        if change.number == asked.before and isinstance(change.entry, FindingEntry):
            workshop.records.change(slug, name, change.entry, by=by)
            told = change.entry.finding.method.parameters["asked"]
            assert isinstance(told, dict)
            return SheetsAsked.from_dict(told)
    raise ConflictError("The earlier plan is no longer in the history of this record.")


def told_of(made: KeptSheets) -> dict[str, JsonValue]:
    """The plan in a few figures, as the finding's value."""
    r = made.report
    return {
        "sheets": len(made.sheets),
        "islands": r["islands"],
        "bridges": r["bridges"],
        "bridge_mm2": r["bridge_mm2"],
        "covered": min(layer["laid"][0]["covered"] for layer in r["proof"]),
        "touch_in_minutes": r["touch_in"]["minutes"],
    }


def planned_again(workshop: Workshop, slug: str, asked: SheetsAsked) -> KeptSheets:
    """The sheets planned anew, whatever is kept of them."""
    place = _place(workshop, slug, asked)
    place.with_suffix(".json").unlink(missing_ok=True)
    svg = drawing_svg(workshop, slug, asked.drawing)

    def looked_at_again(_key: tuple[str, str], _make: Callable[[], Prepared]) -> Prepared:
        return prepare(svg, asked.of_process, asked.hold, trap_mm=asked.trap_mm)

    return planned(workshop, slug, asked, remember=looked_at_again)


def plan_as_job(work: Work) -> Tell:
    """Plan what a job asks for, and keep it in the record."""
    asked = SheetsAsked.from_dict(work.job.asked)
    made = planned(work.workshop, work.slug, asked, work.stages.tell)
    drawing = asked.drawing
    if work.job.asked.get("only_look"):
        return lambda _session: {"sheets": drawing}
    keep_asked(work.workshop, work.slug, made, str(work.job.asked.get("by") or ""))
    return lambda _session: {"sheets": drawing}


def _entry(workshop: Workshop, slug: str, made: KeptSheets, asked: SheetsAsked) -> FindingEntry:
    svg = drawing_named(workshop, slug, asked.drawing).svg
    told: JsonValue = json.loads(json.dumps(asked.as_dict()))
    return FindingEntry(
        finding=Finding(
            about=ABOUT,
            value=told_of(made),
            grade=Grade.INFERRED,
            sentence=f"For {asked.drawing}: " + " ".join(made.plan.sentences()),
            inputs={"drawing": svg, "process": checksum_of(asked.process)},
            method=Method(
                name="ironlace.ornament.stencils: least bridges, fewest sheets, laid on trial",
                published="spanning tree after Kruskal (1956), exchanges after Croes (1958)",
                parameters={"asked": told},
            ),
            version=__version__,
        )
    )


def _place(workshop: Workshop, slug: str, asked: SheetsAsked) -> Path:
    key = asked.fingerprint(drawing_named(workshop, slug, asked.drawing).svg)
    return workshop.derived / "sheets" / key[:2] / key


def _packed(sheets: tuple[Sheet, ...]) -> bytes:
    out = BytesIO()
    arrays: dict[str, Any] = {"count": np.array(len(sheets))}
    for n, s in enumerate(sheets):
        shapes = np.frombuffer(shapely.to_wkb(s.openings), np.uint8)
        arrays |= {
            f"{n}.words": np.array([s.name, s.colour, *(word for _, word in s.notes)]),
            f"{n}.openings": shapes,
            f"{n}.edge": shapely.get_coordinates(s.edge.exterior),
            f"{n}.register": s.register_mm,
            f"{n}.hole": np.array(s.register_hole_mm),
            f"{n}.mirrored": np.array(s.mirrored),
            f"{n}.notes": np.array([line for line, _ in s.notes]).reshape(-1, 2, 2),
        }
    np.savez_compressed(out, allow_pickle=False, **arrays)
    return out.getvalue()


def _unpacked(content: bytes) -> tuple[Sheet, ...]:
    with np.load(BytesIO(content), allow_pickle=False) as kept:
        out = []
        for n in range(int(kept["count"])):
            name, colour, *words = (str(w) for w in kept[f"{n}.words"])
            openings = shapely.from_wkb(kept[f"{n}.openings"].tobytes())
            assert isinstance(openings, shapely.MultiPolygon)
            notes = tuple(zip(kept[f"{n}.notes"], words, strict=True))
            out.append(
                Sheet(
                    name,
                    colour,
                    openings,
                    shapely.Polygon(kept[f"{n}.edge"]),
                    kept[f"{n}.register"],
                    float(kept[f"{n}.hole"]),
                    notes,
                    bool(kept[f"{n}.mirrored"]),
                )
            )
        return tuple(out)


def _numbers(told: Any, count: int) -> tuple[tuple[float, ...], ...]:
    out = tuple(tuple(float(v) for v in row) for row in told or ())
    if any(len(row) != count for row in out):
        raise ValueError(f"{count} numbers are needed")
    return out

"""The whole way from photographs with the strip in them to one drawing, and the only one.

Each step is a function of its own (`find_strip`, `place_surface`, `flatten`, `find_gilt`, `gather`,
`trace`); `trace_stages` makes stages of them that can be kept, and here they run in order.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass, replace
from typing import Final

import numpy as np

from ironlace.evidence.arrays import Bounds
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.ornament.errors import DrawingError
from ironlace.ornament.files.laid_back import (
    NO_TRACE,
    REMNANT,
    ProofOnPhotograph,
    prove,
    remnants_conjectured,
    traceless_conjectured,
)
from ironlace.ornament.gather.blind_places import (
    WHY,
    blind_places,
    blind_shares,
    gone_grey_share,
    other_paint_share,
    shaded_share,
)
from ironlace.ornament.gather.flecks import Flecks, flecks_conjectured
from ironlace.ornament.gather.gap_bridges import filled_places
from ironlace.ornament.gather.gathered import Gathered
from ironlace.ornament.gather.graded_outline import AT_A_BLIND_PLACE
from ironlace.ornament.gilt.gilt_map import BLIND_COVERED, GiltMap
from ironlace.ornament.outline.drawing import HERE, ClosedPath, Drawing
from ironlace.ornament.set_upright import set_upright
from ironlace.ornament.trace_asked import TraceAsked
from ironlace.ornament.trace_limits import MUCH_TRACELESS, refuse_traceless
from ironlace.ornament.trace_report import (
    Report,
    drawing_report,
    flat_report,
    gathered_report,
    gilt_report,
    photograph_report,
    scale_sd_of,
    strip_report,
)
from ironlace.ornament.trace_stages import (
    GOLD,
    U8,
    FoundGilt,
    Layer,
    Lie,
    PhotographToTrace,
    Pointed,
    TraceJob,
    bounds_of,
    found_in,
    laid_flat,
    layer_of,
    lie_of,
)
from ironlace.photographs.flat_picture import Flat
from ironlace.photographs.photographs_joined import joined
from ironlace.photographs.place_by_strip import Placing
from ironlace.photographs.scale_beside import measured_beside, second_strip
from ironlace.photographs.scale_strip import StripLayout

ALONE: Final = Steps()
"""Steps that nobody waits for and that are not kept."""
AIR_MM: Final = 4.0
"""White left around what is drawn, for looks."""


@dataclass(frozen=True)
class PhotographsToTrace:
    """The photographs of a trace, that of the object itself first."""

    photographs: tuple[PhotographToTrace, ...]

    @classmethod
    def of(
        cls, images: Sequence[U8], focal_35mm: Sequence[float | None] | None = None
    ) -> PhotographsToTrace:
        """Of pictures at hand, each HxWx3 uint8 sRGB, with the focal length of each."""
        focal = focal_35mm or [None] * len(images)
        return cls(
            tuple(
                PhotographToTrace(lambda image=image: image, name, mm)  # type: ignore[misc]
                for image, name, mm in zip(images, _names(len(images)), focal, strict=True)
            )
        )


@dataclass(frozen=True)
class Traced:
    """What came of a trace.

    Attributes
    ----------
    drawing
        The drawing, graded, in a window a little larger than what is drawn.
    report
        Plain numbers and texts only, ready for JSON.
    names
        The photographs' names.
    placings
        Where the camera stood for each; none for a scan.
    flat
        The first photograph laid flat.
    found
        For each photograph the gilt of every layer; as it lay, also where the drawing is turned.
    gathered
        For each layer the evidence joined; as it lay, too.
    flat_of
        Lays the photograph of a number flat on the same grid, anew or from where it was kept.
    """

    drawing: Drawing
    report: Report
    names: tuple[str, ...]
    placings: tuple[Placing, ...]
    flat: Flat
    found: tuple[Mapping[str, GiltMap], ...]
    gathered: tuple[Gathered, ...]
    flat_of: Callable[[int], Flat]

    def joined_flat(self) -> Flat:
        """All photographs of the object itself joined into one flat picture."""
        grades = self.gathered[0].grades[: len(self.names)]
        same = [n for n, grade in enumerate(grades) if grade is Grade.SEEN]
        return joined(self.flat_of(n) for n in same) if len(same) > 1 else self.flat


def trace_photographs(
    given: PhotographsToTrace,
    asked: TraceAsked | None = None,
    steps: Steps = ALONE,
) -> Traced:
    """Trace ornament in photographs that show the same strip on the same surface, or in one scan.

    Parameters
    ----------
    given
        The photographs.
    asked
        What is asked for; the further photographs' own words stand in ``asked.others``, in order.
    steps
        Told how far it has come, and may keep every stage's result; the default does neither.

    Raises
    ------
    AskedError
        If what is asked does not fit together or with the photographs.
    OrnamentError, PhotographsError
        If there is no photograph, or a step refuses.
    """
    job = TraceJob(given.photographs, asked or TraceAsked(), steps)
    job.check()
    lie = lie_of(job)
    flat = laid_flat(job, lie, 0, None)
    pointed = Pointed.of(job.asked, lie)
    found = [found_in(job, lie, pointed, n, flat) for n in range(len(given.photographs))]
    layers = [
        layer_of(job, pointed, k, [f.layers[name] for f in found])
        for k, name in enumerate(pointed.layers)
    ]
    drawn = [layer for layer in layers if layer.drawing is not None]
    drawing = _together(drawn, given.photographs[0].name)
    gatherings = [layer.gathered for layer in drawn]
    within = _enclosed(lie, job, drawing)
    filled = tuple(place for one in gatherings for place in filled_places(one))
    drawing = replace(drawing, blind=blind_places(gatherings, within), filled=filled)
    shares = blind_shares(gatherings, within)
    drawing, flecks = _flecks(job, flat, pointed, drawing)
    drawing, proof, traceless = _proved(job, lie, drawing, _faint(lie, pointed, found[0]))
    traced = Traced(
        drawing,
        {
            **_report(job, lie, flat, found, drawn, drawing, proof),
            **_blind_report(drawing, shares),
            "beyond_strip_mm": max(f.beyond_mm for f in found),
            "flecks": asdict(flecks),
            **_hidden_report(found, within, by_colours=bool(pointed.colours)),
            **({} if proof is None else {"traceless_share": traceless}),
        },
        tuple(photo.name for photo in given.photographs),
        tuple(placed.placing for placed in lie.placed),
        flat,
        tuple(f.layers for f in found),
        tuple(layer.gathered for layer in drawn),
        lambda n: laid_flat(job, lie, n, flat.px_per_mm),
    )
    return set_upright(traced, AIR_MM) if job.asked.upright else traced


def _faint(lie: Lie, pointed: Pointed, found: FoundGilt) -> float:
    """Share of gilt that hardly shines beside a strip's paper; 0 without, and of other colours."""
    if pointed.colours or not isinstance(lie.extent, StripLayout):
        return 0.0
    return next(iter(found.layers.values())).faint_share


def _hidden_report(found: Sequence[FoundGilt], within: Bounds, *, by_colours: bool) -> Report:
    """Shares of a window in a deep shadow, and of another colour where none was pointed at."""
    firsts = [next(iter(f.layers.values())) for f in found]
    return {
        "shaded_share": shaded_share(firsts, within),
        "other_paint_share": 0.0 if by_colours else other_paint_share(firsts, within),
        "gone_grey_share": 0.0 if by_colours else gone_grey_share(firsts, within),
    }


def _flecks(
    job: TraceJob, flat: Flat, pointed: Pointed, drawing: Drawing
) -> tuple[Drawing, Flecks]:
    """Small islands doubted by their light, where one photograph and one colour tell it."""
    if len(job.photographs) > 1 or pointed.colours or job.asked.how == "rubbing":
        return drawing, Flecks()
    vouched = [(touch.x_mm, touch.y_mm) for touch in pointed.gilt if touch.is_gilt]
    return flecks_conjectured(drawing, flat, vouched)


def _proved(
    job: TraceJob, lie: Lie, drawing: Drawing, faint: float
) -> tuple[Drawing, ProofOnPhotograph | None, float]:
    """The drawing as its first photograph bears it out, the proof, and what bore no trace.

    ``faint`` is the share of the gilt that hardly shines.

    The last is the share of what would have been graded seen in it along which it shows no edge.
    """
    if not lie.placed:
        return drawing, None, 0.0
    job.steps("laying it back on the photograph", 0.975)
    image, placing = job.photographs[0].picture(), lie.placed[0].placing
    proof = prove(drawing, image, placing)
    told = proof.as_dict()
    if len(lie.placed) == 1:  # others may show what the first does not
        refuse_traceless(told, faint)
    without = float(told["graded_seen_without_a_trace"])
    # light that is no gilt has edges, too, here and there: what shows one is no better for that
    all_of_it = len(lie.placed) == 1 and without > MUCH_TRACELESS
    borne_out = traceless_conjectured(drawing, proof, job.labels[0], GOLD, all_of_it=all_of_it)
    if len(lie.placed) == 1:
        covered = AT_A_BLIND_PLACE + WHY[BLIND_COVERED]
        borne_out = remnants_conjectured(borne_out, job.labels[0], GOLD, covered)
    if {NO_TRACE, REMNANT} & set(borne_out.length_by_source()):
        drawing, proof = borne_out, prove(borne_out, image, placing)
    return drawing, proof, without


def _together(layers: Sequence[Layer], photograph: str) -> Drawing:
    """All layers as one drawing, with a little air round what is drawn."""
    drawings = [layer.drawing for layer in layers if layer.drawing is not None]
    paths = [path for drawing in drawings for path in drawing.paths]
    if not paths:
        raise DrawingError(
            f"No gilt was found in {photograph}: touch a place that is gilt, and one that is "
            "ground, then trace again."
        )
    window = _window(paths, drawings[0].bounds_mm)
    return Drawing(tuple(paths), window, {layer.name: layer.colour for layer in layers})


def _enclosed(lie: Lie, job: TraceJob, drawing: Drawing) -> Bounds:
    """What a drawing answers for: the region asked for, or what the strip encloses."""
    if lie.window is not None and job.asked.region:
        return lie.window
    if not isinstance(lie.extent, StripLayout):
        return drawing.bounds_mm
    return lie.extent.bounds_mm


def _blind_report(drawing: Drawing, shares: Mapping[str, float]) -> Report:
    """Blind places, their share by reason, and how much outline ends at them."""
    ends = {
        name: length
        for name, length in drawing.length_by_source().items()
        if name.startswith(AT_A_BLIND_PLACE)
    }
    return {
        "blind": [place.told() for place in drawing.blind],
        "blind_share": dict(shares),
        "ends_blind_mm": float(sum(ends.values())),
    }


def _window(paths: Sequence[ClosedPath], bounds_mm: Bounds) -> Bounds:
    points = np.concatenate([path.curves.reshape(-1, 2) for path in paths])
    return bounds_of(
        np.maximum(points.min(axis=0) - AIR_MM, bounds_mm[:2]),
        np.minimum(points.max(axis=0) + AIR_MM, bounds_mm[2:]),
    )


def _report(
    job: TraceJob,
    lie: Lie,
    flat: Flat,
    found: Sequence[FoundGilt],
    layers: Sequence[Layer],
    drawing: Drawing,
    proof: ProofOnPhotograph | None,
) -> Report:
    report: Report = {
        "flat": flat_report(flat),
        "gilt": [
            {**gilt_report(label, maps), "layer": name}
            for label, one in zip(job.labels, found, strict=True)
            for name, maps in one.layers.items()
        ],
        "gathered": [
            {**source, "layer": layer.name}
            for layer in layers
            for source in gathered_report(layer.gathered)
        ],
        "bridges": [{**b, "layer": layer.name} for layer in layers for b in layer.bridges],
        "drawing": drawing_report(drawing, job.asked.tolerance_mm),
        **_copies_report([layer.gathered for layer in layers]),
        "mirror_untaken": [{**m.untaken, "layer": m.name} for m in layers if m.untaken],
    }
    report |= {"colours": dict(found[0].measured)} if found[0].measured else {}
    if proof is None:
        report["scan"] = _scan_report(job)
        return report
    if isinstance(lie.extent, StripLayout):
        image, placing = job.photographs[0].picture(), lie.placed[0].placing
        beside = (
            second_strip(image, lie.extent, placing),
            measured_beside(image, lie.extent, placing, job.asked.measured),
        )
        report["strip"] = strip_report(job.asked, [one for one in beside if one is not None])
    scale_sd = scale_sd_of(report.get("strip"))
    blurs = [proof.blur_mm] + [math.nan] * (len(lie.placed) - 1)
    report["photographs"] = [
        {
            **photograph_report(
                label,
                at.shape,
                at.markers_read,
                at.placing,
                lie.extent,
                job.asked.tolerance_mm,
                b,
                scale_sd,
            ),
            "photograph": photo.name,
        }
        for label, photo, at, b in zip(job.labels, job.photographs, lie.placed, blurs, strict=True)
    ]
    report["camera"] = lie.placed[0].placing.camera_told()
    report["proof"] = proof.as_dict()
    return report


def _copies_report(gathered: Sequence[Gathered]) -> Report:
    """What rims of two copies tell of wear."""
    return {
        "eaten_share": max((one.eaten for one in gathered), default=0.0),
        "copies_unlike_mm": max((one.unlike_mm for one in gathered), default=0.0),
        "copies_thinned_mm": max((one.thinned_mm for one in gathered), default=0.0),
        "copies_pushed": any(one.pushed for one in gathered),
    }


def _scan_report(job: TraceJob) -> Report:
    height, width = job.photographs[0].picture().shape[:2]
    return {"width": width, "height": height, "dpi": job.asked.dpi}


def _names(count: int) -> tuple[str, ...]:
    return (HERE, *(f"photograph {n + 1}" for n in range(1, count)))

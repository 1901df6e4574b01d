"""What a flat sheet does on a round surface: how far round, how it stretches, where to slit."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any, Final

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats
from ironlace.evidence.wording import counted
from ironlace.ornament.stencils.process import Process
from ironlace.photographs.surfaces import Round, Surface

_GAP_MM: Final = 0.4
"""What one relief slit may open or overlap at its end: paint bridges no more (common practice, no
source)."""

_LEAST_PITCH_MM: Final = 8.0
"""Slits nearer than this leave ribbons that nobody lays true (common practice, no source)."""

_MOST_STRAIN: Final = {"cut film": 0.02, "metal foil": 0.002, "card": 0.01, "mesh": 0.02}
"""Strain of the outer face, by kind of sheet, above which it keeps the bend, kinks or will not lie
down (orders of size from memory, no source)."""

_SHOWS_MM: Final = 0.05
"""A change of length that is less is not told: nobody lays a sheet so well (common practice)."""


@dataclass(frozen=True, slots=True)
class Wrapping:
    """A sheet on a surface that is round, and perhaps curved the other way too.

    Attributes
    ----------
    round_deg
        How far it goes round the work, in degrees of its circumference.
    seam_mm
        What stays open between its two edges.
    short_mm
        By how much what is cut lies shorter round the work than it was cut: a sheet bends about its
        middle, and its under face is drawn together by half its thickness over the radius.
    strain
        Stretch of its outer face.
    excess_mm
        By how much the long edges of the sheet are too long (or, negative, too short) for a work
        that is curved both ways; 0 for one that is not.
    slits
        Relief slits from the edges to the middle line, ``(x1, y1, x2, y2)`` in mm.
    gap_mm
        What each slit overlaps or leaves open at the edge.
    sentences
        The same in words.
    """

    round_deg: float
    seam_mm: float
    short_mm: float
    strain: float
    excess_mm: float
    slits: tuple[tuple[float, float, float, float], ...]
    gap_mm: float
    sentences: tuple[str, ...]

    def as_dict(self) -> dict[str, Any]:
        """Plain numbers."""
        return {
            "round_deg": round(self.round_deg, 1),
            "seam_mm": round(self.seam_mm, 2),
            "short_mm": round(self.short_mm, 3),
            "strain": round(self.strain, 5),
            "excess_mm": round(self.excess_mm, 3),
            "slits": [[round(v, 2) for v in slit] for slit in self.slits],
            "gap_mm": round(self.gap_mm, 3),
            "sentences": list(self.sentences),
        }


def wrapping(
    edge: Polygon,
    openings: Sequence[MultiPolygon],
    surface: Surface,
    process: Process,
    crown_mm: float | None = None,
) -> Wrapping | None:
    """How a sheet lies on a round surface; None on a plane.

    Parameters
    ----------
    edge
        The sheet's outline, flat.
    openings
        Of every sheet of the set: slits keep away from them where they can.
    crown_mm
        Radius of the curve along the axis where the work is curved that way too: positive where it
        bulges like a barrel, negative where it is waisted. The edge of a flat sheet at a distance s
        from its middle line is too long by the share K s^2 / 2 of a surface of Gaussian curvature K
        (Gauss 1827; the first term of the cosine of a sphere).
    """
    if not isinstance(surface, Round):
        return None
    along = np.array([math.cos(surface.axis_rad), math.sin(surface.axis_rad)])
    across = np.array([-along[1], along[0]])
    corners = shapely.get_coordinates(edge) - np.asarray(surface.reference_mm)
    u, v = corners @ along, corners @ across
    if surface.taper:
        # on a cone it goes round by what it covers of its circle where it covers most
        apex = surface.radius_mm / surface.taper
        turn = np.arctan2(v, apex + u) if apex > 0 else np.arctan2(-v, -(apex + u))
        circle = 2.0 * math.pi * abs(surface.taper)
        share = float(np.ptp(turn)) / circle
        radius = surface.radius_mm + surface.taper * float(u.min() if apex > 0 else u.max())
        radius = max(min(radius, surface.radius_mm), 0.1)
        round_mm = share * 2.0 * math.pi * surface.radius_mm
    else:
        radius = surface.radius_mm
        round_mm = float(np.ptp(v))
        share = round_mm / (2.0 * math.pi * radius)
    seam = (1.0 - share) * 2.0 * math.pi * radius
    strain = process.thickness_mm / (2.0 * radius)
    short = round_mm * process.thickness_mm / 2.0 / (radius + process.thickness_mm / 2.0)
    excess, gap = 0.0, 0.0
    slits: tuple[tuple[float, float, float, float], ...] = ()
    if crown_mm is not None:
        frame = _Frame(np.asarray(surface.reference_mm), along, across, u, v)
        excess, slits, gap = _relief(frame, openings, 1.0 / (radius * crown_mm))
    # a strip so wide needs a slit no nearer than the least pitch, and none opens too far
    strip = math.sqrt(8.0 * _GAP_MM / _LEAST_PITCH_MM * radius * abs(crown_mm or math.inf))
    words = _told(share, seam, short, strain, process, excess, len(slits), gap, strip)
    return Wrapping(360.0 * share, seam, short, strain, excess, slits, gap, words)


@dataclass(frozen=True, slots=True, eq=False)
class _Frame:
    """A sheet's box along and across the work's axis."""

    origin: Floats
    along: Floats
    across: Floats
    u: Floats
    v: Floats


def _relief(
    frame: _Frame, openings: Sequence[MultiPolygon], curvature: float
) -> tuple[float, tuple[tuple[float, float, float, float], ...], float]:
    """How much too long the long edges are, slits that take it up, and what each takes."""
    long_way, short_way, low = frame.along, frame.across, float(frame.u.min())
    length, width = float(np.ptp(frame.u)), float(np.ptp(frame.v))
    middle = float(frame.v.min()) + width / 2.0
    if width > length:
        long_way, short_way, low = frame.across, frame.along, float(frame.v.min())
        length, width = width, length
        middle = float(frame.u.min()) + width / 2.0
    excess = length * curvature * width**2 / 8.0
    if abs(excess) < _SHOWS_MM:
        return excess, (), 0.0
    count = math.ceil(abs(excess) / _GAP_MM)
    pitch = length / count
    if pitch < _LEAST_PITCH_MM:
        # what is slit so often is no sheet any more
        return excess, (), 0.0
    whole = shapely.union_all(list(openings))
    shapely.prepare(whole)
    slits = []
    for n in range(count):
        for side in (-1.0, 1.0):
            # where it crosses least of the openings, within a third of its pitch
            tried = low + (n + 0.5 + np.linspace(-0.33, 0.33, 23)) * pitch
            from_middle = np.array([middle, middle + side * width / 2.0])
            ends = (
                frame.origin
                + tried[:, None, None] * long_way
                + from_middle[None, :, None] * short_way
            )
            crossed = shapely.length(shapely.intersection(shapely.linestrings(ends), whole))
            aside = np.abs(tried - low - (n + 0.5) * pitch)
            best = ends[int(np.lexsort((aside, np.round(crossed, 2)))[0])]
            x1, y1, x2, y2 = best.reshape(-1).tolist()
            slits.append((x1, y1, x2, y2))
    return excess, tuple(slits), abs(excess) / count


def _told(
    share: float,
    seam: float,
    short: float,
    strain: float,
    process: Process,
    excess: float,
    slits: int,
    gap: float,
    strip: float,
) -> tuple[str, ...]:
    out = [f"Round the work the sheet goes {360 * share:.0f}°, and {seam:.1f} mm stay open."]
    if short > _SHOWS_MM:
        out.append(
            f"Wrapped, what is cut lies {short:.2f} mm shorter round the work than it was cut, by "
            f"its thickness of {process.thickness_mm:g} mm: lay it from the middle, so that either "
            "end is off by half of that."
        )
    most = _MOST_STRAIN.get(process.kind, 0.01)
    if strain > most:
        out.append(
            f"Bent so far its outer face stretches by {100 * strain:.1f} %, over the "
            f"{100 * most:.1f} % that {process.kind} bears without keeping the bend: take a "
            "thinner sheet, or cut it in strips."
        )
    if slits:
        what, does = (
            ("too long", "laps over its neighbour") if excess > 0 else ("too short", "opens")
        )
        out.append(
            f"Curved both ways: the sheet's long edges are {abs(excess):.2f} mm {what}. Slit it "
            f"from the edge to the middle line in {counted(slits, 'place')} (marked on the sheet); "
            f"each slit {does} by {gap:.2f} mm at the edge: cover it with tape."
        )
    elif abs(excess) >= _SHOWS_MM:
        out.append(
            f"Curved both ways too strongly for one sheet: its long edges are {abs(excess):.1f} mm "
            f"too {'long' if excess > 0 else 'short'}. Cut it in strips no more than "
            f"{strip:.0f} mm wide, or take a smaller margin."
        )
    elif excess:
        out.append(f"Curved both ways by so little ({abs(excess):.2f} mm) that it needs no slits.")
    return tuple(out)

"""A sheet to be cut: its openings, its edge, its register holes, and its SVG."""

from __future__ import annotations

import dataclasses
from dataclasses import dataclass, field
from xml.sax.saxutils import escape, quoteattr

import numpy as np
import shapely
from shapely import MultiPolygon, Polygon

from ironlace.evidence.arrays import Floats
from ironlace.ornament.stencils.remembered import Remembered


@dataclass(frozen=True, eq=False)
class Sheet:
    """One sheet.

    Attributes
    ----------
    name
        ``"1"``, ``"2"``, ... in the order of laying.
    colour
        What is laid through it.
    openings
        What is cut out for paint, mm.
    edge
        The sheet's outline.
    register_mm
        Middles of the register holes, alike on all sheets of a set, (n, 2).
    register_hole_mm
        Their diameter.
    notes
        Lines drawn on the sheet for laying it, each with a word: not cut.
    mirrored
        Whether it is shown from behind.
    """

    name: str
    colour: str
    openings: MultiPolygon
    edge: Polygon
    register_mm: Floats
    register_hole_mm: float
    notes: tuple[tuple[Floats, str], ...] = ()
    mirrored: bool = False
    _paths: list[str] = field(default_factory=list, init=False, repr=False, compare=False)

    @property
    def area_mm2(self) -> float:
        """Area that paint passes through."""
        return float(self.openings.area)

    def mirror(self) -> Sheet:
        """The sheet as it is cut to be laid from behind, turned about its own middle."""
        left, _, right, _ = self.edge.bounds

        def turned(xy: Floats) -> Floats:
            return np.stack([left + right - xy[:, 0], xy[:, 1]], axis=1)

        return dataclasses.replace(
            self,
            openings=shapely.transform(self.openings, turned),
            edge=shapely.transform(self.edge, turned),
            register_mm=turned(self.register_mm),
            notes=tuple((turned(line), word) for line, word in self.notes),
            mirrored=not self.mirrored,
        )

    def svg(self, remembered: Remembered | None = None) -> str:
        """The sheet as SVG in mm: openings filled, edge and register holes as lines.

        ``remembered`` is how the same openings were written before.
        """
        if not self._paths:
            # it is proved, written and printed: told once
            remembered = remembered or Remembered()
            self._paths[:] = remembered.each(
                ("path data",),
                remembered.parts(self.openings),
                lambda new: [polygon_data(p) for p in new],
            )
        left, top, right, bottom = self.edge.bounds
        w, h = right - left, bottom - top
        lines = [
            '<?xml version="1.0" encoding="UTF-8"?>',
            f'<svg xmlns="http://www.w3.org/2000/svg" width="{w:.4f}mm" height="{h:.4f}mm" '
            f'viewBox="{left:.4f} {top:.4f} {w:.4f} {h:.4f}">',
            f"<title>{escape(self.title)}</title>",
            f'<g id="openings" data-layer={quoteattr(self.colour)} fill="#1c1c1c" '
            'fill-rule="evenodd" stroke="none">',
        ]
        lines += [f'<path d="{data}"/>' for data in self._paths]
        lines.append('</g>\n<g id="register" fill="none" stroke="#1c1c1c" stroke-width="0.1">')
        r = self.register_hole_mm / 2
        lines += [f'<circle cx="{x:.4f}" cy="{y:.4f}" r="{r:.4f}"/>' for x, y in self.register_mm]
        lines.append("</g>")
        lines.append(
            '<g id="edge" fill="none" stroke="#1c1c1c" stroke-width="0.1">'
            f'<path d="{polygon_data(self.edge)}"/></g>'
        )
        lines.append('<g id="notes" fill="none" stroke="#204060" stroke-width="0.15">')
        for line, word in self.notes:
            d = "M" + "L".join(f"{x:.4f} {y:.4f}" for x, y in line)
            lines.append(f'<path d="{d}"><title>{escape(word)}</title></path>')
        lines.append("</g>")
        lines.append(
            f'<text data-role="label" x="{left + 3:.3f}" y="{bottom - 8:.3f}" font-size="3" '
            f'font-family="sans-serif" fill="#204060">{escape(self.title)}</text>'
        )
        lines.append("</svg>\n")
        return "\n".join(lines)

    @property
    def title(self) -> str:
        """What stands on the sheet."""
        behind = ", mirrored: this side down" if self.mirrored else ", this side up"
        return f"sheet {self.name}, {self.colour}{behind}"

    def cuts(self) -> list[Floats]:
        """Every ring that is cut, openings first, then register holes, the edge last."""
        rings = [
            shapely.get_coordinates(ring)[:-1]
            for opening in self.openings.geoms
            for ring in (*opening.interiors, opening.exterior)
        ]
        turn = np.linspace(0, 2 * np.pi, 48, endpoint=False)
        circle = self.register_hole_mm / 2 * np.stack([np.cos(turn), np.sin(turn)], axis=1)
        rings += [np.asarray(at) + circle for at in self.register_mm]
        rings.append(shapely.get_coordinates(self.edge.exterior)[:-1])
        return rings


def polygon_data(polygon: Polygon) -> str:
    """SVG path data of a polygon, to a tenth of a micron."""
    out = []
    for ring in (polygon.exterior, *polygon.interiors):
        points = shapely.get_coordinates(ring)[:-1]
        # one format for the whole ring: several times quicker than one for each corner
        told = "L".join(["%.4f %.4f"] * len(points)) % tuple(points.ravel().tolist())
        out.append(f"M{told}Z")
    return "".join(out)

"""Planned stencil sheets as small pictures for an account."""

from xml.sax.saxutils import escape

import shapely

from ironlace.dossier.account.blocks import SheetPicture, SheetsShown
from ironlace.evidence.wording import counted
from ironlace.ornament.stencils import Sheet, SheetSet
from ironlace.ornament.stencils.sheets import polygon_data

_AS_SMALL_MM = 0.08
"""How far a small picture's outlines may lie off: less than a dot of print at a third the size."""


def sheets_shown(drawing: str, title: str, made: SheetSet) -> SheetsShown:
    """The sheets of a drawing, in the order of laying, each with what to know of it."""
    pictures = []
    for sheet, planned in zip(made.sheets, made.report["sheets"], strict=True):
        left, top, right, bottom = sheet.edge.bounds
        words = (
            f"{counted(planned['openings'], 'opening')}, {planned['area_mm2']:,.0f} mm² of paint; "
            f"{planned['size_mm'][0]:.0f} × {planned['size_mm'][1]:.0f} mm."
        )
        pictures.append(
            SheetPicture(sheet.title, _picture(sheet), right - left, bottom - top, words)
        )
    return SheetsShown(drawing, title, tuple(pictures))


def _picture(sheet: Sheet) -> str:
    """Its openings dark within its edge, as SVG in mm, with as few corners as its size needs."""
    left, top, right, bottom = sheet.edge.bounds
    width, height = right - left, bottom - top
    open_ = shapely.simplify(sheet.openings, _AS_SMALL_MM)
    shapes = [part for part in shapely.get_parts(open_) if part.geom_type == "Polygon"]
    radius = sheet.register_hole_mm / 2
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{width:.3f}mm" height="{height:.3f}mm" '
        f'viewBox="{left:.3f} {top:.3f} {width:.3f} {height:.3f}">',
        f"<title>{escape(sheet.title)}</title>",
        f'<path d="{polygon_data(sheet.edge)}" fill="#ffffff" stroke="#1c1c1c" '
        'stroke-width="0.4"/>',
        '<g fill="#1c1c1c" fill-rule="evenodd">',
        *(f'<path d="{polygon_data(shape)}"/>' for shape in shapes if not shape.is_empty),
        '</g><g fill="none" stroke="#1c1c1c" stroke-width="0.4">',
        *(f'<circle cx="{x:.3f}" cy="{y:.3f}" r="{radius:.3f}"/>' for x, y in sheet.register_mm),
        "</g></svg>",
    ]
    return "\n".join(lines)

"""The laying sheet as pages to pin up at the bench: order, pictures, what falls out, cautions."""

from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any

from ironlace.care.cautions import Hazard, caution_for
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.dossier.print.typesetting import PAPER_NAMES, Paper, paper_size, typeset
from ironlace.ornament.stencils import HAZARDS, Sheet
from ironlace.ornament.stencils.planning.in_words import DEFER

_MARGIN_MM = 15.0
"""Beyond what desk printers leave white."""

_HIGHEST_PICTURE_MM = 120.0
"""Low enough that two sheets may share a page; chosen by eye."""

_MOST_FLAWS = 400
"""Rows of the table of what falls out; a plan with more is no plan, and the picture shows all."""

_CARE: dict[str, Hazard] = {
    "laser and PVC": Hazard.LASER,
    "solvents": Hazard.SOLVENTS,
    "spraying": Hazard.SPRAYING,
    "acids": Hazard.ACIDS,
    "oily rags": Hazard.OILY_RAGS,
}
_RESPIRATOR = " Wear a respirator that suits the product by its data sheet."


def cautions_for(hazards: Sequence[str]) -> list[str]:
    """What is said of the hazards a process names, in the words of the care room where it has any.

    >>> cautions_for(["laser and PVC"])[0].startswith("Never laser PVC")
    True
    """
    said = []
    for name in hazards:
        if name in _CARE:
            says = caution_for(_CARE[name]).says
            said.append(says + _RESPIRATOR if name == "spraying" else says)
        else:
            said.append(HAZARDS.get(name, name))
    if "spraying" in hazards:
        said.append(caution_for(Hazard.TWO_PART).says)
    return [*dict.fromkeys(said), DEFER]


def laying_pdf(  # long: docstring and one table; dict: as planned
    sheets: Sequence[Sheet],
    report: dict[str, Any],
    *,
    material: str,
    falls_svg: str,
    flaws: Sequence[dict[str, Any]],
    paper: Paper,
    title: str,
    made: str,
) -> bytes:
    """Set the laying sheet.

    Parameters
    ----------
    sheets
        In the order of laying.
    report
        Of the plan.
    material
        Of the process.
    falls_svg, flaws
        The picture of what falls out, and its table.
    title
        Stands on the first page.
    made
        When and by what; its day is the file's date if it begins with one.

    Raises
    ------
    DossierError
        When the pages cannot be set.
    """
    across, down = paper_size(paper)
    room = across - 2 * _MARGIN_MM
    files = {f"sheet-{n}.svg": sheet.svg().encode("utf-8") for n, sheet in enumerate(sheets)}
    files["falls.svg"] = falls_svg.encode("utf-8")
    falls = read_drawing(falls_svg)
    share = min(1.0, room / falls.width_mm, (down - 90.0) / falls.height_mm)
    data = {
        "title": title,
        "made": made,
        "paper": PAPER_NAMES[paper],
        "page": [across, down],
        "margin": _MARGIN_MM,
        "process": report["process"],
        "material": material,
        "cautions": cautions_for(report["cautions"]),
        "steps": [
            {"picture": f"sheet-{n}.svg", **_step(sheet, planned, room)}
            for n, (sheet, planned) in enumerate(zip(sheets, report["sheets"], strict=True))
        ],
        "touch": _touch(report["touch_in"]),
        "proof": [_proof_in_words(layer) for layer in report["proof"]],
        "falls": {
            "width": falls.width_mm * share,
            "height": falls.height_mm * share,
            "scale": _scale_in_words(share),
        },
        "flaws": list(flaws[:_MOST_FLAWS]),
        "flaws_left": max(0, len(flaws) - _MOST_FLAWS),
    }
    return typeset("laying.typ", data, made=_day(made), files_beside=files)


def _step(sheet: Sheet, planned: dict[str, Any], room_mm: float) -> dict[str, Any]:
    """One sheet at its turn: its picture's size on the page, and what to know of it."""
    left, top, right, bottom = sheet.edge.bounds
    share = min(1.0, room_mm / (right - left), _HIGHEST_PICTURE_MM / (bottom - top))
    return {
        "width": (right - left) * share,
        "height": (bottom - top) * share,
        "scale": _scale_in_words(share),
        "name": sheet.name,
        "colour": sheet.colour,
        "openings": planned["openings"],
        "area": f"{planned['area_mm2']:.0f}",
        "size": f"{planned['size_mm'][0]:g} × {planned['size_mm'][1]:g} mm",
        "minutes": f"{planned['cut_minutes']:.0f}",
        "whole": planned["pieces"] == 1,
        "marks": list(dict.fromkeys(word for _, word in sheet.notes)),
        "behind": sheet.mirrored,
    }


def _touch(planned: dict[str, Any]) -> dict[str, Any]:
    """What is to be touched in by hand afterwards."""
    return {
        "bridges": planned["bridges"],
        "length": f"{planned['length_mm']:.0f}",
        "back": planned["painted_back"],
        "minutes": f"{planned['minutes']:.0f}",
    }


def _day(made: str) -> datetime | None:
    """The day that a note of when and by what begins with, if it does."""
    try:
        return datetime.fromisoformat(made[:10]).replace(tzinfo=UTC)
    except ValueError:
        return None


def _scale_in_words(share: float) -> str:
    return "at true scale" if share > 0.9999 else f"shown at 1 : {1.0 / share:.2f}"


def _proof_in_words(layer: dict[str, Any]) -> str:
    true, off, _ = layer["laid"]
    return (
        f"{layer['colour']}: {true['covered'] * 100:.2f} % covered when laid true; "
        f"{off['covered'] * 100:.2f} % when {off['register_mm']:g} mm off, "
        f"{off['stray'] * 100:.2f} % beside the drawing."
    )

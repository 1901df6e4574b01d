"""A plate for the account: lit from four sides and its form alone, as its page shows it."""

import io
from base64 import b64encode
from xml.sax.saxutils import escape

from PIL import Image

from ironlace.dossier import FigureShown
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.wording import capital
from ironlace.marks import PLATE_RELIEF
from ironlace.marks.seeing.relighting import Torch
from ironlace.record import FindingEntry, Photograph, Record
from ironlace.workshop.marks.plate_views import View, relief_is_whole, surface_of, view_on
from ironlace.workshop.marks.plates import plate_named, relief_folder
from ironlace.workshop.store.folder import Workshop

_PX = 900
"""Longer side of the form alone; each light has half of it: 15 cm in print at 150 dots an inch."""
_QUALITY = 82
"""Of the pictures as JPEG: a light takes some 30 kB so."""
_LOW_DEG = 15.0
"""Degrees of the torch over the plate: low enough for shallow strokes to show."""
_LIGHTS = (
    ("From the left", 180.0),
    ("From the right", 0.0),
    ("From the top", 90.0),
    ("From the bottom", 270.0),
)
_FORM = ("The form alone, from the upper left", 135.0)
_GAP, _LINE, _TYPE = 12, 30, 18
"""Between pictures, a line of words and the size of its type, in pixels of the figure."""


def plate_figures(
    workshop: Workshop, record: Record, told: Record
) -> dict[str, tuple[FigureShown, ...]]:
    """By finding: the plates whose relief is at hand, each in four lights and as form alone.

    A plate one of whose photographs is not among those `told` has none, and none that went: the
    relief is not made again for an account.
    """
    shown = {name for name, _ in told.of(Photograph)}
    figures: dict[str, tuple[FigureShown, ...]] = {}
    for name, entry in told.of(FindingEntry):
        if entry.finding.about != PLATE_RELIEF.about:
            continue
        try:
            _, asked = plate_named(record, name)
            folder = relief_folder(workshop, record, asked)
        except IronlaceError:
            continue  # a photograph was withdrawn: the finding itself says that it is out of date
        if shown.issuperset(asked.photographs) and relief_is_whole(folder):
            surface, document = surface_of(folder, _PX)
            views = [
                (words, View("raking", Torch(azimuth, _LOW_DEG)), _PX // 2)
                for words, azimuth in _LIGHTS
            ]
            views.append((_FORM[0], View("relief", Torch(_FORM[1], _LOW_DEG)), _PX))
            panels = []
            for words, view, wide in views:
                made = view_on(surface, document, view)
                panels.append((words, *_jpeg(made.png, wide)))
            used = sum(bool(one.get("used")) for one in document.get("frames", []))
            figures[name] = (_figure(asked.name, panels, used),)
    return figures


def _jpeg(png: bytes, longer_px: int) -> tuple[str, int, int]:
    with Image.open(io.BytesIO(png)) as picture:
        picture.thumbnail((longer_px, longer_px), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        picture.save(out, "JPEG", quality=_QUALITY)
        return b64encode(out.getvalue()).decode("ascii"), picture.width, picture.height


def _figure(called: str, panels: list[tuple[str, str, int, int]], used: int) -> FigureShown:
    (_, _, wide, tall), form = panels[0], panels[-1]
    width = 2 * wide + _GAP
    scale = width / form[2]
    parts, y = [], 0
    for at in (0, 2):
        for n, (words, data, w, h) in enumerate(panels[at : at + 2]):
            parts += _panel(words, data, (n * (wide + _GAP), y, w, h))
        y += tall + _LINE
    parts += _panel(form[0], form[1], (0, y, width, round(form[3] * scale)))
    y += round(form[3] * scale) + _LINE
    title = capital(f"{called or 'struck plate'} in four lights, and its form")
    svg = "\n".join(
        [
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {width} {y}" width="{width}" '
            f'height="{y}" role="img" aria-label="{escape(title, {chr(34): "&quot;"})}">',
            *parts,
            "</svg>",
        ]
    )
    says = (
        f"Relit from its relief, which {used} photographs made, by a torch {_LOW_DEG:.0f} degrees "
        "high at four sides; below, the form alone, without stains and shine.",
        "Inferred: cast shadows are not drawn, and where the torch stood when a photograph was "
        "taken, the photograph is the evidence.",
    )
    page = svg.replace('fill="#000000"', 'fill="currentColor"')
    return FigureShown(title, svg, page, says)


def _panel(words: str, data: str, box: tuple[int, int, int, int]) -> list[str]:
    x, y, width, height = box
    return [
        f'<image x="{x}" y="{y}" width="{width}" height="{height}" '
        f'href="data:image/jpeg;base64,{data}"/>',
        f'<text x="{x}" y="{y + height + _TYPE + 2}" font-size="{_TYPE}" '
        f'font-family="Source Sans Pro, sans-serif" fill="#000000">{escape(words)}</text>',
    ]

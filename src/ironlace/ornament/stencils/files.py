"""The files of a set of sheets, listed once: for the page, the command, and whoever packs them."""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Iterator, Sequence
from dataclasses import dataclass
from functools import cache, partial
from io import BytesIO
from typing import TYPE_CHECKING, Final
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from ironlace.ornament.stencils.cut.cutting import CutPlan, cut_plan
from ironlace.ornament.stencils.cut.film import film_png
from ironlace.ornament.stencils.cut.hpgl import sheet_hpgl
from ironlace.ornament.stencils.cut.sheet_dxf import sheet_dxf
from ironlace.ornament.stencils.errors import StencilError
from ironlace.ornament.stencils.laying import tiles as tiles_of
from ironlace.ornament.stencils.planning.flaws_picture import flaws_csv
from ironlace.ornament.stencils.planning.in_words import cutting_list, laying_sheet, weeding_list
from ironlace.ornament.stencils.process import Process
from ironlace.ornament.stencils.sheets import Sheet

if TYPE_CHECKING:
    from ironlace.ornament.stencils.sheet_set import SheetSet

MEDIA_TYPES: Final = {
    "svg": "image/svg+xml",
    "dxf": "image/vnd.dxf",
    "hpgl": "application/vnd.hp-hpgl",
    "csv": "text/csv; charset=utf-8",
    "txt": "text/plain; charset=utf-8",
    "toml": "application/toml",
    "pdf": "application/pdf",
    "png": "image/png",
    "zip": "application/zip",
}
"""By the end of a file's name."""

_NO_DAY: Final = (1980, 1, 1, 0, 0, 0)
"""The first day a ZIP can tell: the same files are the same ZIP, whenever they are packed."""

_TO_READ: Final = 0o100644 << 16
"""A plain file that all may read, as Unix tells it in a ZIP."""


@dataclass(frozen=True, slots=True)
class SheetFile:
    """One file of a set of sheets; it is made when it is asked for.

    Attributes
    ----------
    name
        Within the set.
    words
        What it is.
    parts
        Makes its content, piece by piece.
    """

    name: str
    words: str
    parts: Callable[[], Iterable[bytes]]

    @property
    def media_type(self) -> str:
        """By the end of its name."""
        return MEDIA_TYPES[self.name.rpartition(".")[2]]

    def content(self) -> bytes:
        """The whole content."""
        return b"".join(self.parts())


def files_of(
    made: SheetSet,
    *,
    film_dpi: int = 0,
    tiles: Sequence[Sheet] = (),
    laying_pdf: Callable[[], bytes] | None = None,
) -> Iterator[SheetFile]:
    """Every file of a set of sheets.

    Parameters
    ----------
    film_dpi
        Film positives at so many dots to the inch too; 0 for none.
    tiles
        The sheets in parts for a bed, if there are any.
    laying_pdf
        Sets the laying sheet with its pictures, where there is a press for it.
    """
    process = made.asked.of_process
    # two files tell of the cutter's way over each sheet, which takes long to find
    ways = {sheet.name: cache(partial(cut_plan, sheet, process)) for sheet in made.sheets}
    parted = () if list(tiles) == list(made.sheets) else tiles
    for kind, group in (("sheet", made.sheets), ("part", parted)):
        for sheet in group:
            stem, words = f"{kind}-{sheet.name}", f"{kind} {sheet.name}, {sheet.colour}"
            way = ways[sheet.name] if kind == "sheet" else partial(cut_plan, sheet, process)
            yield _text(f"{stem}.svg", f"{words}, in mm", sheet.svg)
            yield _text(f"{stem}.dxf", f"{words}, for cutters", partial(sheet_dxf, sheet))
            yield _text(
                f"{stem}.hpgl",
                f"{words}, for plotters",
                partial(_hpgl, sheet, process, way),
            )
            if film_dpi:
                yield SheetFile(
                    f"{stem}.png",
                    f"{words}, film positive at {film_dpi} dpi",
                    partial(film_png, sheet, film_dpi),
                )

    def cutting() -> str:
        return cutting_list(made.plan, [ways[sheet.name]() for sheet in made.sheets])

    yield _text("falls.svg", "what falls out or is weak, numbered", lambda: made.falls_svg)
    yield _text("falls.csv", "the same as a table", lambda: flaws_csv(made.flaws))
    yield _text("laying.txt", "what to do at the bench, in order", lambda: laying_sheet(made.plan))
    yield _text("cutting.csv", "sheets with their cuts and times", cutting)
    if made.asked.hold == "mask":
        yield _text(
            "weeding.csv", "the order in which it is weeded", lambda: weeding_list(made.plan)
        )
    yield _text(
        "process.toml",
        "the limits of the material they were planned for",
        lambda: made.asked.process,
    )
    if laying_pdf is not None:
        yield SheetFile("laying.pdf", "the laying sheet with its pictures", lambda: [laying_pdf()])


def _hpgl(sheet: Sheet, process: Process, way: Callable[[], CutPlan]) -> str:
    return sheet_hpgl(sheet, process, way())


def tiled(
    sheets: Sequence[Sheet], bed: str, *, margin_mm: float = 10.0, overlap_mm: float = 1.0
) -> list[Sheet]:
    """Every sheet in parts for a bed of so many mm, such as ``300x200``; none without a bed.

    All are parted along the same lines, so that the parts of one lie on those of another; sheets
    that all fit the bed whole are their own parts.

    Raises StencilError when the bed, its margin or the overlap cannot be, or nothing fits it.
    """
    if not bed:
        return []
    for told, value in (("margin", margin_mm), ("overlap", overlap_mm)):
        if not 0.0 <= value < math.inf:
            raise StencilError(
                f"A{'n' if told == 'overlap' else ''} {told} of {value:g} mm cannot be: give 0 mm "
                "or more."
            )
    try:
        wide, high = (float(side) for side in bed.lower().split("x"))
    except ValueError as error:
        raise StencilError(f"'{bed[:40]}' is no bed: give its sides in mm, as 300x200.") from error
    if not (0 < wide < math.inf and 0 < high < math.inf):
        raise StencilError(f"A bed of {bed} cannot be: give its width and height in mm.")
    return [
        tile
        for sheet in sheets
        for tile in tiles_of(
            sheet,
            wide,
            high,
            margin_mm=margin_mm,
            overlap_mm=overlap_mm,
            with_sheets=[other for other in sheets if other is not sheet],
        )
    ]


def zipped(files: Iterable[SheetFile]) -> bytes:
    """Files as one ZIP."""
    out = BytesIO()
    with ZipFile(out, "w", ZIP_DEFLATED) as archive:
        for one in files:
            info = ZipInfo(one.name, _NO_DAY)
            info.external_attr = _TO_READ
            archive.writestr(info, one.content(), ZIP_DEFLATED)
    return out.getvalue()


def _text(name: str, words: str, make: Callable[[], str]) -> SheetFile:
    return SheetFile(name, words, lambda: [make().encode("utf-8")])

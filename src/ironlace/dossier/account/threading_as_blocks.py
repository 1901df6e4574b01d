"""A threading plan in an account: its diagram, and the steps as a table."""

from collections.abc import Mapping

import numpy as np
from PIL import Image

from ironlace.dossier.account.blocks import (
    Block,
    Cell,
    FigureShown,
    Item,
    PictureFile,
    Remark,
    Row,
    Tabular,
)
from ironlace.dossier.account.entries_as_blocks import EntryReader
from ironlace.dossier.print.picture_address import picture_address
from ironlace.record import ThreadingEntry
from ironlace.running.threading.diagram import threading_svg
from ironlace.running.threading.plan import ThreadingPlan, not_said
from ironlace.running.threading.steps import (
    grade_in_words,
    known_in_words,
    steps_in_words,
)

_EDGE_PX = 1100
"""Longer edge of a photograph in a diagram of an account: 160 dots to the inch of its column."""


def threading_blocks(reader: EntryReader, pictures: Mapping[str, PictureFile]) -> tuple[Block, ...]:
    """Each plan with its diagram; photographs that the account may not show leave a bare sheet."""
    return tuple(
        _item(reader, name, entry, pictures) for name, entry in reader.record.of(ThreadingEntry)
    )


def _item(
    reader: EntryReader, name: str, entry: ThreadingEntry, pictures: Mapping[str, PictureFile]
) -> Item:
    plan = entry.plan()
    under = {
        one.photograph: _address(pictures[one.photograph])
        for one in entry.pictures
        if one.photograph in reader.names and one.photograph in pictures
    }
    svg = threading_svg(plan, under)
    shown = FigureShown(
        f"{entry.name} ({name})", svg, svg, ("The numbers are those of the steps below.",)
    )
    item = reader.item(name, entry)
    told = (Remark(grade_in_words(plan)), *(Remark(one) for one in not_said(plan)))
    return Item(
        name,
        (*item.blocks, *told),
        item.margin,
        heading=item.heading,
        below=(shown, _steps(plan)),
    )


def _steps(plan: ThreadingPlan) -> Tabular:
    words = steps_in_words(plan)
    rows = tuple(
        Row(
            (
                Cell(str(point.number), look="figure"),
                Cell(words[point.number]),
                Cell(known_in_words(point), grade=point.grade),
            )
        )
        for point in plan.point
    )
    return Tabular(("No.", "Where the thread goes", "How it is known"), (8, 57, 35), rows, (0,))


def _address(picture: PictureFile) -> str:
    with Image.open(picture.path) as opened:
        opened.draft("RGB", (_EDGE_PX, _EDGE_PX))
        opened.thumbnail((_EDGE_PX, _EDGE_PX))
        return picture_address(np.asarray(opened.convert("RGB")))

"""Lenses measured with the printed chart, kept for the camera that took it."""

import json
import math
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Any

from sqlalchemy import delete, select

from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import Examined, pixels
from ironlace.workshop.store.photographs import Original, examined_aside
from ironlace.workshop.store.tables import LensRow

if TYPE_CHECKING:
    from ironlace.photographs.lens_calibration import LensCalibration

_MOST_PIXELS = 64_000_000
"""Of a photograph of the chart: reading takes some ten bytes for each. A judgement."""
MOST_PHOTOGRAPHS = 40
"""Of the chart; eight do. A bound on time."""
DIAGONAL_OF_35_MM = 43.27
"""Millimetres across the 24 by 36 mm that focal lengths for 35 mm film refer to."""
_SAME_FOCAL = 0.02
"""Share by which the focal length of a photograph may differ and still be that of a lens: Exif
gives whole millimetres, and focusing moves it."""


@dataclass(frozen=True, slots=True)
class KeptLens:
    """A lens of the workshop: its name, its description, what was measured."""

    number: int
    name: str
    focal_35mm: float | None
    told: dict[str, Any]
    report: dict[str, Any]
    made_at: datetime

    @property
    def size(self) -> tuple[int, int]:
        """Width and height of the photographs it was measured on."""
        width, height = self.told["image_size"]
        return int(width), int(height)

    @property
    def focal_off_90_px(self) -> float:
        """By how much its focal length may be off either way, at 90 %; 0 where no file said."""
        from ironlace.photographs import Lens

        return Lens.from_json(json.dumps(self.told)).focal_off_90_px

    def fits(self, original: Original) -> bool:
        """Whether a photograph may have been taken with it: its shape, and its focal length."""
        if not original.width or not original.height:
            return False
        width, height = self.size
        if abs(original.width / original.height / (width / height) - 1.0) > 0.01:
            return False
        if self.focal_35mm is None or original.focal_35mm is None:
            return False
        return abs(original.focal_35mm / self.focal_35mm - 1.0) <= _SAME_FOCAL


def measure_lens(
    files: Sequence[tuple[Path, str]],
) -> tuple["LensCalibration", float | None]:
    """Measure a lens from photographs of the chart (path, and what it came as).

    Returns the calibration and the focal length for 35 mm film that the photographs give.
    Raises LensError when they cannot be used, IronlaceError when there are too many.
    """
    from ironlace.photographs.lens_calibration import calibrate_lens

    if len(files) > MOST_PHOTOGRAPHS:
        raise IronlaceError(
            f"{len(files)} photographs of the chart are more than are of use: choose at most "
            f"{MOST_PHOTOGRAPHS}."
        )
    examined = [_examined(path, came_as) for path, came_as in files]
    focals = [one.focal_35mm for one in examined if one.focal_35mm]
    focal = focals[0] if focals else None
    images = (pixels(path) for path, _ in files)  # one at a time: together they fill the memory
    return calibrate_lens(images, focal_35mm=focal), focal


def _examined(path: Path, came_as: str) -> Examined:
    found = examined_aside(path, came_as)
    if found.width and found.height and found.width * found.height > _MOST_PIXELS:
        raise IronlaceError(
            f"{came_as} has more than {_MOST_PIXELS // 1_000_000} million pixels, which the chart "
            "does not need: take it with the camera set smaller."
        )
    return found


def keep_lens(
    workshop: Workshop, name: str, found: "LensCalibration", focal_35mm: float | None
) -> int:
    """Keep a measured lens under a name; return its number."""
    called = _called(name)
    told, report = json.loads(found.lens.to_json()), json.loads(json.dumps(found.as_dict()))
    return _keep(workshop, called, focal_35mm, told, report)


def keep_lens_file(workshop: Workshop, name: str, text: str) -> int:
    """Keep a lens that was measured elsewhere, from its JSON; return its number.

    Raises LensError when the text is no lens or does not say the size of its photographs,
    IronlaceError when it has no name.
    """
    from ironlace.photographs import Lens, LensError

    lens = Lens.from_json(text)
    if lens.image_size is None:
        raise LensError(
            "The lens file does not say how large its photographs were, so that a cropped one "
            'would pass: add "image_size": [width, height] to it.'
        )
    focal = lens.focal_px[0] * DIAGONAL_OF_35_MM / math.hypot(*lens.image_size)
    report = {"focal_px": lens.focal_px[0], "focal_sd_px": lens.focal_sd_px}
    return _keep(workshop, _called(name), focal, json.loads(lens.to_json()), report)


def _called(name: str) -> str:
    called = " ".join(name.split())[:120]
    if not called:
        raise IronlaceError("A lens needs a name: write the camera and the focal length.")
    return called


def _keep(
    workshop: Workshop,
    called: str,
    focal_35mm: float | None,
    told: dict[str, Any],
    report: dict[str, Any],
) -> int:
    with workshop.database.writing() as session:
        row = LensRow(
            name=called, focal_35mm=focal_35mm, told=told, report=report, made_at=datetime.now(UTC)
        )
        session.add(row)
        session.flush()
        return row.id


def kept_lenses(workshop: Workshop) -> list[KeptLens]:
    """Return every kept lens, the last measured first."""
    with workshop.database.reading() as session:
        rows = session.scalars(select(LensRow).order_by(LensRow.id.desc()))
        return [
            KeptLens(row.id, row.name, row.focal_35mm, row.told, row.report, row.made_at)
            for row in rows
        ]


def kept_lens(workshop: Workshop, number: int) -> KeptLens:
    """Return one kept lens; NotFoundError when there is none of that number."""
    found = next((lens for lens in kept_lenses(workshop) if lens.number == number), None)
    if found is None:
        raise NotFoundError(f"There is no lens {number} in this workshop: choose one of the list.")
    return found


def forget_lens(workshop: Workshop, number: int) -> None:
    """Forget a lens; drawings traced with it keep its figures."""
    kept_lens(workshop, number)
    with workshop.database.writing() as session:
        session.execute(delete(LensRow).where(LensRow.id == number))

"""Stages of a long job, each kept when it is done so that the next start goes on after it."""

import shutil
from collections.abc import Callable
from io import BytesIO
from pathlib import Path
from typing import TypeVar
from zipfile import BadZipFile

import numpy as np

from ironlace.evidence.progress import Arrays, Progress, Steps
from ironlace.workshop.store.originals import write_whole

SPOILT = (ValueError, OSError, EOFError, KeyError, BadZipFile)
"""What reading kept arrays raises when their file is spoilt or not there: make them again."""
_T = TypeVar("_T")


class Stages(Steps):
    """The kept stages of one job, in a folder of `derived/`."""

    def __init__(self, folder: Path, report: Progress) -> None:
        self._folder = folder
        self._report = report

    def __call__(self, step: str, share: float) -> None:
        """Report progress over the whole job."""
        self._report(step, share)

    def tell(self, stage: str, fraction: float) -> None:
        """Report progress over the whole job."""
        self._report(stage, fraction)

    def kept(
        self,
        name: str,
        make: Callable[[], _T],
        to_arrays: Callable[[_T], Arrays],
        from_arrays: Callable[[Arrays], _T],
    ) -> _T:
        """Return a stage's result: from where it was kept, else made now and kept.

        A kept file that cannot be read is made again; it only ever holds what can be computed.
        """
        place = self._folder / f"{name}.npz"
        if place.is_file():
            try:
                with np.load(place, allow_pickle=False) as kept:
                    return from_arrays(dict(kept))
            except SPOILT:
                place.unlink(missing_ok=True)
        result = make()
        out = BytesIO()
        np.savez(out, allow_pickle=False, **to_arrays(result))
        write_whole(place, out.getvalue())
        return result

    def clear(self) -> None:
        """Throw the kept stages away: the job is done."""
        shutil.rmtree(self._folder, ignore_errors=True)

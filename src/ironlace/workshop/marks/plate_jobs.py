"""Work on worn plates that takes long: looking photographs over, the relief, kept as a finding."""

import json
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

from ironlace import __version__
from ironlace.evidence.findings import checksum_of
from ironlace.marks import PLATE_RELIEF, MarksError
from ironlace.marks.capture.live_check import live_check
from ironlace.marks.plate_analysis import MOST_PHOTOGRAPHS, PlateReliefAsked, plate_answer
from ironlace.record import Record
from ironlace.workshop import analyses
from ironlace.workshop.marks.plate_views import relief_is_whole
from ironlace.workshop.marks.plates import (
    found_in,
    keep_relief,
    photographs_named,
    photographs_of,
    plate_photographs,
    relief_folder,
)
from ironlace.workshop.marks.relief_files import check_told
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.originals import write_whole
from ironlace.workshop.work.in_hand import Tell, Work
from ironlace.workshop.worked_out import WorkedOut

_AT_ONCE = 40_000_000
"""Pixels of all photographs up to which they are looked over while a person waits (judged)."""
CHECKING = "plate check"
"""The task of looking photographs over."""
RELIEF = "relief"
"""The task of working a relief out."""


def relief_as_job(work: Work) -> Tell:
    """Work a plate's relief out and keep it; one that lies there whole is not made again."""
    begun = time.monotonic()
    workshop = work.workshop
    record = workshop.records.read(work.slug)
    asked = analyses.asked_for(PLATE_RELIEF, record, work.job.asked.get("asked") or {})
    folder = relief_folder(workshop, record, asked)
    if relief_is_whole(folder):
        found = found_in(folder, asked)
        inputs = analyses.input_checksums(workshop, record, PLATE_RELIEF, asked)
        worked = WorkedOut(PLATE_RELIEF, asked, found, plate_answer(found), inputs)
    else:
        worked = analyses.work_out(workshop, record, PLATE_RELIEF, asked, work.stages)
        photographs = plate_photographs(workshop, record, asked)
        keep_relief(folder, photographs, worked.found, time.monotonic() - begun)
    work.stages("keeping the relief", 0.99)
    by = str(work.job.asked.get("by") or "")
    return lambda session: {
        "plate": analyses.keep_in(workshop, session, work.slug, worked, by),
    }


def asked_relief(asked: PlateReliefAsked, by: str) -> dict[str, Any]:
    """What a job that works a relief out is asked."""
    return analyses.as_job(PLATE_RELIEF, asked, by)


def check_key(record: Record, names: Sequence[str]) -> str:
    """A short name of the check of photographs.

    Raises IronlaceError when one is no photograph, or there are none or too many.
    """
    if not 0 < len(names) <= MOST_PHOTOGRAPHS:
        raise MarksError(
            f"{len(names)} photographs were chosen: choose those of one plate, at most "
            f"{MOST_PHOTOGRAPHS}."
        )
    sums = [one.sha256 for one in photographs_named(record, names).values()]
    return checksum_of([list(names), sums, __version__])[:24]


def check_kept(workshop: Workshop, key: str) -> dict[str, Any] | None:  # dict: a JSON document
    """What a check told, None where it was not made or was thrown away."""
    try:
        told = json.loads(_place(workshop, key).read_text(encoding="utf-8"))
    except (OSError, ValueError):
        return None
    return told if isinstance(told, dict) else None


def check_takes_long(workshop: Workshop, record: Record, names: Sequence[str]) -> bool:
    """Whether looking photographs over is better done as a job."""
    found = photographs_named(record, names).values()
    originals = workshop.photographs.originals(one.sha256 for one in found).values()
    return sum((one.width or 0) * (one.height or 0) for one in originals) > _AT_ONCE


def check(workshop: Workshop, record: Record, names: Sequence[str]) -> str:
    """Look photographs of one plate over, and keep what was told; return its key.

    Raises IronlaceError when they cannot be read, or do not fit one another.
    """
    key = check_key(record, names)
    if check_kept(workshop, key) is None:
        looked = live_check(photographs_of(workshop, record, names).frames())
        told = {**check_told(looked), "photographs": list(names)}
        write_whole(_place(workshop, key), json.dumps(told).encode("utf-8"))
    return key


def check_as_job(work: Work) -> Tell:
    """Look the photographs over that a job names."""
    record = work.workshop.records.read(work.slug)
    names = [str(name) for name in work.job.asked.get("photographs") or []]
    work.stages("looking the photographs over", 0.1)
    key = check(work.workshop, record, names)
    return lambda _session: {"plate check": key}


def _place(workshop: Workshop, key: str) -> Path:
    return workshop.derived / "reliefs" / "checks" / f"{key}.json"

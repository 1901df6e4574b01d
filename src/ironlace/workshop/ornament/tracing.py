"""Tracing in the workshop: photographs of a record in, a drawing with its finding kept in it."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import replace
from functools import lru_cache, partial
from pathlib import Path
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray
from sqlalchemy.orm import Session

from ironlace import __version__
from ironlace.evidence.analyses import AskedError, asked_as_dict, asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding, Method, Sha256, checksum_of
from ironlace.record import PhotographRole, Record
from ironlace.record.entries import DrawingEntry, Photograph
from ironlace.workshop.ornament.drawings import keep_flat, keep_svg_in
from ironlace.workshop.store.folder import Workshop
from ironlace.workshop.store.intake import pixels
from ironlace.workshop.work.in_hand import Tell, Work

if TYPE_CHECKING:
    from ironlace.ornament import PhotographsToTrace, TraceAsked, Traced


def trace_photograph(work: Work) -> Tell:
    """Trace what a job asks for; returns what adds the drawing to the record.

    Raises
    ------
    IronlaceError
        When the photograph or what is asked cannot be used; the ornament room says why.
    """
    from ironlace.ornament import trace_photographs

    asked = trace_asked(work.job.asked)
    record = work.workshop.records.read(work.slug)
    given = photographs_to_trace(work.workshop, record, asked)
    traced = trace_photographs(given, asked, work.stages)
    work.stages("joining the photographs", 0.98)
    under = under_picture(traced)
    work.stages("keeping the drawing", 0.99)
    checksums = photograph_checksums(record, asked)
    return lambda session: {
        "drawing": keep_drawing(
            work.workshop, session, work.slug, asked, traced, checksums, under=under
        )
    }


def trace_asked(told: Mapping[str, Any]) -> "TraceAsked":
    """What is asked for, out of a job or a kept finding, those of earlier versions too.

    Raises AskedError when it cannot be read.
    """
    from ironlace.ornament import TraceAsked
    from ironlace.ornament.trace_asked import asked_before

    return asked_from(TraceAsked, asked_before({"asked": dict(told)}))


def strip_in(workshop: Workshop, photograph: Photograph) -> str:
    """Which strip lies in a photograph, by its markers' numbers.

    Raises AskedError when none is read.
    """
    from ironlace.photographs.strip_finding import piece_in

    found = piece_in(pixels(workshop.photographs.original(photograph.sha256).path))
    if found is None:
        raise AskedError(
            "No strip's markers could be read in this photograph: keep the whole strip in view, "
            "sharp and out of the glare, or measure without a strip, by places or a scan.",
            "strip",
        )
    return found


def photographs_to_trace(
    workshop: Workshop, record: Record, asked: "TraceAsked"
) -> "PhotographsToTrace":
    """The photographs of a record that are asked for, the machine's own first.

    Raises IronlaceError when one is not a photograph of the record.
    """
    from ironlace.ornament import PhotographsToTrace, PhotographToTrace

    named = _named(record, asked)
    originals = [workshop.photographs.original(photo.sha256) for photo in named.values()]
    openers = openers_of([original.path for original in originals])
    return PhotographsToTrace(
        tuple(
            PhotographToTrace(picture, name, original.focal_35mm, original.sha256)
            for picture, name, original in zip(openers, named, originals, strict=True)
        )
    )


def openers_of(paths: Sequence[Path]) -> list[Callable[[], NDArray[np.uint8]]]:
    """What opens each photograph; the last one opened is held, for it is soon wanted again."""
    opened = lru_cache(maxsize=1)(pixels)
    return [partial(opened, path) for path in paths]


def photograph_checksums(record: Record, asked: "TraceAsked") -> dict[str, Sha256]:
    """By what each is called in a finding, the checksums of the photographs asked for."""
    return {
        "photograph" if n == 0 else name: photograph.sha256
        for n, (name, photograph) in enumerate(_named(record, asked).items())
    }


def _named(record: Record, asked: "TraceAsked") -> dict[str, Photograph]:
    found = {}
    for name in (asked.photograph, *(other.photograph for other in asked.others)):
        photograph = record.named(name) if name else None
        if not isinstance(photograph, Photograph):
            raise IronlaceError(f"'{name}' is not a photograph: name one such as 'photograph 3'.")
        if name in found:
            raise IronlaceError(f"{name} was named twice: name each photograph once.")
        found[name] = photograph
    return found


def under_picture(traced: "Traced") -> NDArray[np.uint8]:
    """The flattened photograph in the drawing's own window, sRGB, to be laid under it."""
    from ironlace.photographs.linear_light import to_srgb8

    flat = traced.joined_flat()
    left, top, right, bottom = traced.drawing.bounds_mm
    corners = (np.array([[left, top], [right, bottom]]) - flat.origin_mm) * flat.px_per_mm
    (first_column, first_row), (last_column, last_row) = np.round(corners).astype(int)
    return to_srgb8(flat.light[first_row:last_row, first_column:last_column])


def keep_drawing(
    workshop: Workshop,
    session: Session,
    slug: str,
    asked: "TraceAsked",
    traced: "Traced",
    checksums: Mapping[str, Sha256],
    *,
    under: NDArray[np.uint8] | None = None,
    by: str = "",
) -> str:
    """Keep what was traced as a drawing of a record; return its name.

    Parameters
    ----------
    checksums
        Of the photographs, see `photograph_checksums`.
    under
        The picture to be laid under it, where it is at hand already, see `under_picture`.
    """
    from ironlace.ornament import traced_svg

    svg = traced_svg(traced)
    sha = keep_svg_in(workshop, session, svg, f"{traced.names[0]} traced.svg")
    keep_flat(workshop, sha, under_picture(traced) if under is None else under)
    entry = drawing_entry(asked, traced, checksums, sha)
    return workshop.records.add_in(session, slug, entry, by)


def drawing_entry(
    asked: "TraceAsked", traced: "Traced", checksums: Mapping[str, Sha256], svg_sha256: str
) -> DrawingEntry:
    """The entry of a drawing that was traced, with the finding it stands on."""
    from ironlace.ornament import TRACE

    answer = TRACE.answer(traced)
    wanted = asked_as_dict(asked)
    finding = Finding(
        about=TRACE.about,
        value={"svg": svg_sha256, "outline_mm": traced.drawing.length_mm},
        grade=traced.drawing.grade(),
        sentence=" ".join(answer.sentences),
        inputs={**checksums, "asked": checksum_of(wanted)},
        method=Method(
            name=TRACE.method,
            published=TRACE.published,
            parameters={"asked": wanted, "report": traced.report},
        ),
        version=__version__,
    )
    width, height = traced.drawing.painted_mm
    return DrawingEntry(
        name=asked.name or f"Ornament of {traced.names[0]}",
        svg=svg_sha256,
        width_mm=round(width, 3),
        height_mm=round(height, 3),
        photographs=traced.names,
        grade=finding.grade,
        finding=finding,
    )


def keep_traced_files(
    workshop: Workshop,
    slug: str,
    files: Sequence[Path],
    asked: "TraceAsked",
    traced: "Traced",
    *,
    by: str = "",
) -> str:
    """Keep what was traced from files as a drawing of a record; return its name.

    The photographs are taken into the record where they are not in it yet. The drawing says of
    each source what it said when it was traced, so that it comes out the same when made again.

    Raises
    ------
    IronlaceError
        When there is no such record, or a file is no photograph.
    """
    workshop.records.read(slug)
    role = PhotographRole.ORNAMENT
    names = [workshop.photographs.take_in_file(slug, file, role, by=by).name for file in files]
    others = tuple(
        replace(other, photograph=name, called=other.label)
        for other, name in zip(asked.others, names[1:], strict=True)
    )
    asked = replace(asked, photograph=names[0], others=others)
    report = dict(traced.report)
    if "photographs" in report:
        told = zip(report["photographs"], names, strict=True)
        report["photographs"] = [{**one, "photograph": name} for one, name in told]
    traced = replace(traced, names=tuple(names), report=report)
    checksums = photograph_checksums(workshop.records.read(slug), asked)
    under = under_picture(traced)
    with workshop.database.writing() as session:
        return keep_drawing(workshop, session, slug, asked, traced, checksums, under=under, by=by)

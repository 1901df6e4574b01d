"""Notes for a film: what is still to be filmed, a running order, chapters, captions.

Chapters travel in the page's address, so that a page that was kept as a bookmark keeps them.
"""

import io
import zipfile
from datetime import UTC, datetime

from fastapi import APIRouter
from starlette.requests import Request
from starlette.responses import Response

from ironlace.dossier.film.captions import time_text
from ironlace.dossier.film.files import film_files
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.web import addresses
from ironlace.web.bench import BenchDep
from ironlace.web.pages.files import attachment
from ironlace.web.rendering import page
from ironlace.workshop.hand_over.filming import film_notes
from ironlace.workshop.survey.call_made import CallAsked

router = APIRouter()
_LONGEST = 6000
"""Characters of chapters that an address still carries everywhere."""
_ALL = "film-notes.zip"
_MEDIA = {
    "txt": "text/plain; charset=utf-8",
    "vtt": "text/vtt; charset=utf-8",
    "json": "application/json",
}


class TooManyChaptersError(IronlaceError):
    """More was typed than an address carries."""


@router.get(addresses.film("{slug}"))
def film(request: Request, bench: BenchDep, slug: str, chapters: str = "") -> Response:
    """Show the notes; with chapters, the files that carry them."""
    record = bench.records.read(slug)
    says, status = "", 200
    try:
        _must_be_short(chapters)
        notes = film_notes(bench.workshop, slug, chapters)
    except IronlaceError as error:
        says, status = str(error), error.http_status
        notes = film_notes(bench.workshop, slug)
    typed = chapters or "\n".join(f"0:00 {scene.key}" for scene in notes.scenes[:1])
    return page(
        request,
        "film.html",
        status=status,
        record=record,
        notes=notes,
        says=says,
        typed=typed,
        asked="" if says else chapters,
        starts={c.scene.key: time_text(c.start) for c in notes.chapters.all if c.scene},
        captions=notes.captions.cues,
        missed=notes.captions.left_out,
    )


@router.get(addresses.film_file("{slug}", "{file}"))
def file(bench: BenchDep, slug: str, file: str, chapters: str = "") -> Response:
    """Hand over one file of the notes, or all of them."""
    _must_be_short(chapters)
    # what the call asks for takes a while to work out: only where it is told
    call = CallAsked() if file in (_ALL, "description.txt") else None
    files = film_files(film_notes(bench.workshop, slug, chapters, call), datetime.now(UTC))
    if file == _ALL:
        out = io.BytesIO()
        with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as packed:
            for name, text in files.items():
                packed.writestr(f"{slug}-film/{name}", text.encode("utf-8", "replace"))
        content, media = out.getvalue(), "application/zip"
    elif file in files:
        content = files[file].encode("utf-8", "replace")
        media = _MEDIA[file.rpartition(".")[2]]
    else:
        raise NotFoundError(
            f"There is no file '{file[:60]}' among the film notes: captions and chapters come "
            "when chapters are typed."
        )
    headers = {"content-disposition": attachment(f"{slug}-{file}")}
    return Response(content, media_type=media, headers=headers)


def _must_be_short(chapters: str) -> None:
    if len(chapters) > _LONGEST:
        raise TooManyChaptersError(
            f"{len(chapters)} characters of chapters came, and a page carries {_LONGEST}: put them "
            "into a file and use 'ironlace film --chapters FILE'."
        )

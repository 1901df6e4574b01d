"""The film notes as files: to read, to upload, to lay over the picture."""

import json
import textwrap
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Any
from xml.sax.saxutils import escape

from ironlace.dossier.film.captions import (
    Captioned,
    Chapters,
    captioned,
    captions_vtt,
    chapters_vtt,
    time_text,
)
from ironlace.dossier.film.scenes import Said, Scene, Shot, running_order, shot_list
from ironlace.dossier.folder_in_place import folder_in_place
from ironlace.dossier.words import plain_file_name, shortened
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.grades import Grade
from ironlace.record.entries import Photograph, Question, SourceEntry
from ironlace.record.history import Record

_NOTES = "film.json"
_WRITTEN = "film notes of an Ironlace record"
_WIDE, _HIGH = 1920, 1080
"""Of a title's picture in pixels: the usual frame."""
_TITLE_LINE = 56
"""Characters of a title's line that fit across the picture."""
_TEXT_LINE = 88
"""Characters of a line in the files to read."""


@dataclass(frozen=True, slots=True)
class Film:
    """Everything the notes hold; `chapters` are as they were typed.

    `call` is the call for reports as plain text, empty where none is made.
    """

    record: Record
    version: str
    shots: tuple[Shot, ...]
    scenes: tuple[Scene, ...]
    chapters: Chapters
    captions: Captioned
    call: str = ""


def film_of(record: Record, chapters: Chapters, version: str, call: str = "") -> Film:
    """The notes for a film of what may be told of a record, with the text of its call."""
    scenes = running_order(record)
    return Film(record, version, shot_list(record), scenes, chapters, captioned(chapters), call)


def film_files(film: Film, made: datetime) -> dict[str, str]:
    """Each file of the notes by its name."""
    files = {
        "shot-list.txt": _shots(film),
        "running-order.txt": _order(film),
        "titles.txt": "".join(f"{one.with_grade}\n" for one in _titles(film)),
        "description.txt": description(film, made),
        _NOTES: json.dumps(as_json(film), ensure_ascii=False, indent=1) + "\n",
    }
    if film.chapters.all:
        files["captions.vtt"] = captions_vtt(film.captions)
        files["chapters.vtt"] = chapters_vtt(film.chapters)
    for one in _titles(film):
        files[f"titles/{plain_file_name(one.name, one.words)}.svg"] = title_svg(one)
    return files


def write_film(film: Film, folder: Path, made: datetime) -> Path:
    """Write the notes into a folder, whole or not at all.

    Raises FolderTakenError when the folder holds anything but such notes.
    """
    with folder_in_place(folder, is_film, "film notes written by Ironlace") as making:
        for name, text in film_files(film, made).items():
            place = making / name
            place.parent.mkdir(exist_ok=True)
            place.write_bytes(text.encode("utf-8", "replace"))
    return folder


def is_film(folder: Path) -> bool:
    """Whether a folder holds such notes and nothing else."""
    ours = {_NOTES, "titles", "shot-list.txt", "running-order.txt", "titles.txt"}
    ours |= {"description.txt", "captions.vtt", "chapters.vtt"}
    place = folder / _NOTES
    if not place.is_file() or {path.name for path in folder.iterdir()} - ours:
        return False
    return _WRITTEN in place.read_text(encoding="utf-8", errors="replace")[:200]


def as_json(film: Film) -> dict[str, Any]:  # dict: JSON
    """The notes as JSON values."""
    return {
        "is": _WRITTEN,
        "title": film.record.title,
        "shots": [{"film": s.what, "why": s.why, "entry": s.name or None} for s in film.shots],
        "scenes": [
            {
                "key": scene.key,
                "title": scene.title,
                "says": [
                    {
                        "words": one.words,
                        "grade": one.grade.value if one.grade else None,
                        "entry": one.name,
                        "show": list(one.show),
                    }
                    for one in scene.said
                ],
            }
            for scene in film.scenes
        ],
        "chapters": [
            {"start_s": c.start, "title": c.title, "scene": c.scene.key if c.scene else None}
            for c in film.chapters.all
        ],
        "end_s": film.chapters.end,
        "no_time_for": {
            chapter.title: [one.name for one in said] for chapter, said in film.captions.left_out
        },
    }


def _titles(film: Film) -> Iterator[Said]:
    """What is graded may stand as a title; what was done or is asked needs none."""
    for scene in film.scenes:
        yield from (one for one in scene.said if one.grade is not None)


def title_svg(one: Said) -> str:
    """A title to lay over the picture: the words, a line in the grade's pattern, the grade's word.

    The ground is clear, the letters white with a dark edge, so that they read on light and dark.
    """
    grade = one.grade or Grade.CONJECTURED
    wrapped = textwrap.wrap(one.words, _TITLE_LINE) or [""]
    lines = wrapped[:2]
    if len(wrapped) > len(lines):
        lines[-1] = shortened(lines[-1] + " …", _TITLE_LINE)
    top = 930 - 68 * (len(lines) - 1)
    said = "".join(
        f'<text x="120" y="{top + 68 * n}" font-size="56">{_xml(line)}</text>'
        for n, line in enumerate(lines)
    )
    dash = " ".join(f"{12 * mm:g}" for mm in grade.dash_mm)
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{_WIDE}" height="{_HIGH}" '
        f'viewBox="0 0 {_WIDE} {_HIGH}"><title>{_xml(one.with_grade)}</title>'
        '<g font-family="serif" fill="#ffffff" stroke="#000000" stroke-width="5" '
        f'paint-order="stroke" stroke-linejoin="round">{said}'
        f'<text x="470" y="1012" font-size="40">{grade.value}</text></g>'
        f'<path d="M120 1000h320" stroke="#000000" stroke-width="12"/>'
        f'<path d="M120 1000h320" stroke="#ffffff" stroke-width="6"{pattern}/></svg>\n'
    )


def _xml(words: str) -> str:
    shown = "".join(c for c in words if c.isprintable())
    return escape(shown)


def description(film: Film, made: datetime) -> str:
    """What stands under the film: what is known and how, chapters, sources, rights, the call."""
    record = film.record
    blocks = [" ".join(record.title.split())]
    machine = next((scene for scene in film.scenes if scene.key == "machine"), None)
    if machine:
        blocks.append("\n".join(one.with_grade for one in machine.said))
    if film.chapters.all:
        blocks.append("\n".join(f"{time_text(c.start)} {c.title}" for c in film.chapters.all))
    blocks.append(
        "How each thing is known stands behind it: "
        + "; ".join(f"{grade.value}, {grade.meaning}" for grade in Grade)
        + "."
    )
    blocks += [block for block in (_sources(record), _credits(record), _call(film)) if block]
    day = f"{made.astimezone(UTC):%Y-%m-%d}"
    blocks.append(f"From the record as it stood on {day}, kept with Ironlace {film.version}.")
    return "\n\n".join(blocks) + "\n"


def _sources(record: Record) -> str:
    lines = []
    for _, source in record.of(SourceEntry):
        dated = date_in_words(source.date) if source.date else "date not said"
        where = f"; {' '.join(source.where.split())}" if source.where else ""
        lines.append(f"- {source.title} ({source.sort}, {dated}){where}")
    return "\n".join(["Sources:", *lines]) if lines else ""


def _credits(record: Record) -> str:
    """Who took the photographs and on what terms, as far as it was said."""
    told: dict[str, list[str]] = {}
    for name, one in record.of(Photograph):
        words = f"{one.credit or 'who took it is not said'}; {one.rights or 'rights not said'}"
        told.setdefault(words, []).append(name.rpartition(" ")[2])
    lines = [f"- {words}: {', '.join(numbers)}" for words, numbers in told.items()]
    return "\n".join(["Photographs:", *lines]) if lines else ""


def _call(film: Film) -> str:
    """The call for reports, word for word as it goes out otherwise, and what else is asked."""
    asked = [" ".join(q.asks.split()) for _, q in film.record.of(Question) if not q.answer]
    if not film.call and not asked:
        return ""
    parts = ["Have you one like it?"]
    if film.call:
        parts.append(film.call.strip())
    if asked:
        parts.append("\n".join(["What is not known:", *(f"- {words}" for words in asked)]))
    return "\n\n".join(parts)


def _shots(film: Film) -> str:
    lines = [f"Still to be filmed: {film.record.title}", ""]
    for shot in film.shots:
        name = f" [{shot.name}]" if shot.name else ""
        lines.append(_filled(f"[ ] {shot.what}{name}", "    "))
        lines.append(_filled(f"    {shot.why}", "    "))
    if not film.shots:
        lines.append("Nothing: everything is photographed, and nothing is said without proof.")
    return "\n".join([*lines, ""])


def _order(film: Film) -> str:
    lines = [f"Running order: {film.record.title}", ""]
    missed: Mapping[str, Sequence[Said]] = {c.title: said for c, said in film.captions.left_out}
    starts = {c.scene.key: c.start for c in film.chapters.all if c.scene}
    for scene in film.scenes:
        at = f"{time_text(starts[scene.key])}  " if scene.key in starts else ""
        lines += [f"{at}{scene.title}  ({scene.key})"]
        for one in scene.said:
            show = f"  show: {', '.join(one.show)}" if one.show else "  nothing to show yet"
            lines.append(_filled(f"  - {one.with_grade} [{one.name}]{show}", "    "))
        lines.append("")
    for title, said in missed.items():
        names = ", ".join(one.name for one in said)
        lines.append(_filled(f"No time in “{title}” for: {names}", "    "))
    return "\n".join([*lines, ""])


def _filled(words: str, indent: str) -> str:
    return textwrap.fill(words, _TEXT_LINE, subsequent_indent=indent)

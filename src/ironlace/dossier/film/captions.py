"""Chapters at the times that a person types, and captions for them as WebVTT.

WebVTT: The Web Video Text Tracks Format (W3C Candidate Recommendation, 2019). How much fits in a
caption, two lines of 37 characters read at 15 characters a second, is common practice of
subtitling.
"""

import math
import re
import textwrap
import unicodedata
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from xml.sax.saxutils import escape

from ironlace.dossier.film.scenes import Said, Scene
from ironlace.evidence.errors import IronlaceError

_LINE = 37
"""Characters of a line."""
_LINES = 2
"""Lines of a caption."""
_PER_SECOND = 15.0
"""Characters that are read in a second."""
_LEAST_FULL = 0.4
"""Of two lines: a caption cut at a clause is at least so full (a judgement)."""
_CLAUSE_ENDS = re.compile(r"[,;:.!?)](?=\s)| [–—](?=\s)")
"""Where a clause ends, the sign that ends it within."""
_SHORTEST_S = 1.5
"""Seconds that the shortest caption stands."""
_LONGEST_TITLE = 200
"""Characters of a chapter's title."""
_LONGEST_S = 360_000
"""Seconds of the longest film, a hundred hours: beyond that the time is a slip."""
_MOST = 500
"""Chapters of a film; more are a slip."""
END = "end"
_TIME = re.compile(r"(?:(\d{1,3}):)?(\d{1,3}):(\d{2})(?:[.,](\d{1,3}))?", re.ASCII)


class FilmError(IronlaceError):
    """Chapters that cannot be read as they were typed."""


@dataclass(frozen=True, slots=True)
class Chapter:
    """A chapter: when it begins, in seconds; its title; the scene that it shows, if any."""

    start: float
    title: str
    scene: Scene | None


@dataclass(frozen=True, slots=True)
class Chapters:
    """The chapters in order, and when the film ends, None when that was not said."""

    all: tuple[Chapter, ...] = ()
    end: float | None = None

    def spans(self) -> Iterator[tuple[Chapter, float | None]]:
        """Each chapter with when it ends."""
        ends = [*(one.start for one in self.all[1:]), self.end]
        return zip(self.all, ends, strict=True) if self.all else iter(())


@dataclass(frozen=True, slots=True)
class Cue:
    """A caption: when it comes and goes, in seconds, and its lines."""

    start: float
    end: float
    lines: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Captioned:
    """The captions of a film, and by chapter the sentences for which there was no time."""

    cues: tuple[Cue, ...]
    left_out: tuple[tuple[Chapter, tuple[Said, ...]], ...]


def read_chapters(text: str, scenes: Sequence[Scene]) -> Chapters:
    r"""Read chapters as they are typed: one a line, a time and a scene's key or a title.

    Raises
    ------
    FilmError
        When a line has no time or no words, or times do not go up.

    >>> read_chapters("0:00 Hello\n1:02:03,5 end", ()).end
    3723.5
    """
    known = {scene.key: scene for scene in scenes}
    chapters: list[Chapter] = []
    end: float | None = None
    before = -1.0
    for number, line in enumerate(text.splitlines(), 1):
        if not line.strip():
            continue
        time, _, rest = line.strip().partition(" ")
        start, words = _seconds(time, number), " ".join(rest.split())
        if end is not None:
            raise FilmError(f"Line {number} comes after the end: write the line with 'end' last.")
        if start <= before:
            raise FilmError(
                f"Line {number} begins at {time[:20]}, not after the line before: times go up."
            )
        before = start
        if words.casefold() == END:
            end = start
            continue
        chapters.append(_chapter(start, words, known, number))
    if len(chapters) > _MOST:
        raise FilmError(f"{len(chapters)} chapters came: at most {_MOST} can be read.")
    if end is not None and not chapters:
        raise FilmError("There is an end and no chapter: begin with a line such as '0:00 machine'.")
    return Chapters(tuple(chapters), end)


def _chapter(start: float, words: str, known: dict[str, Scene], number: int) -> Chapter:
    key, _, title = words.partition(":")
    scene = known.get(key.strip().casefold())
    title = _clean((title.strip() or scene.title) if scene else words)
    if not title or len(title) > _LONGEST_TITLE:
        raise FilmError(
            f"Line {number} names no chapter, or one too long: write a time, a blank and a title "
            f"of up to {_LONGEST_TITLE} characters."
        )
    return Chapter(start, title, scene)


def _seconds(time: str, number: int) -> float:
    found = _TIME.fullmatch(time)
    if found is None or int(found[3]) > 59 or (found[1] and int(found[2]) > 59):
        raise FilmError(
            f"Line {number} begins with “{time[:20]}”, which is no time: write 0:00, 12:34 or "
            "1:02:03, then a blank."
        )
    hours, minutes, seconds, part = found.groups(default="0")
    whole = 3600 * int(hours) + 60 * int(minutes) + int(seconds)
    if whole > _LONGEST_S:
        raise FilmError(f"Line {number} begins at {time}: no film is so long.")
    return whole + int(part.ljust(3, "0")) / 1000


def captioned(chapters: Chapters) -> Captioned:
    """Caption each chapter with its title and the sentences of its scene, as far as time allows."""
    cues: list[Cue] = []
    left_out: list[tuple[Chapter, tuple[Said, ...]]] = []
    for chapter, end in chapters.spans():
        said = chapter.scene.said if chapter.scene else ()
        at, missed = chapter.start, []
        for one in (None, *said):
            words = chapter.title if one is None else one.with_grade
            made = list(_cues(words, at))
            if end is not None and (not made or made[-1].end > end):
                if one is not None:
                    missed.append(one)
                continue
            cues += made
            at = made[-1].end if made else at
        if missed:
            left_out.append((chapter, tuple(missed)))
    return Captioned(tuple(cues), tuple(left_out))


def _cues(words: str, at: float) -> Iterator[Cue]:
    """A sentence as captions, one after another, cut where a clause ends when that is near."""
    for shown in _captions(_clean(words)):
        stands = max(_SHORTEST_S, sum(map(len, shown)) / _PER_SECOND)
        end = round(at + stands, 3)
        yield Cue(at, end, shown)
        at = end


def _captions(words: str) -> Iterator[tuple[str, ...]]:
    """The lines of each caption, no more than two.

    A sentence that does not fit is cut after the last clause that does, unless that would leave
    the caption short: then after the last word that fits.
    """
    while words:
        lines = textwrap.wrap(words, _LINE, break_on_hyphens=False)
        if len(lines) <= _LINES:
            yield tuple(lines)
            return
        shown = lines[:_LINES]
        room = " ".join(shown)
        ends = [found.end() for found in _CLAUSE_ENDS.finditer(room + " ")]
        near = [end for end in ends if _LEAST_FULL * len(room) <= end <= len(room)]
        if near:
            shown = textwrap.wrap(room[: near[-1]], _LINE, break_on_hyphens=False)
        yield tuple(shown)
        taken = len("".join(shown).replace(" ", ""))
        words = _after(words, taken)


def _after(words: str, taken: int) -> str:
    """What follows so many signs, blanks not counted."""
    for at, sign in enumerate(words):
        if taken == 0:
            return words[at:].lstrip()
        taken -= not sign.isspace()
    return ""


def captions_vtt(captions: Captioned) -> str:
    """The captions as a WebVTT file."""
    return _vtt((cue.start, cue.end, "\n".join(map(escape, cue.lines))) for cue in captions.cues)


def chapters_vtt(chapters: Chapters) -> str:
    """The chapters as a WebVTT file; the last ends with the film, or when it has been read."""
    return _vtt(
        (one.start, end if end is not None else _read_by(one), escape(one.title))
        for one, end in chapters.spans()
    )


def _read_by(chapter: Chapter) -> float:
    """When the last chapter's captions are through, for a film whose end was not said."""
    return max(cue.end for cue in captioned(Chapters((chapter,))).cues)


def _vtt(cues: Iterator[tuple[float, float, str]]) -> str:
    blocks = ["WEBVTT"]
    for number, (start, end, words) in enumerate(cues, 1):
        blocks.append(f"{number}\n{_stamp(start)} --> {_stamp(end)}\n{words}")
    return "\n\n".join(blocks) + "\n"


def _stamp(seconds: float) -> str:
    thousandths = math.floor(seconds * 1000 + 0.5)
    hours, rest = divmod(thousandths, 3_600_000)
    minutes, rest = divmod(rest, 60_000)
    return f"{hours:02d}:{minutes:02d}:{rest // 1000:02d}.{rest % 1000:03d}"


def time_text(seconds: float) -> str:
    """A time as it is written under a film: 0:00, 12:34, 1:02:03.

    >>> time_text(0), time_text(754.9), time_text(3723)
    ('0:00', '12:34', '1:02:03')
    """
    minutes, second = divmod(int(seconds), 60)
    hours, minute = divmod(minutes, 60)
    return f"{hours}:{minute:02d}:{second:02d}" if hours else f"{minute}:{second:02d}"


def _clean(words: str) -> str:
    """One line without signs that say nothing or turn the reading of a line."""
    shown = "".join(
        " " if unicodedata.category(char) in ("Cc", "Zl", "Zp") else char
        for char in words
        if unicodedata.category(char) not in ("Cs", "Cf")
    )
    return " ".join(shown.split())

"""What a film of a machine tells, in which order, and what is still to be filmed or proven."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.grades import Grade
from ironlace.evidence.sources import Source, SourceKind
from ironlace.evidence.wording import capital
from ironlace.record.choices import PhotographRole, Risk, Stage
from ironlace.record.entries import (
    DrawingEntry,
    FindingEntry,
    Lettering,
    Mark,
    Measurement,
    Part,
    Photograph,
    Question,
    ReportEntry,
    Statement,
    Treatment,
)
from ironlace.record.heading import heading_photograph
from ironlace.record.history import Record


@dataclass(frozen=True, slots=True)
class Said:
    """A sentence of the film: its words, how it is known, and the entry that says so.

    The grade is None for what was done or is asked, which nobody claims to know.
    """

    words: str
    grade: Grade | None
    name: str
    show: tuple[str, ...] = ()

    @property
    def with_grade(self) -> str:
        """The words with their grade, as they stand in a caption."""
        return self.words if self.grade is None else f"{self.words} ({self.grade.value})"


@dataclass(frozen=True, slots=True)
class Scene:
    """A part of the film: its key, its title, what is said and shown in it."""

    key: str
    title: str
    said: tuple[Said, ...]


@dataclass(frozen=True, slots=True)
class Shot:
    """Something still to be filmed: what, why, and the entry that it is for (empty: the whole)."""

    what: str
    why: str
    name: str


def running_order(record: Record) -> tuple[Scene, ...]:
    """The scenes of a record, those that have something to say, in the order of telling."""
    scenes = (
        Scene("machine", "The machine", tuple(_statements(record))),
        Scene("marks", "The marks", tuple(_marks(record))),
        Scene("worked-out", "What was worked out", tuple(_findings(record))),
        Scene("condition", "As it was found", tuple(_parts(record))),
        Scene("measurements", "Measured", tuple(_measurements(record))),
        Scene("treatments", "What was done", tuple(_treatments(record))),
        Scene("ornament", "The ornament", tuple(_drawings(record))),
        Scene("questions", "What is not known", tuple(_questions(record))),
    )
    return tuple(scene for scene in scenes if scene.said)


def _line(words: str) -> str:
    return capital(" ".join(words.split())).rstrip(".") + "."


def _statements(record: Record) -> Iterator[Said]:
    heading = heading_photograph(record.of(Photograph))
    show = (heading[0],) if heading else ()
    for name, one in record.of(Statement):
        by = f", as claimed by {one.claimed_by}" if one.claimed_by else ""
        words = _line(f"{one.about.value}: {one.says_in_words()}{by}")
        yield Said(words, one.grade, name, show)


def _marks(record: Record) -> Iterator[Said]:
    for name, mark in record.of(Mark):
        yield Said(_line(f"{mark.reads}, on the {mark.where}"), mark.grade, name, mark.photographs)
    for name, one in record.of(Lettering):
        says = " / ".join(one.says.splitlines())
        yield Said(_line(f"“{says}”, on the {one.where}"), one.grade, name, one.photographs)


def _findings(record: Record) -> Iterator[Said]:
    for name, entry in record.of(FindingEntry):
        found = entry.finding
        yield Said(_line(found.sentence or entry.in_brief()), found.grade, name)


def _parts(record: Record) -> Iterator[Said]:
    for name, part in record.of(Part):
        damage = f": {part.damage}" if part.damage else ""
        words = _line(f"{part.name}, {part.state.value}{damage}")
        yield Said(words, part.grade, name, part.photographs)


def _measurements(record: Record) -> Iterator[Said]:
    for name, one in record.of(Measurement):
        yield Said(_line(one.in_brief()), one.grade, name)


def _treatments(record: Record) -> Iterator[Said]:
    for name, one in record.of(Treatment):
        day = f", {date_in_words(one.date)}" if one.date else ""
        done = _line(f"{one.what}{day}; {one.undoing.value}")
        words = f"Intended, not done: {done}" if one.stage is Stage.INTENDED else done
        yield Said(words, None, name, (*one.before, *one.after))


def _drawings(record: Record) -> Iterator[Said]:
    for name, one in record.of(DrawingEntry):
        yield Said(_line(one.in_brief()), one.grade, name, one.photographs)


def _questions(record: Record) -> Iterator[Said]:
    for name, one in record.of(Question):
        if not one.answer:
            yield Said(" ".join(one.asks.split()), None, name)


def shot_list(record: Record) -> tuple[Shot, ...]:
    """What no photograph shows yet, then what is said without proof: to be filmed, or said so."""
    return (*_unphotographed(record), *_unproven(record))


def _unphotographed(record: Record) -> Iterator[Shot]:
    roles = {photograph.role for _, photograph in record.of(Photograph)}
    if not roles & {PhotographRole.WHOLE, PhotographRole.AS_FOUND}:
        yield Shot("the whole machine, from where one stands", "no photograph shows it whole", "")
    for name, mark in record.of(Mark):
        if not mark.photographs:
            what = f"the mark {mark.reads} on the {mark.where}, glyph by glyph, the light low"
            yield Shot(what, "no photograph shows it", name)
    for name, one in record.of(Lettering):
        if not one.photographs:
            yield Shot(f"the words on the {one.where}", "no photograph shows them", name)
    parts = sorted(record.of(Part), key=lambda of: _URGENT.index(of[1].risk))
    for name, part in parts:
        if not part.photographs:
            urgent = part.risk in (Risk.NOW, Risk.SOON)
            why = "no photograph shows it" + (f"; {part.risk.value}" if urgent else "")
            yield Shot(f"the {part.name}: {part.damage or part.state.value}", why, name)
    for name, work in record.of(Treatment):
        yield from _of_treatment(name, work)


_URGENT = (Risk.NOW, Risk.SOON, Risk.WATCH, Risk.UNJUDGED, Risk.NONE)
"""In this order parts are filmed: what may be gone tomorrow first."""


def _of_treatment(name: str, one: Treatment) -> Iterator[Shot]:
    if one.stage is Stage.INTENDED:
        if not one.before:
            yield Shot(f"before {one.what}", "it is not done yet, and cannot be filmed after", name)
    elif not one.after:
        yield Shot(f"after {one.what}", "no photograph shows what came of it", name)


def _unproven(record: Record) -> Iterator[Shot]:
    for name, one in record.of(Statement):
        if one.grade is Grade.CONJECTURED:
            what = f"what would prove “{one.about.value}: {one.says_in_words()}”"
            yield Shot(what, "it is only conjectured: say so, or show why", name)
        elif not _vouched(one.sources) and one.grade in (Grade.SEEN, Grade.MEASURED):
            what = f"what shows “{one.about.value}: {one.says_in_words()}”"
            yield Shot(
                what, f"it is said to be {one.grade.value}, and nothing vouches for it", name
            )
    for name, question in record.of(Question):
        if not question.answer:
            what = question.would_answer or "whatever would answer it"
            yield Shot(" ".join(what.split()), f"open: {' '.join(question.asks.split())}", name)
    if not any(record.of(ReportEntry)) and any(record.of(Mark)):
        yield Shot(
            "the call for other machines’ numbers, with the mark on screen",
            "no other machine is reported, so its number cannot be dated",
            "",
        )


def _vouched(sources: Iterable[Source]) -> bool:
    """Whether anything besides the machine itself, as a word, vouches."""
    return any(one.entry or one.says or one.kind is SourceKind.OBJECT for one in sources)

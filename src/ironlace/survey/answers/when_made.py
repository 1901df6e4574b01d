"""When a machine was made, told: the date, what each theory says of it, and what it rests on."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Annotated, Any

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, Plot, PlotsWhenSeen
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import counted
from ironlace.survey.answers.asked import UnderTheories, asked_before
from ironlace.survey.answers.comparison import Comparison
from ironlace.survey.answers.dating import Dating, date_all, date_of
from ironlace.survey.answers.plots import numbers_against_dates
from ironlace.survey.answers.which_numbering import (
    compared,
    shared_mark_sentences,
    theories_table,
)
from ironlace.survey.errors import SurveyError
from ironlace.survey.reports.anchors import Anchor, AnchorTable, read_anchors
from ironlace.survey.reports.as_struck import read_mark
from ironlace.survey.reports.counted import Reports, set_aside_in_words
from ironlace.survey.reports.dates_of_others import Dated, names_a_paper, of_others
from ironlace.survey.reports.table import DatedEvidence, DatedKind, Report
from ironlace.survey.reports.where_from import WhereFrom
from ironlace.survey.schemes.face_value import FaceValue, face_value
from ironlace.survey.schemes.scheme import Counted
from ironlace.survey.time.timeline import DatedNumber


@dataclass(frozen=True)
class DateAsked(UnderTheories):
    """What is asked for when a number is dated."""

    of: Annotated[
        str,
        Ask(
            "Mark to date",
            "As read, glyph by glyph; left empty, this machine's own. The date of another mark "
            "is shown and not kept.",
            example="4.96.217",
        ),
    ] = ""
    anchors: Annotated[
        str,
        Ask(
            "Table of dated examples",
            "Lines with serial, kind (at, not before, not after, sold) and date, beside those "
            "that came with the reports.",
            example="serial,kind,date",
            long=True,
            table=True,
            more=True,
        ),
    ] = ""


@dataclass(frozen=True)
class DateFound:
    """When a machine was made.

    Attributes
    ----------
    reports
        All reports.
    dating
        The date, and what each theory says of it.
    comparison
        The theories by whose odds it was weighed.
    anchors
        All dated numbers, each once.
    anchor_table
        Those that came as a table, None without one.
    of_others
        What is said of dates in that table that are of something else than the making.
    hangs_on
        What all dates have in common that may make them wrong together, in a sentence; empty
        elsewhere.
    """

    reports: Reports
    dating: Dating
    comparison: Comparison
    anchors: tuple[Anchor, ...]
    anchor_table: AnchorTable | None = None
    of_others: tuple[str, ...] = ()
    hangs_on: str = ""

    @property
    def doubts(self) -> list[str]:
        """What is said of the dates before what bears the answer, on the page as by command."""
        table = self.anchor_table
        aside = (
            set_aside_in_words(table.set_aside, len(table.anchors), "dated examples")
            if table
            else []
        )
        return [*filter(None, [self.hangs_on]), *aside, *self.of_others]


def _work(reports: Reports, asked: DateAsked, steps: Steps) -> DateFound:
    mark = read_mark(asked.of) if asked.of.strip() else reports.own
    if mark is None:
        raise SurveyError("No mark is given to date: read this machine's mark first, or give one.")
    table = read_anchors(asked.anchors) if asked.anchors.strip() else None
    if table and table.set_aside and not table.anchors:
        first = table.set_aside[0]
        raise SurveyError(
            f"None of the {counted(len(table.set_aside), 'dated example')} can be used. Line "
            f"{first.line}: {first.reason}"
        )
    steps("comparing theories", 0.0)
    comparison = compared(reports, asked)
    table, of_others = _of_the_making(table)
    anchors = (*(table.anchors if table else ()), *reports.anchors)
    steps("dating", 0.8)
    dating = date_of(mark, comparison, anchors)
    known = tuple(dict.fromkeys(anchors))
    of_one = "" if table is not None and table.anchors else dates_of_one_person(reports.counted)
    hangs_on = bounds_alone(known) or of_one
    if hangs_on and dating.grade is Grade.INFERRED:
        dating = replace(dating, grade=Grade.CONJECTURED)
    return DateFound(reports, dating, comparison, known, table, of_others, hangs_on)


def bounds_alone(anchors: Sequence[Anchor]) -> str:
    """Say that all dates bound the making from one side, as a slip in their kind does; '' if not.

    >>> from ironlace.survey.reports.anchors import read_anchors
    >>> rows = ("serial,kind,date", "40,not before,1881", "90,not before,1884")
    >>> told = read_anchors(chr(10).join(rows)).anchors
    >>> bounds_alone(told)[:44], bounds_alone(())
    ("All 2 dates say 'not before', and none when ", '')
    """
    kinds = {anchor.kind for anchor in anchors}
    if len(anchors) < _FEW or len(kinds) != 1 or not kinds <= set(_BOUNDS):
        return ""
    kind = kinds.pop()
    return (
        f"All {len(anchors)} dates say '{kind}', and none when a machine was made or sold, so "
        f"nothing bounds it on the other side: look again whether '{kind}' is what they say."
    )


_BOUNDS = (DatedKind.NOT_BEFORE, DatedKind.NOT_AFTER)
_FEW = 2
"""One such date alone is no slip in a whole column."""


def dates_of_one_person(reports: Sequence[Report]) -> str:
    """Say that one person gives nearly all dates and names no paper for most; '' where not so.

    >>> from ironlace.survey.reports.table import read_reports
    >>> rows = [f"r{i},{40 + i},{1880 + i},at,{{}},A. Quill" for i in range(5)]
    >>> head = "id,mark,dated,dated_kind,evidence,reporter"
    >>> bare, named = (
    ...     read_reports(chr(10).join([head, *(row.format(what) for row in rows)])).reports
    ...     for what in ("", "receipt")
    ... )
    >>> dates_of_one_person(bare)[:31], dates_of_one_person(named)
    ("All 5 dates are one person's, a", '')
    """
    dated = [report for report in reports if report.dated is not None]
    bare = [r for r in dated if r.dated is not None and not names_a_paper(r.dated.what)]
    persons = WhereFrom.of(dated).persons
    if len(bare) <= _HALF * len(dated) or not WhereFrom.of(dated).of_one_person:
        return ""
    all_of = "All" if persons.commonest[1] == len(dated) else f"{persons.commonest[1]} of"
    return (
        f"{all_of} {len(dated)} dates are one person's, and for {len(bare)} no receipt, letter or "
        "the like is named: if they were reckoned or guessed, all are wrong together. Ask what "
        "each was read off, and another person for a machine that came with a date."
    )


_HALF = 0.5
"""Of dates, more than half must come without a paper before they are taken for guesses."""


def _of_the_making(table: AnchorTable | None) -> tuple[AnchorTable | None, tuple[str, ...]]:
    """A table without the dates that are of something else, and what is said of those."""
    if table is None:
        return None, ()
    told = of_others(
        [Dated(a.mark, DatedEvidence(a.date, a.kind, a.source)) for a in table.anchors]
    )
    said = tuple(
        f"In the table of dated examples {a.mark} ({a.date.text}) does not count: its date {why}."
        for a, why in zip(table.anchors, told, strict=True)
        if why is not None
    )
    kept = tuple(a for a, why in zip(table.anchors, told, strict=True) if why is None)
    return AnchorTable(kept, table.set_aside), said


def _sentences(found: DateFound) -> list[str]:
    told = found.dating.sentences()
    said = [told[0], *found.doubts, *told[1:]]
    said.append(
        f"Theories were weighed by {counted(len(found.comparison.reports), 'report')}; "
        f"{counted(len(found.anchors), 'dated example')} known."
    )
    said = found.reports.told_with([*said, *found.comparison.sentences()])
    said += shared_mark_sentences(found.reports, found.comparison)
    said += found.anchor_table.sentences()[1:] if found.anchor_table else []
    # what would settle it is told by the date and by the comparison alike
    return list(dict.fromkeys(said))


def _answer(found: DateFound) -> Answer:
    dating, own = found.dating, found.reports.own
    span = dating.interval
    # the date of another machine's mark is no finding on this one
    kept = own is None or own == dating.mark
    result = Result(
        name="date of making",
        value=span.text,
        interval=Interval(
            low=_month(span, first=True), high=_month(span, first=False), coverage=0.9
        ),
        grade=dating.grade,
    )
    return Answer(
        results=(result,) if kept else (),
        sentences=tuple(_sentences(found)),
        figures=_figures(found),
        tables=(theories_table(found.comparison),),
        plots=PlotsWhenSeen(lambda: _plots(found)),
    )


def _month(span: EdtfDate, *, first: bool) -> str | None:
    day = span.earliest if first else span.latest
    return None if day is None else f"{day:%Y-%m}"


def _figures(found: DateFound) -> dict[str, Any]:
    aside = found.reports.as_dict()
    if found.anchor_table:
        # as before: with a table of dated numbers it is that table's rows which are told here
        aside["set_aside"] = [
            {"line": row.line, "row": dict(row.row), "reason": row.reason}
            for row in found.anchor_table.set_aside
        ]
    return {
        **found.dating.as_dict(),
        "anchors": [
            {"serial": str(a.mark), "kind": str(a.kind), "date": a.date.text, "source": a.source}
            for a in found.anchors
        ],
        **aside,
    }


def _plots(found: DateFound) -> Sequence[Plot]:
    """Numbers against dates, where the leading theory has one number that runs on."""
    comparison = found.comparison
    scheme, given = comparison.best.candidate.scheme, comparison.assumptions
    if not any(field.counted is Counted.OVERALL for field in scheme.fields):
        return ()

    def read(mark: Any) -> FaceValue | None:
        return face_value(mark, scheme, first_year=given.first_year, last_year=given.last_year)

    dated = [
        DatedNumber(value.number, anchor.kind, anchor.date)
        for anchor in found.anchors
        if (value := read(anchor.mark)) and value.number is not None
    ]
    marks = {
        value.number: report.mark
        for report in comparison.reports
        if (value := read(report.mark)) and value.number is not None
    }
    if not marks or not dated:
        return ()
    numbers = sorted(marks)
    told = date_all([marks[n] for n in numbers], comparison, found.anchors)
    return (
        numbers_against_dates(dated, {n: d.density for n, d in zip(numbers, told, strict=True)}),
    )


DATE = Analysis(
    key="date",
    about="date of making",
    question="When was it made?",
    section="made",
    inputs=Reports,
    asked=DateAsked,
    work=_work,
    answer=_answer,
    method="date by its mark under each theory, weighted by the theories' odds",
    published="Jeffreys 1939, Theory of Probability; Kass and Raftery 1995 (Bayes factors)",
    asked_before=asked_before,
    step="date",
)

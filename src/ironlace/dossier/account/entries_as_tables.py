"""Entries of which there are many and short ones, as the rows of a table."""

import itertools
import math
import re
from collections import defaultdict
from collections.abc import Sequence
from dataclasses import replace
from decimal import Decimal

from ironlace.dossier.account.blocks import Block, Cell, Matter, Row, Tabular
from ironlace.dossier.account.entries_as_blocks import EntryReader
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.quantities import Measured
from ironlace.evidence.wording import capital
from ironlace.record.choices import Allowed
from ironlace.record.entries import Measurement, Outlay, ReportEntry
from ironlace.record.other_readings import other_reading
from ironlace.record.purses import PurseSum, purses_of

_MEASUREMENT_HEADS = ("What", "mm or as told", "inches", "How it is known")

_MOST_PLACES = {"mm": 3, "in": 4}
"""Places that a reading at the bench can bear: a micrometre, a ten-thousandth of an inch."""

_LEADING_ONE = 2.0
"""A first figure below this takes a second: to drop it would change the error by up to a half."""

_UNIT_OF_LENGTH = re.compile(r"(?<![A-Za-z])(?:mm|in(?:s|ch|ches)?)\b\.?|[\"″]")


def report_blocks(reader: EntryReader, *, private: bool) -> tuple[Block, ...]:
    """Other machines' marks as they were reported, and how many of them count."""
    reports = list(reader.record.of(ReportEntry))
    if not reports:
        return ()
    counted = sum(1 for _, report in reports if report.counts)
    opening = (
        f"{len(reports)} report{'' if len(reports) == 1 else 's'}, of which {counted} "
        f"{'counts' if counted == 1 else 'count'} in what was worked out."
    )
    if not private:
        allowed = any(report.allowed in (Allowed.PLACE, Allowed.NAMED) for _, report in reports)
        opening += " Owners’ names and places are kept in the record and not told here"
        opening += ", except where the owner allowed it." if allowed else "."
    rows = told_once([_report_row(name, report, private=private) for name, report in reports])
    heads = ("Mark", "How it reached us", "Dated", "Variant", "Grade")
    return (Matter(opening), Tabular(heads, (19, 24, 23, 13, 21), rows))


def told_once(rows: Sequence[Row]) -> tuple[Row, ...]:
    """The rows with what their last cell tells of a run of them said once, in its first row."""
    out: list[Row] = []
    for run in (list(alike) for _, alike in itertools.groupby(rows, lambda row: row.cells[-1])):
        for at, row in enumerate(run):
            last = replace(row.cells[-1], again=at > 0, down=1 if at else len(run))
            out.append(replace(row, cells=(*row.cells[:-1], last)))
    return tuple(out)


def measurement_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """Readings part by part, a length in both units; how a run of them is known is said once."""
    groups: dict[str, list[tuple[str, Measurement]]] = defaultdict(list)
    parts: dict[str, str] = {}
    for name, entry in reader.record.of(Measurement):
        key = entry.part.strip().casefold()
        parts.setdefault(key, entry.part.strip())
        groups[key].append((name, entry))
    rows: list[Row] = []
    for key in sorted(groups, key=lambda key: not key):  # those of no part come last
        days = {date_in_words(entry.date) for _, entry in groups[key]}
        day = days.pop() if len(days) == 1 and any(parts.values()) else ""
        if any(parts.values()):
            head = capital(parts[key]) or "Of no part in particular"
            across = len(_MEASUREMENT_HEADS)
            rows.append(Row((Cell(head, _lines(day), across=across),), head=True))
        rows += _measurement_rows(groups[key], dated=not day)
    if not rows:
        return ()
    return (Tabular(_MEASUREMENT_HEADS, (34, 18, 17, 31), tuple(rows), folds=True),)


def outlay_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """Hours and costs, added up, the money by currency."""
    outlays = list(reader.record.of(Outlay))
    if not outlays:
        return ()
    rows = [
        Row(
            (
                Cell(entry.what, _lines(entry.note)),
                Cell(date_in_words(entry.date)),
                Cell("" if entry.hours is None else f"{entry.hours.normalize():f}", look="figure"),
                Cell(
                    "" if entry.cost is None else _money(entry.cost, entry.currency), look="figure"
                ),
            ),
            name,
        )
        for name, entry in outlays
    ]
    rows.append(_sums([entry for _, entry in outlays]))
    heads = ("What", "Date", "Hours", "Cost")
    table = Tabular(heads, (46, 24, 11, 19), tuple(rows), figures=(2, 3))
    return (table, *_purse_blocks(reader))


def _purse_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """Sums by step and by week, in one money where rates lead to it; and the rates."""
    purses = purses_of(reader.record)
    if purses is None:
        return ()
    blocks: list[Block] = []
    together = f"All in {purses.money}" if purses.money else ""
    for title, sums in (("By step of the job", purses.by_step), ("By week", purses.by_week)):
        if len(sums) > 1:
            heads = (title, "Hours", "Money", *((together,) if together else ()))
            widths = (44, 12, 22, 22) if together else (56, 16, 28)
            rows = tuple(_sum_row(one, together=bool(together)) for one in sums)
            blocks.append(Tabular(heads, widths, rows, figures=tuple(range(1, len(heads)))))
    whole = purses.whole
    if whole.together is not None:
        blocks.append(Matter(f"The money comes to {_money(whole.together, purses.money)} in all."))
    if whole.with_hours is not None:
        worth = _money(whole.with_hours, purses.money)
        blocks.append(Matter(f"With the hours at their rate it comes to {worth}."))
    if purses.rates:
        told = "; ".join(rate.in_brief() for _, rate in purses.rates)
        blocks.append(Matter(f"{told}.", "Rates."))
    if purses.money and purses.without_rate:
        missing = ", ".join(purses.without_rate)
        blocks.append(Matter(f"No rate leads from {missing} to {purses.money}: not added up."))
    return tuple(blocks)


def _sum_row(one: PurseSum, *, together: bool) -> Row:
    costs = [_money(amount, currency) for currency, amount in one.costs]
    cells = [
        Cell(capital(one.of)),
        Cell(f"{one.hours.normalize():f}" if one.hours else "", look="figure"),
        Cell(costs[0] if costs else "", tuple(costs[1:]), look="figure"),
    ]
    if together:
        found = one.with_hours if one.with_hours is not None else one.together
        cells.append(Cell("" if found is None else f"{found:.2f}", look="figure"))
    return Row(tuple(cells))


def lengths_both_ways(entry: Measurement) -> tuple[str, str, bool]:
    """A length in mm and in inches, and whether inches were read; empty for what is no length.

    What was converted goes to the place that its error bears or, where none was stated, half of
    the last figure read; what was read stays as it was written.
    """
    measured = entry.measured
    if not measured.is_length:
        return "", "", False
    read = " ".join(_UNIT_OF_LENGTH.sub("", entry.reads).split())
    if measured.unit == "in":
        return _converted(entry, "mm"), read, True
    if measured.unit == "mm":
        return read, _converted(entry, "in"), False
    return _converted(entry, "mm"), _converted(entry, "in"), False


def _report_row(name: str, report: ReportEntry, *, private: bool) -> Row:
    dated = date_in_words(report.dated)
    if dated and report.dated_is not in ("", "at"):
        dated = f"{report.dated_is} {dated}"
    how = ", ".join(filter(None, (capital(report.how.value), date_in_words(report.sighted))))
    not_counted = "" if report.counts else "not counted"
    same = f"the same machine as {report.same_as}" if report.same_as else ""
    return Row(
        (
            Cell(report.reads, _lines(report.name if private else name, not_counted), look="reads"),
            Cell(how, _lines(report.place, report.reporter, same, report.note)),
            Cell(capital(dated), _lines(report.dated_by and f"by {report.dated_by}")),
            Cell(report.variant),
            Cell(grade=report.grade),
        ),
        name,
    )


def _measurement_rows(
    members: Sequence[tuple[str, Measurement]], *, dated: bool
) -> tuple[Row, ...]:
    """The readings of one part, each with its day unless the heading says it for all."""
    return told_once(
        [
            Row(
                (
                    Cell(
                        capital(_without_part(entry.what, entry.part)),
                        _lines(entry.note, *_struck(entry.struck)),
                    ),
                    *_readings(entry),
                    Cell(_how(entry, dated=dated), grade=entry.grade),
                ),
                name,
            )
            for name, entry in members
        ]
    )


def _readings(entry: Measurement) -> tuple[Cell, ...]:
    mm, inches, in_inches = lengths_both_ways(entry)
    if not mm:
        return (Cell(entry.reads, look="figure", across=2),)
    return (
        Cell(mm, look="converted" if in_inches else "figure"),
        Cell(inches, look="figure" if in_inches else "converted"),
    )


def _how(entry: Measurement, *, dated: bool) -> str:
    day = date_in_words(entry.date) if dated else ""
    return ", ".join(filter(None, (entry.instrument, day)))


def _without_part(what: str, part: str) -> str:
    """What was measured, without the part's name before it: the heading over it says that.

    >>> _without_part("bed length", "bed"), _without_part("tension disc diameter", "tension discs")
    ('length', 'diameter')
    """
    part = " ".join(part.split())
    for called in filter(None, (part, part.removesuffix("s"), f"{part}’s", f"{part}'s")):
        begun = what[: len(called)].casefold() == called.casefold()
        rest = what[len(called) :]
        if begun and rest[:1].isspace() and rest.strip():
            return rest.strip()
    return what


def _converted(entry: Measurement, unit: str) -> str:
    """A length in the unit that it was not read in, to the place that it bears."""
    told, most = entry.measured.to(unit), _MOST_PLACES[unit]
    if told.error == 0:
        return f"{told.value:.{most}f}"
    half = Measured(_last_place(entry.reads) / 2, entry.measured.unit).to(unit).value
    error = told.error or half
    power = math.floor(math.log10(error))
    places = -power + (told.error is not None and error / 10.0**power < _LEADING_ONE)
    places = min(max(0, places), max(most, -power))
    number = f"{told.value:.{places}f}"
    return number if told.error is None else f"{number} ± {told.error:.{places}f}"


def _last_place(reads: str) -> float:
    """What one in the last figure of a reading is worth: 0.1 of 31.6, a sixteenth of 5/16."""
    number = _FIGURES.match(reads.strip())
    if number is None:
        return 1.0
    if number["parts"]:
        return 1.0 / int(number["parts"])
    return 10.0 ** -len(number["decimals"] or "")


_FIGURES = re.compile(r"[+-]?\d+(?:\s+\d+)?(?:/(?P<parts>[1-9]\d*)|[.,](?P<decimals>\d+))?")


def _struck(lines: Sequence[str]) -> tuple[str, ...]:
    found = map(other_reading, lines)
    return tuple(f"struck out: {one.reads}, {one.beside()}" for one in found)


def _sums(entries: Sequence[Outlay]) -> Row:
    hours = sum((e.hours for e in entries if e.hours is not None), Decimal(0))
    costs: dict[str, Decimal] = defaultdict(Decimal)
    for entry in entries:
        if entry.cost is not None:
            costs[entry.currency] += entry.cost
    first, *more = [_money(costs[currency], currency) for currency in sorted(costs)] or [""]
    return Row(
        (
            Cell("In all"),
            Cell(),
            Cell(f"{hours.normalize():f}", look="figure"),
            Cell(first, tuple(more), look="figure"),
        ),
        sum=True,
    )


def _money(amount: Decimal, currency: str) -> str:
    return f"{amount:.2f} {currency}"


def _lines(*lines: str) -> tuple[str, ...]:
    return tuple(line for line in lines if line)

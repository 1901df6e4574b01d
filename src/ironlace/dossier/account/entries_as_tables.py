"""Entries of which there are many and short ones, as the rows of a table."""

import math
import re
from collections import defaultdict
from collections.abc import Sequence
from decimal import Decimal

from ironlace.dossier.account.blocks import Block, Cell, Matter, Row, Tabular
from ironlace.dossier.account.entries_as_blocks import EntryReader
from ironlace.dossier.words import capital
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.quantities import Measured
from ironlace.record.choices import Allowed
from ironlace.record.entries import Measurement, Outlay, ReportEntry
from ironlace.record.other_readings import other_reading
from ironlace.record.purses import PurseSum, purses_of

_INCH = re.compile(r"(?:\bin(?:s|ch|ches)?\b|[\"″])")


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
    rows = tuple(_report_row(name, report, private=private) for name, report in reports)
    heads = ("Mark", "How it reached us", "Dated", "Variant", "Grade")
    return (Matter(opening), Tabular(heads, (23, 26, 23, 16, 12), rows))


def measurement_blocks(reader: EntryReader) -> tuple[Block, ...]:
    """Readings, a length in both units."""
    rows = tuple(_measurement_row(name, entry) for name, entry in reader.record.of(Measurement))
    heads = ("What", "mm or as told", "inches", "How it is known")
    return (Tabular(heads, (34, 19, 20, 27), rows),) if rows else ()


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

    What was converted has its error to two figures and its value to the same place; a fraction of
    an inch stays as it was read.
    """
    measured = entry.measured
    if not measured.is_length:
        return "", "", False
    mm, inches = _length(measured, "mm", 3), _length(measured, "in", 4)
    if measured.unit == "in":
        inches = " ".join(_INCH.sub("", entry.reads).split())
    return mm, inches, measured.unit == "in"


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


def _measurement_row(name: str, entry: Measurement) -> Row:
    mm, inches, in_inches = lengths_both_ways(entry)
    if mm:
        reads: tuple[Cell, ...] = (
            Cell(mm, look="converted" if in_inches else "figure"),
            Cell(inches, look="figure" if in_inches else "converted"),
        )
    else:
        reads = (Cell(entry.reads, look="figure", across=2),)
    what = ", ".join(filter(None, (entry.what, entry.part)))
    how = ", ".join(filter(None, (entry.instrument, date_in_words(entry.date))))
    return Row(
        (
            Cell(what, _lines(entry.note, *_struck(entry.struck))),
            *reads,
            Cell(below=_lines(how), grade=entry.grade),
        ),
        name,
    )


def _struck(lines: Sequence[str]) -> tuple[str, ...]:
    found = map(other_reading, lines)
    return tuple(f"struck out: {one.reads}, {one.beside()}" for one in found)


def _length(measured: Measured, unit: str, places: int) -> str:
    converted = measured.to(unit)
    if converted.error is None or measured.unit == unit:
        number = f"{converted.value:.{places}f}".rstrip("0").rstrip(".")
        return number if converted.error is None else f"{number} ± {converted.error:g}"
    if converted.error > 0:
        places = max(0, 1 - math.floor(math.log10(converted.error)))
    return f"{converted.value:.{places}f} ± {converted.error:.{places}f}"


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

"""Hours and costs added up by week, by step and as a whole, in one money where rates lead to it.

Money stays in the currency it was paid in; a rate is a statement with a day and a source, and only
where one leads to it is a sum told in one money.
"""

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import ROUND_HALF_EVEN, Decimal
from typing import Any

from ironlace.evidence.edtf_dates import EdtfDate, EdtfError
from ironlace.record.choices import STEPS
from ironlace.record.entries import Outlay, Rate
from ironlace.record.history import Record

HOUR = "hour"
_CENT = Decimal("0.01")


@dataclass(frozen=True, slots=True)
class PurseSum:
    """What some outlays come to.

    Attributes
    ----------
    of
        What they have in common: a week, a step, or all of them.
    hours
        Hours worked.
    costs
        Money by currency, in the order of the alphabet.
    together
        The money in one currency, None where no rate is kept or one is missing.
    with_hours
        The same with the hours at their rate, None where hours have none.
    """

    of: str
    hours: Decimal
    costs: tuple[tuple[str, Decimal], ...]
    together: Decimal | None = None
    with_hours: Decimal | None = None

    def as_dict(self) -> dict[str, Any]:  # dict: plain JSON
        """The sum by name; amounts as text, so that no cent is lost."""
        return {
            "of": self.of,
            "hours": f"{self.hours:f}",
            "costs": {currency: f"{amount:.2f}" for currency, amount in self.costs},
            "together": None if self.together is None else f"{self.together:.2f}",
            "with_hours": None if self.with_hours is None else f"{self.with_hours:.2f}",
        }

    def in_words(self, money: str) -> str:
        """The sum in a line; `money` is the currency of what is told together."""
        told = [f"{self.hours.normalize():f} h"] if self.hours else []
        told += [f"{amount:.2f} {currency}" for currency, amount in self.costs]
        worth = self.together if self.with_hours is None else self.with_hours
        rest = "" if worth is None else f" (worth {worth:.2f} {money})"
        return f"{self.of}: {', '.join(told) or 'nothing'}{rest}"


@dataclass(frozen=True, slots=True)
class Purses:
    """Everything spent on a machine, added up.

    `money` is the currency in which sums are told together, empty where no rate is kept; `rates`
    names the rates that were used, `without_rate` the currencies that none leads from.
    """

    whole: PurseSum
    by_week: tuple[PurseSum, ...]
    by_step: tuple[PurseSum, ...]
    money: str = ""
    rates: tuple[tuple[str, Rate], ...] = ()
    without_rate: tuple[str, ...] = ()

    def as_dict(self) -> dict[str, Any]:  # dict: plain JSON
        """All sums by name, with the rates that were used."""
        return {
            "whole": self.whole.as_dict(),
            "by_week": [one.as_dict() for one in self.by_week],
            "by_step": [one.as_dict() for one in self.by_step],
            "money": self.money,
            "rates": {name: rate.in_brief() for name, rate in self.rates},
            "without_rate": list(self.without_rate),
        }


def purses_of(record: Record) -> Purses | None:
    """Add up what a record says was worked and spent; None when it says nothing of it."""
    outlays = [outlay for _, outlay in record.of(Outlay)]
    if not outlays:
        return None
    rates = _Rates(list(record.of(Rate)))
    weeks: dict[date | None, list[Outlay]] = defaultdict(list)
    steps: dict[str, list[Outlay]] = defaultdict(list)
    for outlay in outlays:
        weeks[_monday(outlay.date)].append(outlay)
        steps[outlay.step].append(outlay)
    dated = sorted(week for week in weeks if week)
    whole = rates.sum_of("In all", outlays)
    by_week = [rates.sum_of(_week_in_words(week), weeks[week]) for week in dated]
    if dated and weeks[None]:
        by_week.append(rates.sum_of("no week said", weeks[None]))
    by_step = [rates.sum_of(STEPS[step], steps[step]) for step in STEPS if steps[step]]
    if by_step and steps[""]:
        by_step.append(rates.sum_of("no step said", steps[""]))
    return Purses(
        whole,
        tuple(by_week),
        tuple(by_step),
        rates.money,
        tuple((name, rate) for name, rate in rates.kept if name in rates.used),
        tuple(sorted(rates.missing)),
    )


class _Rates:
    """The rates kept, those that were used, and the currencies that none leads from."""

    def __init__(self, kept: Sequence[tuple[str, Rate]]) -> None:
        self.kept = kept
        self.money = kept[-1][1].currency if kept else ""
        self.used: set[str] = set()
        self.missing: set[str] = set()

    def sum_of(self, of: str, outlays: Iterable[Outlay]) -> PurseSum:
        hours, worked, spent = Decimal(0), Decimal(0), Decimal(0)
        costs: dict[str, Decimal] = defaultdict(Decimal)
        whole = valued = bool(self.money)
        for outlay in outlays:
            if outlay.cost is not None:
                costs[outlay.currency] += outlay.cost
                found = self._in_money(outlay.cost, outlay.currency, outlay.date)
                whole = whole and found is not None
                spent += found or 0
            if outlay.hours is not None:
                hours += outlay.hours
                found = self._in_money(outlay.hours, HOUR, outlay.date)
                valued = valued and found is not None
                worked += found or 0
        told = tuple(sorted(costs.items()))
        return PurseSum(
            of,
            hours,
            told,
            spent if whole and told else None,
            spent + worked if whole and valued and hours else None,
        )

    def _in_money(self, amount: Decimal, one: str, day: str | None) -> Decimal | None:
        if one == self.money:
            return amount
        name, rate = self._rate_on(one, day)
        if rate is None:
            if one != HOUR and self.money:
                self.missing.add(one)
            return None
        self.used.add(name)
        worth = amount * rate.worth if rate.one == one else amount / rate.worth
        return worth.quantize(_CENT, ROUND_HALF_EVEN)

    def _rate_on(self, one: str, day: str | None) -> tuple[str, Rate | None]:
        """The last rate of or before a day, else the first; the last of all where no day is said.

        A rate of our money in the other serves as well.
        """
        leading = [
            (_latest(rate.date), name, rate)
            for name, rate in self.kept
            if (rate.one, rate.currency) in ((one, self.money), (self.money, one))
        ]
        if not leading:
            return "", None
        leading.sort(key=lambda found: (found[0], int(found[1].partition(" ")[2])))
        until = _latest(day) if day else date.max
        before = [found for found in leading if found[0] <= until]
        _, name, rate = before[-1] if before else leading[0]
        return name, rate


def _latest(text: str) -> date:
    try:
        return EdtfDate.parse(text).latest or date.max
    except EdtfError:
        return date.max


def _monday(text: str | None) -> date | None:
    """The Monday of the week that a date lies in; None where it says no week."""
    if not text:
        return None
    try:
        found = EdtfDate.parse(text)
    except EdtfError:
        return None
    first, last = found.earliest, found.latest
    if first is None or last is None:
        return None
    monday = first - timedelta(days=first.weekday())
    return monday if last < monday + timedelta(days=7) else None


def _week_in_words(monday: date) -> str:
    year, week, _ = monday.isocalendar()
    return f"week {week} of {year}"

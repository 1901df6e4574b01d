"""How many were made, told: sentences, figures and the table of series."""

from typing import Any

from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.wording import counted, listed
from ironlace.survey.answers.comparison import percent
from ironlace.survey.answers.end_of_run import IF_THE_LAST_TURN_UP
from ironlace.survey.answers.made_found import MadeFound, Totals
from ironlace.survey.answers.one_series import (
    MORE_LIKELY,
    TOO_OPEN,
    Grounds,
    OneSeries,
    rounded,
)
from ironlace.survey.answers.total_hangs_on import (
    if_once_through,
    may_be_otherwise,
    of_the_end,
    perhaps_misread,
    span_of,
    unless_read_otherwise,
    why_no_more,
)
from ironlace.survey.answers.totals import SeriesTotals, Total
from ironlace.survey.answers.which_numbering import SURE

_MOST_SERIES = 40
"""So many series are listed in the table; the figures hold them all."""


def _sentences(found: MadeFound) -> list[str]:
    numbers = counted(found.used, "number")
    totals = found.totals
    weight = "you named it" if found.named else f"chance {percent(found.probability)}"
    said = [
        _in_one_sentence(totals, numbers) + unless_read_otherwise(found),
        *([found.year.sentence_of_all()] if found.year is not None else []),
        *perhaps_misread(found),
        *may_be_otherwise(found),
        *_rounded(totals),
        *of_the_end(found),
        *if_once_through(totals),
        f"The marks are read as '{found.scheme.in_brief()}' ({weight}); {numbers} could be used.",
        *why_no_more(totals),
        *_amiss(totals),
        *_totals_in_words(totals),
    ]
    if found.not_read:
        said.append(f"Not clear or not fitting, so not counted: {', '.join(found.not_read)}.")
    return found.reports.told_with(said)


def _in_one_sentence(totals: Totals, numbers: str) -> str:
    """The answer, for someone who reads no further."""
    _, total = totals.best
    of = ""
    if totals.all_series is not None:
        length = totals.all_series[0]
        span = f"the {length} {totals.one_series}s from the first to the last seen"
        of = f" in {span}, if none stood idle"
        if totals.seen_alone:
            of = f" in the {length} series seen"
        if length == 1:
            of = f" in that one {totals.one_series}"
    elif totals.whole is None:
        of = " in each run that starts again at 1, on average"
    elif totals.whole.grounds is Grounds.WORD:
        of = ", if each number was used once, as you say"
    else:
        of = ", with whatever else was numbered in the same series"
    if not totals.bounded:
        return f"At least {total.low:,.0f} were made{of}; how many more, {numbers} cannot tell"
    if_so = "" if totals.whole is None else IF_THE_LAST_TURN_UP
    return (
        f"About {total.middle:,.0f} were made{of}: between {total.low:,.0f} and "
        f"{total.high:,.0f} in 9 cases out of 10{if_so}"
    )


def _rounded(totals: Totals) -> list[str]:
    """That numbers were rounded: all that end in 0 or 5, or some."""
    whole = totals.whole
    if whole is not None and whole.rounding.told:
        unit, in_ten = whole.rounding.unit, min(max(round(whole.rounding.share * 10), 1), 9)
        ends = {5: "0 or 5", 50: "00 or 50", 500: "000 or 500"}.get(unit, str(unit)[1:])
        return [
            f"About {in_ten} in ten numbers were rounded as they were passed on, so that they end "
            f"in {ends}: where the highest is one of them, the lower end allows for it. Ask for "
            "the numbers as they are struck."
        ]
    if not rounded(totals.steps):
        return []
    return [
        f"Nearly every number ends in {'0 or 5' if totals.step % 2 else '0'}: they were "
        f"probably rounded as they were passed on. The lower end allows for a works that used only "
        f"every {totals.step}th number. Ask for the numbers as they are struck."
    ]


def _amiss(totals: Totals) -> list[str]:
    """What looks wrong with the run of numbers, the weightiest first."""
    said = []
    if totals.step > 1 and not rounded(totals.steps):
        every = {2: "second", 3: "third"}.get(totals.step, f"{totals.step}th")
        said.append(
            f"Only every {every} number turned up: either the others were never used, which is "
            "taken for granted here, or they belong to another works."
        )
    whole = totals.whole
    if whole is None:
        return said
    if whole.doubted:
        one = len(whole.doubted) == 1
        said.append(
            f"{listed([f'{number:,}' for number in whole.doubted])} "
            f"{'lies' if one else 'lie'} so far above the rest that a figure is probably misread: "
            f"look at {'that mark' if one else 'those marks'} again."
        )
    # of two things that may be so, the likelier
    if totals.thicker and totals.densities is not None:
        said.append(totals.densities.sentence())
    elif totals.blocks is not None and totals.blocks.found:
        said.append(totals.blocks.sentence())
    if whole.handfuls.chance > MORE_LIKELY:
        said.append(
            "The numbers lie in handfuls close together, as from one shipment or one owner: each "
            "handful counts little more than a single report."
        )
    return [*said, *_left_out(whole)]


def _left_out(whole: OneSeries) -> list[str]:
    """Whether batches of numbers may have been left out, which few numbers can show."""
    if whole.grounds is Grounds.WORD:
        return []
    if whole.in_lots:
        return [
            "The numbers lie in some round hundreds or thousands and in none of the others: "
            "batches were left out, or went elsewhere."
        ]
    if whole.left_out < _HARDLY:
        return ["No batches of numbers seem to have been left out."]
    return [
        "The lower end allows for batches of numbers that were never used, which those seen "
        "cannot rule out."
    ]


_HARDLY = 0.05
"""A chance of lots left out that moves no end of the interval, which leaves as much below it."""


def _totals_in_words(totals: Totals) -> list[str]:
    """Totals that each take something for granted, for whoever knows that it holds."""
    said = []
    if (t := totals.overall) is not None:
        said.append(
            "Had every number been used from the first on and machines of all times survived "
            f"alike: about {t.middle:,.0f} (90 %: {span_of(t)})."
        )
    if (t := totals.unknown_start) is not None:
        said.append(
            f"The same were the first number unknown: about {t.middle:,.0f} (90 %: {span_of(t)})."
        )
    if totals.series is not None and totals.all_series is not None:
        t = totals.series.mean
        said.append(
            f"Each {totals.one_series} saw about {t.middle:,.0f} made on average "
            f"(90 %: {span_of(t)})."
        )
    if totals.series is not None:
        said.append(
            f"More survivors come from a {totals.one_series} that made many, which is allowed for."
        )
    return said


def _figures(found: MadeFound) -> dict[str, Any]:
    totals = found.totals
    told: dict[str, Any] = {
        "scheme": str(found.scheme),
        "probability": found.probability,
        "numbers": found.used,
        "not_read": list(found.not_read),
        "best": totals.best[1].as_dict()
        | {"of": totals.best[0], "only_a_floor": not totals.bounded},
        "rounded": (
            {"chance": r.chance, "to": r.unit, "share": r.share, "told": r.told}
            if totals.whole and (r := totals.whole.rounding)
            else None
        ),
        "every_so_many": {str(step): chance for step, chance in totals.steps.items()},
        "shapes": dict(totals.whole.shapes) if totals.whole else None,
        "chance_that_lots_were_left_out": totals.whole.left_out if totals.whole else None,
        "chance_of_handfuls": totals.whole.handfuls.chance if totals.whole else None,
        "perhaps_misread": (
            {str(number): chance for number, chance in totals.whole.misread.items()}
            if totals.whole
            else None
        ),
        "grounds": totals.whole.grounds.value if totals.whole else None,
        "once_through": totals.once_through.as_dict() if totals.once_through else None,
        "second_run": totals.second.total.as_dict() if totals.second else None,
        "in_time": totals.in_time.as_dict() if totals.in_time else None,
        "overall": totals.overall.as_dict() if totals.overall else None,
        "unknown_start": totals.unknown_start.as_dict() if totals.unknown_start else None,
    }
    if (blocks := totals.blocks) is not None:
        told["blocks"] = {
            "found": blocks.found,
            "odds": min(blocks.odds, 1e12),
            "first": list(blocks.first),
            "second": list(blocks.second),
            "gap": list(blocks.gap),
            "total": blocks.total.as_dict() if blocks.total else None,
        }
    told["densities"] = totals.densities.as_dict() if totals.densities else None
    if (series := totals.series) is not None:
        told["series"] = {
            "each": {name: t.as_dict() for name, t in series.each.items()},
            "mean": series.mean.as_dict(),
            "typical": series.typical.as_dict(),
            "unevenness": series.unevenness.as_dict(),
        }
    if totals.all_series is not None:
        told["all_series"] = {
            "series": totals.all_series[0],
            "total": totals.all_series[1].as_dict(),
        }
        told["dates_perhaps_misread"] = {r.id: chance for r, chance in found.doubted}
    return {**told, **found.reports.as_dict()}


def totals_told(found: MadeFound) -> Answer:
    """Say how many were made: results with their grade, sentences, figures and the series."""
    # a theory that a person named was not weighed here
    totals = found.totals
    whole = totals.whole
    # nor is a floor, nor what holds on a person's word, shown by the numbers
    shown = whole is None or (totals.bounded and whole.grounds is not Grounds.WORD)
    # nor a span that hangs on a date which may be misread
    shown = shown and totals.were_all_right is None and not rounded(totals.steps)
    # nor years that may not be those of making
    shown = shown and found.year is None
    # nor the end of a run that thins out, or of which mostly one place or person tells
    shown = shown and not totals.thins_out
    shown = shown and not (whole is not None and found.where_from.most)
    sure = not found.named and found.probability >= SURE and shown
    grade = Grade.INFERRED if sure else Grade.CONJECTURED
    told = dict([totals.best])
    only_floor = not totals.bounded and (whole is not None or totals.seen_alone)
    if totals.series is not None:
        told.setdefault("made in a series, on average", totals.series.mean)
    return Answer(
        results=tuple(
            _result(name, total, grade, only_floor=only_floor) for name, total in told.items()
        ),
        sentences=tuple(_sentences(found)),
        figures=_figures(found),
        tables=(_series_table(totals.series),) if totals.series is not None else (),
    )


def _result(name: str, total: Total, grade: Grade, *, only_floor: bool) -> Result:
    """One total; only its lower end where the upper one is wide open, or not to be told."""
    only_floor = only_floor or total.high > TOO_OPEN * total.low
    return Result(
        name=f"{name}, at least" if only_floor else name,
        value=round(total.low if only_floor else total.middle),
        unit="machines",
        interval=Interval(
            low=float(round(total.low)),
            high=None if only_floor else float(round(total.high)),
            coverage=total.share,
        ),
        grade=grade,
    )


def _series_table(series: SeriesTotals) -> Table:
    """The total of each series, the first of them when there are many."""
    return Table(
        "Made in each series" + (" (the first)" if len(series.each) > _MOST_SERIES else ""),
        ("Series", "About", "90 %"),
        tuple(
            (name, f"{t.middle:,.0f}", span_of(t))
            for name, t in sorted(series.each.items())[:_MOST_SERIES]
        ),
    )

"""What a total hangs on, as it is told: readings, dates, the last ones made, the run itself."""

from collections.abc import Sequence
from dataclasses import replace

from ironlace.evidence.wording import counted, listed
from ironlace.survey.answers.end_of_run import out_of_line, sentences_of_the_end
from ironlace.survey.answers.made_found import MadeFound, Totals
from ironlace.survey.answers.one_series import MORE_LIKELY, TOO_OPEN, Grounds
from ironlace.survey.answers.run_in_time import RunInTime
from ironlace.survey.answers.totals import Total
from ironlace.survey.answers.which_numbering import SURE


def may_be_otherwise(found: MadeFound) -> list[str]:
    """What the answer hangs on that the numbers of one run do not show, the weightiest first."""
    totals, whole = found.totals, found.totals.whole
    if whole is None:
        return []
    said = (
        totals.of_others.sentence(whole.total) if totals.of_others else "",
        out_of_line(totals.in_time) if totals.in_time else "",
    )
    return [sentence for sentence in said if sentence]


def of_the_end(found: MadeFound) -> list[str]:
    """That the last ones made may be missing, and what would show it, of a two-sided total."""
    totals, whole = found.totals, found.totals.whole
    if whole is None or not replace(totals, of_one=False).bounded:
        return []
    return sentences_of_the_end(
        whole, found.numbers, found.latest, thin=totals.thins_out, where_from=found.where_from
    )


def unless_read_otherwise(found: MadeFound) -> str:
    """That the whole hangs on a reading of the marks which is not sure."""
    if found.named or found.probability >= SURE:
        return "."
    chance = counted(max(min(round(found.probability * 100), 99), 1), "chance")
    return f"; all this if the marks are read rightly, {chance} in 100."


def perhaps_misread(found: MadeFound) -> list[str]:
    """Dates at the ends of the time that are perhaps misread, and what it would be were they not.

    Before all else that follows: the whole sum hangs on the first and the last date.
    """
    totals = found.totals
    without, right = totals.without_doubted, totals.were_all_right
    if without is None or right is None:
        return []
    out = [f"{r.id} ({r.mark})" for r, chance in found.doubted if chance > MORE_LIKELY]
    held = [f"{r.id} ({r.mark})" for r, chance in found.doubted if chance <= MORE_LIKELY]
    said = []
    if out:
        lies, they = ("lies", "it") if len(out) == 1 else ("lie", "they")
        said.append(
            f"{_some(out)} {lies} so far in time from the others that {they} may be misread: look "
            f"again. Without {'it' if len(out) == 1 else 'them'} the total is about "
            f"{without[1].middle:,.0f} ({span_of(without[1])}) in {without[0]} "
            f"{totals.one_series}s; were all dates right, about {right[1].middle:,.0f} in "
            f"{right[0]}."
        )
    if held:
        is_it = "is, as read, the first or last" if len(held) == 1 else "are, as read, at the ends"
        said.append(
            f"{_some(held)} {is_it} of all and may be misread: the lower end allows for it."
        )
    return said


def _some(names: Sequence[str]) -> str:
    """The first few names, and how many more there are."""
    more = len(names) - _MOST_NAMED
    return listed([*names[:_MOST_NAMED], *([f"{more} more"] if more > 0 else [])])


def if_once_through(totals: Totals) -> list[str]:
    """What it would be for whoever learns that the numbers ran once through, none left out."""
    t, whole = totals.once_through, totals.whole
    if t is None or whole is None or whole.grounds is Grounds.WORD or totals.second is not None:
        return []
    if t.high > TOO_OPEN * t.low:
        return []
    return [
        "If every number was used once, from the first on, it was about "
        f"{t.middle:,.0f}: between {t.low:,.0f} and {t.high:,.0f} in 9 cases out of 10."
    ]


def why_no_more(totals: Totals) -> list[str]:
    """Why no more than a floor is told, or on what the rest is."""
    whole, in_time = totals.whole, totals.in_time
    if whole is None or in_time is None:
        return []
    if whole.grounds is Grounds.WORD:
        return ["That each number was used once, from the first on, is taken on your word."]
    said = []
    if in_time.on_two:
        named = listed([f"{n:,}" for n in in_time.on_two[:_MOST_NAMED]])
        said.append(
            f"More than one machine bears {named}: the count began again, two works used the same "
            "numbers, or a figure is misread."
        )
    if totals.second is not None and in_time.since is not None:
        said.append(
            f"By its dates the count began again at a low number about {in_time.since:.0f}: the "
            "machines before and after are counted apart and added."
        )
    elif whole.grounds is Grounds.DATES:
        said.append(
            f"The numbers rise with the dates of {counted(in_time.dated, 'machine')}, so the count "
            "hardly began again."
        )
    else:
        said.append(
            "Numbers alone do not show whether the count began again at 1, or whether batches were "
            f"never used. {_what_would_tell(in_time)}"
        )
    return said


_MOST_NAMED = 5
"""So many numbers are named in a sentence; the figures hold them all."""


def _what_would_tell(in_time: RunInTime) -> str:
    """What a person could ask for."""
    if in_time.unordered > MORE_LIKELY:
        return (
            f"The numbers of {counted(in_time.dated, 'dated machine')} do not rise with their "
            "dates: works side by side may have shared the numbers, or dates are wrong."
        )
    return (
        "Ask when, and under whom, the numbers began; machines with a number and a date would show "
        "it."
    )


def span_of(total: Total) -> str:
    """Both ends of a total, in whole machines."""
    return f"{total.low:,.0f} to {total.high:,.0f}"

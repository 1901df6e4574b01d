"""A threading plan told in plain words, step by step."""

from collections.abc import Iterable

from ironlace.evidence.wording import capital, counted, listed
from ironlace.running.threading.deeds import DEEDS, KNOWN, THREADS
from ironlace.running.threading.plan import ThreadingPlan, ThreadPoint, not_said
from ironlace.running.threading.stretches import crossings, stretches

_ARTICLES = ("the ", "a ", "an ", "my ", "its ", "this ")


def step_in_words(point: ThreadPoint) -> str:
    """What the thread does at a point, without what it crosses and how it is known.

    >>> step_in_words(ThreadPoint(3, (0, 0), "pin", "left", what="pin below the take-up"))
    'Round the left of the pin below the take-up.'
    """
    deed = DEEDS[point.does]
    thing = deed.noun if not point.what else point.what
    if point.what and not point.what.lower().startswith(_ARTICLES):
        thing = f"the {thing}"
    side = deed.sides.get(point.side, "")
    if deed.before:
        words = f"{side or deed.verb} {thing}"
    elif point.does == "bobbin":
        words = f"put {thing} in" + (f", {side}" if side else "")
    elif point.does == "spool":
        words = f"{deed.verb} {thing}" + (f", {side}" if side else "")
    else:
        words = " ".join(part for part in (deed.verb, thing, side) if part)
    if deed.sides and not point.side:
        words += (
            " (from which side is not said)"
            if not deed.before
            else (" (round which side is not said)")
        )
    if point.behind:
        words += f", coming behind {_the(point.behind)}"
    return f"{capital(words)}."


def known_in_words(point: ThreadPoint) -> str:
    """How a step is known, with its source.

    >>> known_in_words(ThreadPoint(1, (0, 0), "spool"))
    'how it is known is not said'
    """
    if not point.known:
        return "how it is known is not said"
    told = KNOWN[point.known].told
    return f"{told}: {point.source}" if point.source else told


def crossing_in_words(plan: ThreadingPlan) -> dict[int, str]:
    """By the number of a point: what the stretch that leads there crosses, and how."""
    found: dict[int, list[str]] = {}
    for picture in plan.picture:
        laid = stretches(plan, picture.name, 1.0)
        for one in crossings(laid):
            other = laid[one.earlier]
            between = f"{other.start.number} to {other.end.number}"
            found.setdefault(laid[one.later].end.number, []).append(between)
    told = {}
    for point in plan.point:
        met = found.get(point.number, [])
        if met and point.crosses:
            told[point.number] = f"Passes {point.crosses} the thread from {listed(met)}."
        elif met:
            told[point.number] = (
                f"Crosses the thread from {listed(met)}: which lies on top is not said."
            )
        elif point.crosses:
            told[point.number] = (
                f"Passes {point.crosses} the thread laid before, which the picture does not show."
            )
    return told


def steps_in_words(plan: ThreadingPlan) -> dict[int, str]:
    """By the number of a point: what the thread does there, and what it crosses on its way."""
    crossing = crossing_in_words(plan)
    return {
        one.number: f"{step_in_words(one)} {crossing.get(one.number, '')}".strip()
        for one in plan.point
    }


def steps_text(plan: ThreadingPlan) -> str:
    """The plan as plain text: title, steps of both threads, what is not said."""
    words = steps_in_words(plan)
    several = len(plan.picture) > 1
    lines = [plan.title, ""]
    for thread, told in THREADS.items():
        points = plan.of_thread(thread)
        if not points:
            continue
        lines += [f"{capital(told)}: {counted(len(points), 'step')}.", ""]
        shown = ""
        for point in points:
            if several and point.picture != shown:
                shown = point.picture
                lines.append(f"On the picture '{shown}':")
            lines.append(f"{point.number:>3}. {words[point.number]} [{known_in_words(point)}]")
        lines.append("")
    lines += _paragraph("Not said", not_said(plan))
    return "\n".join(lines).rstrip() + "\n"


def grade_in_words(plan: ThreadingPlan) -> str:
    """How the plan as a whole is known: no better than its weakest step."""
    ungraded = [point for point in plan.point if point.grade is None]
    if ungraded:
        return (
            f"How it is known is not said of {counted(len(ungraded), 'step')} of "
            f"{len(plan.point)}: the plan as a whole has no grade."
        )
    by = {
        word: [str(point.number) for point in plan.point if point.known == word] for word in KNOWN
    }
    parts = [f"{listed(numbers)} {KNOWN[word].told}" for word, numbers in by.items() if numbers]
    return f"The plan is {plan.grade}, as its weakest step is: {'; '.join(parts)}."


def _paragraph(head: str, told: Iterable[str]) -> list[str]:
    found = list(told)
    return [f"{head}:", *(f"- {one}" for one in found)] if found else []


def _the(part: str) -> str:
    return part if part.lower().startswith(_ARTICLES) else f"the {part}"

"""Two plans of one machine compared, step by step: what one does otherwise than the other."""

from collections.abc import Sequence
from dataclasses import dataclass
from difflib import SequenceMatcher

from ironlace.running.threading.deeds import THREADS
from ironlace.running.threading.plan import ThreadingPlan, ThreadPoint
from ironlace.running.threading.steps import known_in_words, step_in_words


@dataclass(frozen=True, slots=True)
class Difference:
    """One difference: the step of each plan, None where a plan has none.

    ``how`` is ``otherwise`` (done another way), ``only first``, ``only second`` or ``elsewhere``
    (done by both at another place in the order).
    """

    how: str
    first: ThreadPoint | None
    second: ThreadPoint | None


def compare_plans(first: ThreadingPlan, second: ThreadingPlan) -> tuple[Difference, ...]:
    """What differs between two checked plans, thread by thread, in their order.

    Steps are matched by what the thread does and what it passes, in the longest order that both
    share; where a point lies on its picture and how it is known is no difference in threading.
    """
    return tuple(
        one
        for thread in THREADS
        for one in _of_thread(first.of_thread(thread), second.of_thread(thread))
    )


def differences_in_words(found: Sequence[Difference]) -> list[str]:
    """The comparison in sentences; one that both are the same when nothing differs."""
    if not found:
        return ["Both plans thread alike: no step differs."]
    return [_told(one) for one in found]


def _of_thread(first: Sequence[ThreadPoint], second: Sequence[ThreadPoint]) -> list[Difference]:
    ours, theirs = [_step(one) for one in first], [_step(one) for one in second]
    only_first: list[int] = []
    only_second: list[int] = []
    places: list[tuple[float, Difference]] = []
    for what, a0, a1, b0, b1 in SequenceMatcher(None, ours, theirs, autojunk=False).get_opcodes():
        if what == "equal":
            for a, b in zip(range(a0, a1), range(b0, b1), strict=True):
                if _way(first[a]) != _way(second[b]):
                    places.append((float(a), Difference("otherwise", first[a], second[b])))
            continue
        only_first += range(a0, a1)
        only_second += range(b0, b1)
    left = list(only_second)
    for a in only_first:
        moved = next((b for b in left if theirs[b] == ours[a]), None)
        if moved is None:
            places.append((float(a), Difference("only first", first[a], None)))
        else:
            left.remove(moved)
            places.append((float(a), Difference("elsewhere", first[a], second[moved])))
    places += [(b + 0.5, Difference("only second", None, second[b])) for b in left]
    return [one for _, one in sorted(places, key=lambda place: place[0])]


def _step(point: ThreadPoint) -> tuple[str, str]:
    return (point.does, point.what.lower())


def _way(point: ThreadPoint) -> tuple[str, str, str]:
    return (point.side, point.crosses, point.behind.lower())


def _told(one: Difference) -> str:
    if one.first is not None and one.second is not None:
        ours, theirs = _shown(one.first), _shown(one.second)
        if one.how == "elsewhere":
            return f"Elsewhere in the order: the first has {ours} The second has {theirs}"
        return f"Otherwise: the first has {ours} The second has {theirs}"
    here = one.first or one.second
    assert here is not None
    return f"Only the {'first' if one.first else 'second'}: {_shown(here)}"


def _shown(point: ThreadPoint) -> str:
    crosses = f" Passes {point.crosses} the thread laid before." if point.crosses else ""
    return f"{point.number}. {step_in_words(point)}{crosses} [{known_in_words(point)}]"

"""The needle thread through one turn in words, figures and a plot."""

from collections.abc import Iterator, Sequence
from typing import Final

import numpy as np

from ironlace.evidence.analyses import Analysis, Known, KnownTable, Nothing, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen, Table
from ironlace.evidence.arrays import Bools
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import listed
from ironlace.running.motion.motion_doubts import upside_down
from ironlace.running.needles.thread_use import (
    ThreadUseAsked,
    stitch_doubts,
    thread_use,
    unchecked,
)
from ironlace.running.thread.thread_asked import ThreadAsked
from ironlace.running.thread.thread_plot import thread_plots
from ironlace.running.thread.thread_turn import (
    SLACK_MM,
    STEPS,
    Spread,
    ThreadFound,
    other_setting,
    thread_turn,
)

COVERAGE: Final = 0.9
"""Share of intervals that hold the truth: the house tells 90 % throughout."""
DIGITS: Final = 2
"""Places behind the point that results are told to: a thread is no finer."""
SNATCH_MM: Final = 0.5
"""Thread drawn out of time from which it is told as a snatch (a judgement, no source)."""
LEFT_MM: Final = 1.0
"""Slack at the take-up's highest from which the stitch is told as not drawn tight (a judgement)."""
GAIN_APART: Final = 0.1
"""Share by which the guides' places may disagree with what was measured at the take-up."""
IN_CLOTH: Final = 0.15
"""Share of the feed's way with the eye in the cloth from which it is told."""
THIN, THICK = 0.5, 2.0
"""Cloths that the table tells beside the one asked for, as a share of its thickness."""
_NEARLY: Final = 0.7
"""Share of the turn from which it is told where the thread is not slack."""
GIVES: Final = (0.5, 2.15)
"""Between what thread given out over the take-up's way lies: each of two legs grows by its way at
the most, twice together (geometry), with a margin for a way read along a line; half is judged."""
DIPS_MM: Final = (3.0, 30.0)
"""How far the eye goes below the plate: less and no shuttle comes behind it (a judgement)."""
STITCHES: Final = (1.5, 2.5, 4.0)
"""Stitch lengths that the table tells, mm."""


def thread_answer(found: ThreadFound) -> Answer:
    """Tell where the thread is slack, where it is snatched and what the seam takes."""
    grade = _grade(found)
    slack, place = _most_slack(found)
    snatch = found.spread(found.plain.snatched.sum(), found.drawn.snatched.sum(axis=1), 0.0)
    top = found.at_top()
    left = found.spread(
        found.plain.slack[0, top],
        found.drawn.slack[np.arange(len(found.drawn.slack)), _tops(found)],
        0.0,
    )
    used = _used(found)
    results = [
        _result("most slack of the needle thread in a turn", slack, "mm", grade),
        Result(
            name="where it is slackest, as the disc reads",
            value=float(found.degrees[place]),
            unit="deg",
            grade=grade,
        ),
        _result("thread snatched through the discs, each stitch", snatch, "mm", grade),
        _result("slack left with the take-up at its highest", left, "mm", grade),
        _result("needle thread that a stitch uses", used, "mm", grade, sure=_stated(found)),
    ]
    seam = ThreadUseAsked(found.asked.stitch, found.asked.thickness, found.asked.balance)
    use = thread_use(Nothing(), seam, Steps())
    for name, (value, sd) in (("needle thread", use.needle), ("both threads", use.both)):
        spread = Spread(value, value - NINETY * sd, value + NINETY * sd)
        words = f"{name} to a metre of seam, at most"
        results.append(_result(words, spread, "m", grade, sure=_stated(found)))
    sentences = [
        *thread_doubts(found),
        *_sentences(found, slack, place, snatch, left, used, use.both[0]),
        *_rests_on(found),
    ]
    stretches = slack_stretches(found)
    return Answer(
        tuple(results),
        tuple(sentences),
        figures={
            "slack_mm": _ends(slack),
            "slackest_deg": round(float(found.degrees[place]), 1),
            "slack_from_to_deg": [[a, b] for a, b, _ in stretches],
            "snatched_mm": _ends(snatch),
            "snatched_from_to_deg": [[a, b] for a, b in _snatches(found)],
            "left_at_top_mm": _ends(left),
            "used_mm": _ends(used),
            "closure_mm": round(float(found.plain.closure[0]), 6),
            "needle_m_per_m": use.needle[0],
            "bobbin_m_per_m": use.bobbin[0],
            "both_m_per_m": use.both[0],
            "with_shuttle": found.with_loop,
            "with_feed": found.with_feed,
            "curve": _curve(found),
        },
        tables=(_settings(found),),
        plots=PlotsWhenSeen(lambda: thread_plots(found)),
    )


def thread_doubts(found: ThreadFound) -> list[str]:
    """What makes it probable that a reading or amount is not what it was said to be."""
    asked = found.asked
    said = stitch_doubts(asked.stitch, asked.thickness, asked.counted, asked.folded)
    if turned := upside_down(found.motions):
        said.append(turned)
    up = found.motions.of("take-up")
    assert up is not None and up.stroke is not None
    share = asked.given_out.value / up.stroke.value
    if not GIVES[0] <= share <= GIVES[1]:
        said.append(
            f"A take-up that moves {up.stroke.value:.1f} mm gives out at most twice that, and "
            f"{asked.given_out.value:g} mm is {share:.2g} times it: were they measured in one "
            "unit, and from mark to mark? Measure both again."
        )
    dips = -float(found.curves.eye.min())
    if not DIPS_MM[0] <= dips <= DIPS_MM[1]:
        said.append(
            f"By these readings the top of the eye goes {dips:.1f} mm below the plate, at which no "
            "shuttle comes behind the needle: was the needle bar's reading at the plate taken at "
            "the needle's point, or on another scale? Read it again."
        )
    return said


def _curve(found: ThreadFound) -> list[dict[str, float]]:
    """Demand, supply and slack in mm at every fifth degree of the wheel."""
    return [
        {
            "deg": round(float(found.degrees[k]), 1),
            "demand_mm": round(float(found.plain.demand[0, k]), 2),
            "supply_mm": round(float(found.plain.supply[0, k]), 2),
            "slack_mm": round(float(found.plain.slack[0, k]), 2),
        }
        for k in range(0, STEPS, 10)
    ]


def _grade(found: ThreadFound) -> Grade:
    asked = found.asked
    asked_for: tuple[Known | KnownTable | None, ...] = (
        asked.readings, asked.stitch, asked.thickness, asked.eye_at_plate, asked.given_out,
        asked.guides, asked.meeting, asked.loop,
    )  # fmt: skip
    known = [one for one in asked_for if one is not None]
    whole = found.with_loop and found.with_feed and asked.turning != "unsaid"
    whole = whole and not thread_doubts(found)
    return grade_of(known, Grade.INFERRED if whole else Grade.CONJECTURED)


def _most_slack(found: ThreadFound) -> tuple[Spread, int]:
    place = int(np.argmax(found.plain.slack[0]))
    return (
        found.spread(found.plain.slack[0, place], found.drawn.slack.max(axis=1), 0.0),
        place,
    )


def _tops(found: ThreadFound) -> np.ndarray:
    return np.asarray(np.argmin(found.drawn_curves.given, axis=1))


def _stated(found: ThreadFound) -> bool:
    return found.asked.stitch.error is not None and found.asked.thickness.error is not None


def _used(found: ThreadFound) -> Spread:
    asked = found.asked
    sd = float(
        np.hypot(asked.stitch.error or 0.0, 2.0 * asked.balance * (asked.thickness.error or 0.0))
    )
    value = float(found.plain.used[0])
    return Spread(value, value - NINETY * sd, value + NINETY * sd)


def _result(name: str, of: Spread, unit: str, grade: Grade, *, sure: bool = True) -> Result:
    low, value, high = (round(one, DIGITS) for one in (of.low, of.value, of.high))
    interval = Interval(low=low, high=high, coverage=COVERAGE) if sure else None
    return Result(name=name, value=value, unit=unit, interval=interval, grade=grade)


def _ends(of: Spread) -> list[float]:
    return [round(of.low, 3), round(of.value, 3), round(of.high, 3)]


def slack_stretches(found: ThreadFound) -> list[tuple[float, float, float]]:
    """Where the thread is slack: from and to, as the disc reads, and the most of it, mm."""
    slack = found.plain.slack[0]
    return [
        (round(float(found.degrees[a])), round(float(found.degrees[b])), float(slack[part].max()))
        for a, b, part in _runs(slack > SLACK_MM)
    ]


def _snatches(found: ThreadFound) -> list[tuple[float, float]]:
    """Where thread is snatched, from and to, as the disc reads."""
    return [
        (round(float(found.degrees[a])), round(float(found.degrees[b])))
        for a, b, part in _runs(found.plain.snatched[0] > 1e-9)
        if float(found.plain.snatched[0][part].sum()) > 0.2 * SNATCH_MM
    ]


def _runs(there: Bools) -> Iterator[tuple[int, int, np.ndarray]]:
    """Runs of places round the turn: first, last, and all their places."""
    if there.all():
        yield 0, STEPS - 1, np.arange(STEPS)
        return
    start = int(np.flatnonzero(~there)[0]) if there.any() else 0
    turned = np.roll(there, -start)
    edges = np.flatnonzero(np.diff(turned.astype(int), prepend=0, append=0))
    for a, b in zip(edges[::2], edges[1::2], strict=True):
        part = (np.arange(a, b) + start) % STEPS
        yield int(part[0]), int(part[-1]), part


def _slack_in_words(found: ThreadFound) -> str:
    """Where it is slack, on the disc; where that is nearly all round, where it is not."""
    slack = found.plain.slack[0] > SLACK_MM
    if slack.all():
        return "all round"
    nearly = float(slack.mean()) > _NEARLY
    runs = [
        f"{found.degrees[a]:.0f}° to {found.degrees[b]:.0f}°"
        for a, b, _ in _runs(~slack if nearly else slack)
    ]
    if not runs:
        return ""
    return f"all round the disc but from {listed(runs)}" if nearly else f"from {listed(runs)}"


def _cause(found: ThreadFound) -> str:
    """What most of a snatch comes from."""
    drawn, curves = found.plain.snatched[0], found.curves
    looped = float(drawn[curves.loop[0] > 0.0].sum())
    deep = float(drawn[(curves.loop[0] <= 0.0) & (curves.eye[0] <= curves.thickness[0])].sum())
    rest = float(drawn.sum()) - looped - deep
    words = {
        "the shuttle goes through the loop": looped,
        "the needle goes down": deep,
        "the feed moves the cloth before the take-up draws": rest,
    }
    return max(words, key=lambda one: words[one])


def _sentences(
    found: ThreadFound, slack: Spread, place: int, snatch: Spread, left: Spread, used: Spread,
    both: float,
) -> Iterator[str]:  # fmt: skip
    at = found.degrees[place]
    runs = _slack_in_words(found)
    if not found.with_loop:
        yield (
            f"Told without the shuttle's loop: {found.without_loop}. What the shuttle needs is "
            "taken out of the slack below, and a snatch by it is not seen."
        )
    if runs:
        yield (
            f"The needle thread is slack {runs}, most at {at:.0f}°: "
            f"{slack.value:.1f} mm (90 %: {slack.low:.1f} to {slack.high:.1f})."
        )
    else:
        yield f"The needle thread is nowhere slack by more than {SLACK_MM:g} mm."
    if snatch.value > SNATCH_MM:
        where = [f"{a:.0f}° to {b:.0f}°" for a, b in _snatches(found)]
        yield (
            f"It is snatched: {snatch.value:.1f} mm (90 %: {snatch.low:.1f} to {snatch.high:.1f}) "
            f"are drawn through the discs while {_cause(found)}"
            f"{f' ({listed(where)})' if where else ''}, and not as the take-up draws it tight."
        )
    elif snatch.high > SNATCH_MM:
        yield (
            "No snatch by the likeliest curves, but by the doubts up to "
            f"{snatch.high:.1f} mm may be drawn out of time."
        )
    else:
        yield "It is not snatched: thread passes the discs only as the take-up draws it tight."
    if left.value > LEFT_MM:
        yield (
            f"With the take-up at its highest {left.value:.1f} mm (90 %: {left.low:.1f} to "
            f"{left.high:.1f}) are still slack: the stitch is not drawn tight, and loops stay "
            "beneath the cloth."
        )
    yield (
        f"Each stitch of {found.asked.stitch.value:g} mm in {found.asked.thickness.value:g} mm "
        f"of cloth uses {used.value:.2f} mm of needle thread, and a metre of seam {both:.2f} m of "
        "both threads at most; over the turn what discs and take-up give equals that."
    )


def _rests_on(found: ThreadFound) -> Iterator[str]:
    """What could make it wrong."""
    asked = found.asked
    if not found.with_feed:
        yield (
            "The feed was not read: when in the turn the cloth moves is in the doubt, anywhere "
            "while the eye is above the cloth."
        )
    elif found.fed_in_cloth > IN_CLOTH:
        yield (
            f"{found.fed_in_cloth:.0%} of the feed's way falls while the eye is in the cloth: "
            "look at the feed's timing, or at the needle bar's reading at the plate."
        )
    if asked.turning == "unsaid":
        yield (
            "Nobody said whether the disc's numbers rise as it sews; they are taken to, and if "
            "they fall, before and after change places."
        )
    if asked.guides is None:
        yield (
            "The take-up's thread is shared out evenly over its way: where its guides stand far "
            "aside of it, give their places."
        )
    if found.gain_apart is not None and abs(found.gain_apart) > GAIN_APART:
        yield (
            f"The guides' places give {abs(found.gain_apart):.0%} "
            f"{'less' if found.gain_apart > 0 else 'more'} thread than was measured; the "
            "measured amount is used, so measure the places again."
        )
    yield from _closed(found)
    if nothing := unchecked(found.asked.counted, found.asked.folded):
        yield nothing
    if not _stated(found):
        yield "Stitch length or thickness came without an error: none of theirs is in the doubts."
    yield (
        "Stretch, friction in the cloth and thread held by the shuttle are not in it; try it by "
        "turning the wheel by hand, the belt off, and looking at those angles."
    )


def _closed(found: ThreadFound) -> Iterator[str]:
    """Whether the thread that a stitch took, where measured, is what the reckoning lays."""
    taken = found.asked.taken
    if taken is None:
        return
    used = _used(found)
    off = taken.value - used.value
    sd = float(np.hypot((used.high - used.value) / NINETY, taken.error or 0.1))
    if abs(off) <= NINETY * sd:
        yield f"The {taken.value:g} mm that a stitch took by measure agrees with it."
    elif off < 0.0:
        yield (
            f"A stitch took {taken.value:g} mm by measure, {-off:.2f} mm less: tight stitches cut "
            "the corners, or the threads lock nearer to the upper side."
        )
    else:
        yield (
            f"A stitch took {taken.value:g} mm by measure, {off:.2f} mm more than lies in a "
            "stitch locked so: the needle thread is drawn to the under side, or the cloth is "
            "thicker than was said."
        )


def _settings(found: ThreadFound) -> Table:
    """Slack and snatch at other stitch lengths and thicknesses, by the likeliest curves."""
    thick = found.asked.thickness.value
    rows = []
    for thickness in (THIN * thick, thick, THICK * thick):
        for stitch in STITCHES:
            turn = other_setting(found, stitch, thickness)
            ratio = 2.0 + 2.0 * thickness / stitch
            rows.append(
                (
                    f"{stitch:g}",
                    f"{thickness:.2g}",
                    f"{turn.slack[0].max():.1f}",
                    f"{turn.snatched[0].sum():.1f}",
                    f"{turn.slack[0, found.at_top()]:.1f}",
                    f"{turn.used[0]:.2f}",
                    f"{ratio:.2f}",
                )
            )
    return Table(
        "At other stitch lengths and cloths, by the likeliest curves",
        (
            "Stitch, mm", "Cloth, mm", "Most slack, mm", "Snatched, mm", "Left at top, mm",
            "Needle thread a stitch, mm", "Both threads, m to a metre, at most",
        ),
        tuple(rows),
    )  # fmt: skip


def _published() -> Sequence[str]:
    return (
        "lockstitch as a rectangle (2 + 2 T S: teaching pages on thread consumption by stitch "
        "type)",
        "supply and demand over a turn: own model, no published curve for long shuttles found",
    )


THREAD = Analysis(
    key="thread",
    about="needle thread through a turn",
    question="Where in the turn is the needle thread slack, and where is it snatched?",
    section="running",
    inputs=Nothing,
    asked=ThreadAsked,
    work=thread_turn,
    answer=thread_answer,
    method="ironlace.running: thread held by the discs, demand against the take-up's supply, "
    "doubts drawn from the motions' fit",
    published="; ".join(_published()),
    hazards=("running parts",),
)

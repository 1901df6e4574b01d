"""The log of trials as a declared analysis: what changed what, and what to try next."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Annotated

from ironlace.evidence.analyses import Analysis, Ask
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.wording import counted
from ironlace.running.errors import RunningError
from ironlace.running.trials.next_setting import Proposal, propose
from ironlace.running.trials.trials_doubted import doubts
from ironlace.running.trials.trials_weighed import (
    NOTHING,
    QUESTIONS,
    Effect,
    Step,
    Trial,
    Weighed,
    weigh,
)

_LENGTH, _EVEN, _SKIPS = QUESTIONS
_TWO = 2.0**0.5
"""Two seams differ by so many times what one differs from their mean."""


@dataclass(frozen=True)
class TrialsOfMachine:
    """The trials of a machine in their order, and what an eighth of its screw adds (None unknown).

    Attributes
    ----------
    gf_per_eighth
        By the finding of its tension, gf.
    """

    trials: tuple[Trial, ...]
    gf_per_eighth: float | None = None


@dataclass(frozen=True)
class TrialsAsked:
    """What is asked for the trials."""

    since: Annotated[
        str, Ask("From which trial on", "Empty for all.", names="trial", pointed=True)
    ] = ""


@dataclass(frozen=True)
class TrialsFound:
    """The log, weighed, what to try next, and what in the log is probably wrong."""

    trials: tuple[Trial, ...]
    weighed: Weighed
    proposal: Proposal
    doubts: tuple[str, ...] = ()


def trials_weighed(inputs: TrialsOfMachine, asked: TrialsAsked, _steps: Steps) -> TrialsFound:
    """Weigh the trials and propose the next.

    Raises
    ------
    RunningError
        When there is none, or none of that name.
    """
    trials = inputs.trials
    if asked.since:
        names = [one.name for one in trials]
        if asked.since not in names:
            raise RunningError(f"There is no '{asked.since[:40]}' among the trials: choose one.")
        trials = trials[names.index(asked.since) :]
    if not trials:
        raise RunningError("There is no trial yet: add one, with what was changed and its seam.")
    weighed = weigh(trials)
    proposal = propose(trials, weighed, inputs.gf_per_eighth)
    return TrialsFound(trials, weighed, proposal, doubts(trials))


def trials_answer(found: TrialsFound) -> Answer:
    """Tell what to try next first, then what changed what."""
    proposal = found.proposal
    sewn = sum(one.seam is not None for one in found.trials)
    sure = proposal.sure and not found.doubts
    grade = Grade.INFERRED if sure else Grade.CONJECTURED
    results = [
        Result(name="what to try next", value=proposal.does, grade=grade),
        Result(name="trials with a seam", value=sewn, grade=Grade.MEASURED),
    ]
    for step in found.weighed.steps:
        results += [
            Result(
                name=f"{effect.question}: {step.after.name} after {step.before.name}",
                value=round(effect.change, 6),
                unit="mm" if effect.question == _LENGTH else "",
                grade=_grade(found, step),
            )
            for effect in step.effects
        ]
    return Answer(
        tuple(results),
        tuple(_sentences(found)),
        figures={
            "next": {
                "does": proposal.does,
                "why": proposal.why,
                "changed": proposal.changed,
                "eighths": proposal.eighths,
                "sure": sure,
            },
            "doubts": list(found.doubts),
            "repeats": found.weighed.repeats,
            "steps": [
                {
                    "trial": step.after.name,
                    "before": step.before.name,
                    "changed": step.after.changed,
                    "one_change": step.told_apart,
                    "why_not": step.why_not,
                    "effects": [
                        {
                            "of": one.question,
                            "before": round(one.before, 6),
                            "after": round(one.after, 6),
                            "chance": round(one.chance, 6),
                        }
                        for one in step.effects
                    ],
                }
                for step in found.weighed.steps
            ],
        },
        tables=(_log(found),),
    )


def _grade(found: TrialsFound, step: Step) -> Grade:
    if step.told_apart and found.weighed.repeats and not found.doubts:
        return Grade.INFERRED
    return Grade.CONJECTURED


def _sentences(found: TrialsFound) -> Iterator[str]:
    yield from found.doubts
    yield f"Next: {found.proposal.does}"
    yield found.proposal.why
    told = [step for step in found.weighed.steps if any(e.sure for e in step.effects)]
    asked = sum(len(step.effects) for step in found.weighed.steps)
    if not asked:
        yield "Nothing is compared yet: that takes two trials whose seams are measured."
    elif not told:
        held = f"{counted(asked, 'question')} held together"
        yield f"No change so far made a difference beyond chance, {held}."
    for step in told:
        yield _step_in_words(step)
    if found.weighed.steps and not found.weighed.repeats:
        yield (
            "No seam was sewn twice with nothing changed: the chances are of the stitches alone, "
            "and two seams may differ more than that by themselves. What changed what is "
            "conjectured."
        )
    if found.weighed.repeats:
        yield (
            "Seams sewn again with nothing changed differ by themselves by some "
            f"{_TWO * found.weighed.between[0] ** 0.5:.1%} in their mean stitch: what is smaller "
            "is no change's doing."
        )
    for step in found.weighed.steps:
        if step.why_not:
            yield f"{step.after.name.capitalize()} is not compared: {step.why_not}."
    if asked:
        yield (
            "Other things that changed with the days, such as oil that warmed, are not known here."
        )


def _step_in_words(step: Step) -> str:
    sure = [_effect_in_words(one) for one in step.effects if one.sure]
    if step.told_apart:
        begins = f"{step.after.name.capitalize()}, {step.after.words}"
    elif step.after.also:
        begins = (
            f"{step.after.name.capitalize()}, {step.after.words} and {step.after.also} together, "
            "which of them cannot be told"
        )
    elif step.after.changed not in ("start", NOTHING):
        begins = (
            f"{step.after.name.capitalize()}, {step.after.words} and the screw that stands "
            "elsewhere, which of them cannot be told"
        )
    else:
        begins = f"{step.after.name.capitalize()}, though {step.after.words}"
    return f"{begins}: {'; '.join(sure)}."


def _effect_in_words(one: Effect) -> str:
    chance = f"by chance {one.chance:.1%}" if one.chance >= 0.001 else "by chance under 0.1%"
    if one.question == _LENGTH:
        return f"stitches {one.before:.2f} to {one.after:.2f} mm ({chance})"
    better = "fewer" if one.change < 0.0 else "more"
    if one.question == _EVEN:
        better = "more even" if one.change < 0.0 else "less even"
        return f"{better}, {one.before:.1%} to {one.after:.1%} ({chance})"
    return f"{better} skipped, {one.before:.1%} to {one.after:.1%} ({chance})"


def _log(found: TrialsFound) -> Table:
    rows = []
    for one in found.trials:
        seam = one.seam
        lock = f"{one.lock[1]:.2f}" if one.lock else ""
        rows.append(
            (
                one.name,
                one.date,
                one.words + (f"; {one.also}" if one.also else ""),
                f"{one.screw:g}" if one.screw is not None else "",
                f"{seam.mean_mm:.2f}" if seam else "",
                f"{seam.cv:.1%}" if seam else "",
                str(seam.skipped) if seam else "",
                lock,
            )
        )
    heads = (
        "Trial", "Day", "Changed", "Screw, eighths", "Stitch, mm", "Evenness", "Skipped", "Lock",
    )  # fmt: skip
    return Table("The log", heads, tuple(rows))


TRIALS = Analysis(
    key="trials",
    about="trials of the running",
    question="What changed the seam, and what is to be tried next?",
    section="running",
    inputs=TrialsOfMachine,
    asked=TrialsAsked,
    work=trials_weighed,
    answer=trials_answer,
    method="ironlace.running: each trial against the one before, all chances held together",
    published="B. Welch 1947; M. Brown and A. Forsythe 1974; R. Fisher 1922; S. Holm 1979",
    hazards=("running parts",),
)

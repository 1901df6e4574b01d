"""What is told of a head's motion: figures with their doubts, and what to move and how much."""

from collections.abc import Iterator
from math import degrees, pi
from typing import Any

import numpy as np

from ironlace.evidence.analyses import Analysis, Nothing, grade_of
from ironlace.evidence.answers import Answer, PlotsWhenSeen, Table
from ironlace.evidence.findings import Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.wording import capital
from ironlace.running.motion.curves import CrankCurve
from ironlace.running.motion.figures import COVERAGE, Figure, curve_band, number_figure
from ironlace.running.motion.motion_asked import Limits, MotionAsked, limits_of
from ironlace.running.motion.motion_doubts import (
    doubts_of,
    no_crank,
    not_to_be_moved_by,
    sticking,
    upside_down,
)
from ironlace.running.motion.motion_found import Motion, MotionFound, Suspected, motion
from ironlace.running.motion.motion_plot import motion_plots

_DEG = 180.0 / pi

_SAME = 0.9
"""A next reading that leaves more than this share of the doubt is not worth the walk."""


def motion_answer(found: MotionFound) -> Answer:
    """Tell a head's motion."""
    sign = -1.0 if found.asked.turning == "fall" else 1.0
    doubts = [one.says for one in doubts_of(found)]
    grade = grade_of((found.asked.readings,), Grade.INFERRED)
    if (
        found.steps
        or found.suspected
        or no_crank(found)
        or (found.backlash and not found.backlash_told)
    ):
        grade = Grade.CONJECTURED
    one_pointer = found.table.off_centre is None and found.asked.centring is None
    turned = bool(upside_down(found))
    angles = Grade.CONJECTURED if one_pointer or turned else grade
    results = [*_meeting_results(found, grade), *_motion_results(found, sign, grade, angles)]
    first = _first(found, sign)
    # that a part does not move at all, or the other way round, goes before the answer
    lead = 0 if found.unmoved or turned else 1
    told = [
        *first[:lead],
        *doubts,
        *first[lead:],
        *_advice(found),
        *_misread(found, sign),
        *_next(found, sign),
    ]
    return Answer(
        tuple(results),
        tuple(told),
        figures=_figures(found, sign, doubts),
        tables=(_table(found, sign), _readings_table(found, sign)),
        plots=PlotsWhenSeen(lambda: motion_plots(found)),
    )


def _with_doubt(figure: Figure, unit: str, digits: int = 2) -> str:
    unit = unit if unit == "°" else f" {unit}"
    return (
        f"{figure.value:.{digits}f}{unit} (90 %: {figure.low:.{digits}f} to "
        f"{figure.high:.{digits}f})"
    )


def _on_disc(figure: Figure, sign: float) -> Figure:
    """An angle as the disc reads it, degrees, its middle from 0 to 360."""
    found = figure.scaled(sign * _DEG)
    off = -360.0 * np.floor(found.value / 360.0)
    return Figure(
        found.value + float(off), found.low + float(off), found.high + float(off), found.sd
    )


def _widened(found: MotionFound, figure: Figure) -> Figure:
    """A needle bar's dead centre where an uncentred disc would explain its departure as well."""
    if found.departure is None or found.table.off_centre is not None:
        return figure
    off = found.departure.as_disc
    return Figure(
        figure.value, figure.low - off, figure.high + off, float(np.hypot(figure.sd, off))
    )


def _ends(found: MotionFound, one: Motion, sign: float) -> Iterator[tuple[str, Figure]]:
    words = ("bottom dead centre", "top dead centre") if one.name == "needle bar" else (
        f"lowest point of the {one.name}",
        f"highest point of the {one.name}",
    )  # fmt: skip
    own = sticking(found)
    off = own[1] if own is not None and own[0] == one.name else 0.0
    for name, at in zip(words, (one.bottom, one.top), strict=True):
        if at is None:
            continue
        end = Figure(at.value, at.low - off, at.high + off, float(np.hypot(at.sd, off / 2.0)))
        yield name, _on_disc(_widened(found, end) if one.name == "needle bar" else end, sign)


def _first(found: MotionFound, sign: float) -> list[str]:
    """The answer: the rise at the meeting, then each motion's stroke."""
    said = []
    if found.met is not None:
        said.append(
            f"When the shuttle's point meets the needle, the needle has risen "
            f"{_with_doubt(found.met.rise, 'mm')} from its lowest point, "
            f"{_with_doubt(found.met.after_bottom.scaled(_DEG), '°', 1)} of the wheel after it."
        )
    for one in found.motions:
        if one.stroke is None:
            said.append(f"No stroke of the {one.name} is told: {one.why_not}.")
            continue
        ends = " and ".join(
            f"its {'lowest' if k == 0 else 'highest'} point at {_with_doubt(end, '°', 1)}"
            for k, (_, end) in enumerate(_ends(found, one, sign))
        )
        said.append(f"The {one.name} moves {_with_doubt(one.stroke, 'mm')}, {ends}.")
        for k, rests in enumerate(one.rests):
            if rests:
                end = "lowest" if k == 0 else "highest"
                said.append(
                    f"The {one.name} rests near its {end} point, so its angle is a stretch."
                )
    if found.not_met:
        said.append(found.not_met)
    return said


def _advice(found: MotionFound) -> Iterator[str]:
    """What to move, which way, how much."""
    asked, met = found.asked, found.met
    if met is not None:
        yield from _rise_advice(found, limits_of(asked, "rise"))
        if asked.eye_below is not None:
            yield from _eye_advice(found, limits_of(asked, "eye"), limits_of(asked, "rise"))
    if asked.clearance is not None:
        limits = limits_of(asked, "clearance")
        value, sd = asked.clearance.value, asked.clearance.error or 0.0
        way = _outside(value, sd, limits)
        move = {
            1: "bring the shuttle's race nearer to the needle, or the needle to it",
            -1: "take the shuttle away from the needle before it strikes it",
        }
        if way:
            yield (
                f"The clearance of {value:g} mm is {_gap(value, limits)} {_whose(limits)}: "
                f"{move[way]} by {_by(value, limits):.2f} mm."
            )
        else:
            yield f"The clearance of {value:g} mm lies within {_whose(limits)}."


def _rise_advice(found: MotionFound, limits: Limits) -> Iterator[str]:
    met = found.met
    assert met is not None
    value, sd = met.rise.value, met.rise.sd
    if not_to_be_moved_by(found):
        return
    way = _outside(value, sd, limits)
    if not way:
        yield f"That rise cannot be told from {_whose(limits)}: leave the shuttle's timing."
        return
    by = _by(value, limits)
    turn = by / max(abs(met.needle_slope), 1e-6)
    later = "later" if value < (limits.low or 0.0) else "earlier"
    yield (
        f"That rise is {_gap(value, limits)} {_whose(limits)}: set the shuttle to come {later} by "
        f"{turn * _DEG:.1f}° of the wheel, which is {turn * abs(met.shuttle_slope):.1f} mm of its "
        "travel at that place, the needle bar staying as it is."
    )


def _eye_advice(found: MotionFound, limits: Limits, rise_limits: Limits) -> Iterator[str]:
    met, eye = found.met, found.asked.eye_below
    assert met is not None
    assert eye is not None
    risen = met.rise.value
    if _outside(risen, met.rise.sd, rise_limits):
        low, high = rise_limits.low, rise_limits.high
        risen = low if low is not None and risen < low else (high or risen)
        when = "once the shuttle is so set, "
    else:
        when = ""
    below = eye.value - risen
    sd = float(np.hypot(met.rise.sd, eye.error or 0.0))
    way = _outside(below, sd, limits)
    said = f"{when}the top of the eye stands {below:.2f} mm below the point at the meeting"
    said = capital(said)
    if way:
        move = "raise" if below > (limits.high if limits.high is not None else np.inf) else "lower"
        yield (
            f"{said}, {_gap(below, limits)} {_whose(limits)}: {move} the needle bar in its clamp "
            f"by {_by(below, limits):.2f} mm."
        )
    else:
        yield f"{said}, which cannot be told from {_whose(limits)}: leave the bar's height."


def _outside(value: float, sd: float, limits: Limits) -> int:
    """1 or -1 where a figure is more surely than not above or below its limits, 0 otherwise."""
    if limits.high is not None and value > limits.high + sd:
        return 1
    if limits.low is not None and value < limits.low - sd:
        return -1
    return 0


def _by(value: float, limits: Limits) -> float:
    """How far a figure is from the nearer end of its limits."""
    if limits.low is not None and value < limits.low:
        return limits.low - value
    return value - (limits.high if limits.high is not None else value)


def _gap(value: float, limits: Limits) -> str:
    return f"{_by(value, limits):.2f} mm {'under' if value < (limits.low or -np.inf) else 'over'}"


def _whose(limits: Limits) -> str:
    if limits.own:
        return f"your own limits ({limits.in_words()})"
    return (
        f"what is printed for rotary hooks ({limits.in_words()}; none is printed for a long or "
        "vibrating shuttle, so take it as an order of magnitude)"
    )


def _misread(found: MotionFound, sign: float) -> list[str]:
    rows = []
    for row, name, read, meant, angle in misread(found):
        rows.append(
            f"row {row + 1} ({angle * sign * _DEG % 360.0:.0f}°), {name} {read:g} where the others "
            f"say {meant:.1f} mm"
        )
    if not rows:
        return []
    were = "was" if len(rows) == 1 else "were"
    return [f"Taken for misread and left out {were}: {'; '.join(rows)}."]


def misread(found: MotionFound) -> Iterator[tuple[int, str, float, float, float]]:
    """Row, motion, what was read, what the others say, angle; of every value left out."""
    for one in found.motions:
        fit = one.fit
        for row in np.flatnonzero(fit.left_out[:, one.at]):
            angle = float(fit.readings.angle[row])
            meant = float(fit.curve(one.at, np.array([angle])).value[0])
            yield int(row), one.name, float(fit.readings.height[row, one.at]), meant, angle


def _next(found: MotionFound, sign: float) -> list[str]:
    upcoming, what = found.met_next, "needle bar and shuttle together"
    figure = "rise"
    if upcoming is None:
        told = [one for one in found.motions if one.next is not None]
        if not told:
            return []
        upcoming, what, figure = told[0].next, f"the {told[0].name}", "stroke"
    assert upcoming is not None
    if upcoming.left > _SAME:
        return [f"No single further reading would narrow the {figure} much: the doubt is spread."]
    at = upcoming.angle * sign * _DEG % 360.0
    return [
        f"Read next: {what} at {at:.0f}° on the disc; it would leave {upcoming.left:.0%} of the "
        f"{figure}'s doubt."
    ]


def _interval(figure: Figure) -> Interval:
    return Interval(low=figure.low, high=figure.high, coverage=COVERAGE)


def _result(name: str, figure: Figure, unit: str, grade: Grade) -> Result:
    return Result(name=name, value=figure.value, unit=unit, interval=_interval(figure), grade=grade)


def _meeting_results(found: MotionFound, grade: Grade) -> Iterator[Result]:
    if found.met is None:
        return
    met, asked = found.met, found.asked
    known = tuple(k for k in (asked.meeting, asked.eye_below) if k is not None)
    doubtful = found.may_be_cam or found.asked.turning == "unsaid" or not_to_be_moved_by(found)
    grade = grade_of(known[:1], Grade.CONJECTURED if doubtful else grade)
    yield _result("needle rise at the meeting", met.rise, "mm", grade)
    yield _result("meeting after the lowest point", met.after_bottom.scaled(_DEG), "°", grade)
    if asked.eye_below is not None:
        value = asked.eye_below.value - met.rise.value
        eye = "eye below the shuttle point at the meeting"
        if asked.eye_below.error is None:
            yield Result(name=eye, value=value, unit="mm", grade=grade_of(known, grade))
        else:
            sd = float(np.hypot(asked.eye_below.error, met.rise.sd))
            half = NINETY * sd
            figure = Figure(value, value - half, value + half, sd)
            yield _result(eye, figure, "mm", grade_of(known, grade))


def _motion_results(
    found: MotionFound, sign: float, grade: Grade, angles: Grade
) -> Iterator[Result]:
    for one in found.motions:
        if one.stroke is None:
            continue
        yield _result(f"stroke of the {one.name}", one.stroke, "mm", grade)
        for name, end in _ends(found, one, sign):
            yield _result(name, end, "°", angles)


def _plain(figure: Figure | None) -> dict[str, float] | None:
    if figure is None:
        return None
    return {"value": figure.value, "low": figure.low, "high": figure.high, "sd": figure.sd}


def _figures(found: MotionFound, sign: float, doubts: list[str]) -> dict[str, Any]:
    told: dict[str, Any] = {"motions": {}, "coverage": COVERAGE}
    for one in found.motions:
        ends = [_plain(end) for _, end in _ends(found, one, sign)] or [None, None]
        of: dict[str, Any] = {
            "stroke_mm": _plain(one.stroke),
            "lowest_deg": ends[0],
            "highest_deg": ends[1],
            "rests": {"lowest": one.rests[0], "highest": one.rests[1]},
            "not_told": one.why_not or None,
            "readings_used": len(one.angles),
        }
        if isinstance(one.fit.curves[one.at], CrankCurve):
            start = one.fit.parts[one.at].start
            of["crank_mm"] = _plain(number_figure(one.fit, start + CrankCurve.radius_at))
            of["crank_over_link"] = _plain(number_figure(one.fit, start + CrankCurve.ratio_at))
        grid = np.radians(np.arange(0.0, 360.0, 5.0)) * sign
        curve, half = curve_band(one.fit, one.at, grid)
        of["curve_mm"] = [round(float(v), 3) for v in curve]
        of["curve_half_mm"] = [round(float(v), 3) for v in half]
        of["height_scatter_mm"] = one.fit.height_scatter
        of["angle_scatter_deg"] = one.fit.angle_scatter * _DEG
        told["motions"][one.name] = of
    met = found.met
    told["meeting"] = None if met is None else {
        "rise_mm": _plain(met.rise),
        "after_bottom_deg": _plain(met.after_bottom.scaled(_DEG)),
        "pairs": met.pairs,
        "cam_share": found.cam_share,
    }  # fmt: skip
    told["meeting_not_told"] = found.not_met or None
    told["backlash_deg"] = {k: _plain(v.scaled(_DEG)) for k, v in found.backlash.items()}
    told["disc_off_centre_deg"] = (
        None if found.table.off_centre is None else found.table.off_centre * _DEG
    )
    told["misread"] = [
        {"row": row + 1, "column": name, "read_mm": read, "expected_mm": meant}
        for row, name, read, meant, _ in misread(found)
    ]
    told["moved"] = [
        {
            "from_row": step.row + 1,
            "what": "wheel" if step.shift.turns else names[step.shift.motion],
            "by": by.value * (_DEG * sign if step.shift.turns else 1.0),
            "unit": "deg" if step.shift.turns else "mm",
        }
        for step, by, names in found.steps
    ]
    told["suspected"] = _plain_suspected(found.suspected)
    told["no_motion_found"] = list(found.unmoved)
    told["doubts"] = doubts
    return told


def _plain_suspected(one: Suspected | None) -> dict[str, Any] | None:
    if one is None:
        return None
    turned = not one.motion
    return {
        "from_row": one.row + 1,
        "what": one.motion or "wheel",
        "by": one.by.value * (_DEG if turned else 1.0),
        "unit": "deg" if turned else "mm",
        "share": one.share,
    }


def _table(found: MotionFound, sign: float) -> Table:
    rows = []
    for one in found.motions:
        ends = [_with_doubt(end, "°", 1) for _, end in _ends(found, one, sign)] or ["not told"] * 2
        stroke = _with_doubt(one.stroke, "mm") if one.stroke else "not told"
        rows.append((one.name, stroke, *ends, str(len(one.angles))))
    return Table(
        "Each motion",
        ("Motion", "Stroke", "Lowest at", "Highest at", "Readings used"),
        tuple(rows),
    )


def _readings_table(found: MotionFound, sign: float) -> Table:
    """Every reading beside what the fit says there."""
    rows = []
    for row, angle in enumerate(found.table.angle):
        for one in found.motions:
            read = one.fit.readings.height[row, one.at]
            if np.isnan(read):
                continue
            says = float(one.fit.curve(one.at, np.array([angle])).value[0])
            mark = "misread, left out" if one.fit.left_out[row, one.at] else "right"
            shown = f"{degrees(angle) * sign % 360.0:.1f}°"
            rows.append((str(row + 1), shown, one.name, f"{read:g}", f"{says:.2f}", mark))
    heads = ("Row", "Wheel", "Motion", "Read, mm", "Curve, mm", "Taken for")
    return Table("Readings beside the curve", heads, tuple(rows))


MOTION = Analysis(
    key="motion",
    about="motion of the head",
    question="How do needle bar, shuttle, take-up and feed move, and is the timing right?",
    section="running",
    inputs=Nothing,
    asked=MotionAsked,
    work=motion,
    answer=motion_answer,
    method="ironlace.running: crank and periodic curves of fixed order, wheel angle in error",
    published="W. A. Fuller, Measurement Error Models (1987), ch. 3; D. MacKay, Bayesian "
    "interpolation, Neural Computation 4 (1992); geometry of the slider-crank: standard",
    hazards=("running parts",),
)

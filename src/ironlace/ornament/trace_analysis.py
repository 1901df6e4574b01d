"""Tracing as an analysis: what it asks and answers, and how its drawing is told."""

from __future__ import annotations

import math
from typing import Any, Final

import numpy as np

from ironlace.evidence.analyses import Analysis
from ironlace.evidence.answers import Answer, MadeFile, Table
from ironlace.evidence.findings import Finding, Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.quantities import Measured
from ironlace.evidence.wording import listed
from ironlace.ornament.files.drawing_svg import drawing_svg
from ironlace.ornament.outline.drawing import HERE
from ironlace.ornament.set_upright import turned_in_words
from ironlace.ornament.trace_asked import TraceAsked, asked_before
from ironlace.ornament.trace_limits import (
    LITTLE_TRACE,
    MUCH_SHADED,
    MUCH_TRACELESS,
    in_shadow_share,
    limits,
    told_within_mm,
    traceless_share,
)
from ironlace.ornament.trace_photographs import (
    PhotographsToTrace,
    Traced,
    trace_photographs,
)
from ironlace.ornament.trace_report import scale_sd_of

TELLING_MM: Final = 0.005
"""Less than this is told as nothing."""
NINETY: Final = 1.645
"""Standard deviations to each side that hold nine in ten of a normal distribution."""


def trace_answer(traced: Traced) -> Answer:
    """Tell a trace: how long its outlines are, what they stand on, how true it lies."""
    drawing, report = traced.drawing, traced.report
    length = drawing.length_mm
    told = report["drawing"]
    sentences = [
        f"{told['paths']} outlines, {length:.0f} mm long, traced from {listed(traced.names)}: "
        f"{drawing.shares_in_words()}; {_measure(report)}."
    ]
    seen = drawing.length_by_source().get(HERE, 0.0) / max(length, 1e-9)
    results = [
        Result(
            name="length of the outlines",
            value=length,
            unit="mm",
            interval=_length_interval(traced),
            grade=drawing.grade(),
        ),
        Result(
            name="share seen in the first photograph",
            value=100.0 * seen,
            unit="%",
            grade=Grade.INFERRED,
        ),
    ]
    if "photographs" in report:
        results += [
            Result(
                name="measures against the camera",
                value=report["photographs"][0]["residual_mm"],
                unit="mm",
                grade=Grade.MEASURED,
            )
        ]
        if report["proof"]["mean_mm"] is not None:
            results += [
                Result(
                    name="drawing against the traces in its photograph",
                    value=report["proof"]["mean_mm"],
                    unit="mm",
                    grade=Grade.MEASURED,
                )
            ]
    grades = told["length_by_grade_mm"]
    rows = tuple((grade, f"{part:.0f} mm") for grade, part in grades.items() if part > 0)
    return Answer(
        tuple(results),
        (*sentences, *turned_in_words(report), *_cautions(report)),
        figures=report,
        tables=(Table("Outline by grade", ("grade", "length"), rows),),
        files=(
            MadeFile(
                "drawing.svg",
                "image/svg+xml",
                "the drawing, in mm",
                lambda: drawing_svg(drawing, evidence=True).encode(),
            ),
        ),
    )


def _measure(report: dict[str, Any]) -> str:
    if "photographs" not in report:
        return f"its scale is that of the scan, {report['scan']['dpi']:g} dpi"
    first = report["photographs"][0]
    if not first["markers_in_layout"]:
        return f"the measured places agree with the camera to {first['residual_mm']:.2f} mm"
    without = traceless_share(report)
    agree = f"the strip's markers agree with the camera to {first['residual_mm']:.3f} mm"
    if without > MUCH_TRACELESS:
        return (
            f"{agree}, and how near the outline lies to the paint's edge is not told, for along "
            f"{100 * without:.0f} % of it the photograph shows no edge"
        )
    shaded = in_shadow_share(report)
    what = "the outline" if shaded <= MUCH_SHADED else "what is drawn"
    if without > LITTLE_TRACE:
        what = "what shows an edge in the photograph"
    return (
        f"{agree}, and 95 % of {what} lie within {told_within_mm(report):.2f} mm of the paint's "
        f"edge{_missing_words(shaded)}{_scale_words(report.get('strip', {}))}{_lifted_words(first)}"
    )


def _lifted_words(first: dict[str, Any]) -> str:
    """What a strip does that stands off all over, which no marker shows."""
    shift = first.get("strip_evidence", {}).get("lifted_shift_mm") or 0.0
    if shift < TELLING_MM:
        return ""
    return f"; each mm that it stood off the work all over would move them by up to {shift:.2f} mm"


def _missing_words(shaded: float) -> str:
    """That what a shadow hid is in no distance: how much of it there is no photograph tells."""
    if shaded <= MUCH_SHADED:
        return ""
    return (
        f" (paint that the shadow over {100 * shaded:.0f} % and more of the work may have hidden "
        "is not in that: compare with the ornament there)"
    )


def _scale_words(strip: dict[str, Any]) -> str:
    """What the scale rests on: what the strip measures, or nobody's word that it came out true."""
    drawn = strip.get("drawn_mm", math.nan)
    if "measured_mm" not in strip:
        return ", if the strip was printed true: nobody has said what it measures"
    length, error = strip["measured_mm"], strip["error_mm"]
    told = str(Measured(length, "mm", error))
    words = f"; the strip measures {told} where {drawn:g} mm are drawn, and all sizes go by that"
    return words if error else f"{words}, how surely was not said"


def _cautions(report: dict[str, Any]) -> list[str]:
    """What was measured of the photographs that limits the drawing, in one sentence."""
    said = limits(report)
    return [f"What limits it: {'; '.join(said)}."] if said else []


def _length_interval(traced: Traced) -> Interval | None:
    """Where the length lies, by how firmly strip and camera fix the scale; None for a scan.

    Two ends of a stretch that err by themselves make its length err by the root of the sum of
    squares; over all of the strip that is the doubt of the scale, beside that of the strip's own
    measured length. How the edge of the paint was found is not in it.
    """
    if "photographs" not in traced.report:
        return None
    sd = traced.report["photographs"][0]["place_sd_mm"]["mean"]
    left, top, right, bottom = traced.drawing.bounds_mm
    span = math.hypot(right - left, bottom - top)
    length = traced.drawing.length_mm
    apart = float(np.sqrt(2.0)) * sd / max(span, 1e-9)
    off = NINETY * length * math.hypot(apart, scale_sd_of(traced.report.get("strip")))
    return Interval(low=length - off, high=length + off, coverage=0.9)


def same_length(kept: Finding, again: Finding) -> str:
    """Compare two findings of a trace by the length of outline, the one figure both hold.

    The drawings themselves are compared by `same_drawing`.
    """
    was, now = _length_of(kept), _length_of(again)
    return "" if abs(was - now) <= 1e-4 * was else f"comes out {now:.1f} mm long, not {was:.1f} mm"


def _length_of(finding: Finding) -> float:
    value = finding.value
    return float(str(value["outline_mm"] if isinstance(value, dict) else value))


def _subject(asked: TraceAsked) -> str:
    return asked.name or asked.photograph


TRACE = Analysis(
    key="trace",
    about="ornament",
    question="What does its ornament look like, drawn in millimetres?",
    section="ornament",
    inputs=PhotographsToTrace,
    asked=TraceAsked,
    work=trace_photographs,
    answer=trace_answer,
    method="ironlace.ornament: strip, flat, gilt, outlines",
    published=(
        "camera model after Brown (1971); cubic outlines fitted by least squares, after Schneider "
        "(1990)"
    ),
    same=same_length,
    takes_long=lambda _inputs, _asked: True,
    subject=_subject,
    asked_before=asked_before,
    step="ornament",
)

"""Tracing as an analysis: what it asks and answers, and how its drawing is told."""

from __future__ import annotations

import math
from collections import Counter
from typing import Any

import numpy as np

from ironlace.evidence.analyses import Analysis
from ironlace.evidence.answers import Answer, MadeFile, Table
from ironlace.evidence.findings import Finding, Interval, Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.intervals import NINETY
from ironlace.evidence.wording import listed
from ironlace.ornament.files.drawing_svg import drawing_svg
from ironlace.ornament.outline.drawing import HERE
from ironlace.ornament.set_upright import turned_in_words
from ironlace.ornament.trace_asked import TraceAsked, asked_before
from ironlace.ornament.trace_limits import limits
from ironlace.ornament.trace_photographs import (
    PhotographsToTrace,
    Traced,
    trace_photographs,
)
from ironlace.ornament.trace_report import scale_sd_of
from ironlace.ornament.trace_stated import measure_in_words, stated


def traced_svg(traced: Traced) -> str:
    """A trace's drawing as SVG; what is told first of how true it is goes with it.

    The photographs' names do not: the same drawing is the same file, whatever they are called.
    """
    measure = measure_in_words(traced.report)
    told = " ".join(
        [
            f"{measure[0].upper()}{measure[1:]}.",
            *_cautions(traced.report),
            *alone_in_words(traced.report),
        ]
    )
    return drawing_svg(traced.drawing, evidence=True, told=told)


def trace_answer(traced: Traced) -> Answer:
    """Tell a trace: how long its outlines are, what they stand on, how true it lies."""
    drawing, report = traced.drawing, traced.report
    length = drawing.length_mm
    told = report["drawing"]
    sentences = [
        f"{told['paths']} outlines, {length:.0f} mm long, traced from {listed(traced.names)}: "
        f"{drawing.shares_in_words()}; {measure_in_words(report)}."
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
    how_near = stated(report)
    grades = told["length_by_grade_mm"]
    rows = tuple((grade, f"{part:.0f} mm") for grade, part in grades.items() if part > 0)
    return Answer(
        tuple(results),
        (*sentences, *_cautions(report), *turned_in_words(report), *alone_in_words(report)),
        figures=report if how_near is None else {**report, "stated": how_near.told()},
        tables=(Table("Outline by grade", ("grade", "length"), rows),),
        files=(
            MadeFile(
                "drawing.svg",
                "image/svg+xml",
                "the drawing, in mm",
                lambda: traced_svg(traced).encode(),
            ),
        ),
    )


def _cautions(report: dict[str, Any]) -> list[str]:
    """What was measured of the photographs that limits the drawing, in one sentence."""
    said = limits(report)
    return [f"What limits it: {'; '.join(said)}."] if said else []


def alone_in_words(report: dict[str, Any]) -> list[str]:
    """That an edge of worn paint looks like any other where one photograph stands alone."""
    sources = Counter(one["layer"] for one in report.get("gathered", []))
    if not sources or min(sources.values()) > 1:
        return []
    by_its_image = report.get("eaten_share", 0.0), report.get("copies_thinned_mm", 0.0)
    if len(sources) == 1 and max(by_its_image) > 0.0:
        return []  # its mirror image told so, though it was not taken
    return [
        "No mirror image, repeat or other photograph stands beside it to tell an edge of worn "
        "paint from the ornament's own: where paint is gone, it is drawn as it is and called seen."
    ]


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

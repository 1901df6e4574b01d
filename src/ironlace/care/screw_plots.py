"""A screw's edges drawn with the comb of the fitted pitch, and how the nearest forms keep to it."""

from typing import Any, Final

import numpy as np

from ironlace.care.screw_photograph import ScrewFound
from ironlace.care.thread_forms import LikelyForm, ThreadReadings
from ironlace.evidence.answers import Plot

_LETTER: Final = 0.021
"""Height of letters as a share of the drawing's width: 15 px where it is 720 wide."""
_MOST_POINTS: Final = 900
"""Points of a drawn edge: more is nothing that could be seen."""
_FORMS: Final = 2
"""Forms whose combs are laid beside: the likeliest and its rival."""


def screw_plots(found: ScrewFound, read: ThreadReadings) -> list[Plot]:
    """The edges and combs as a plot; in words, by how much each form's figures are off."""
    left, right = found.comb.from_mm, found.comb.to_mm
    half, wide = found.edges.reach_mm, right - left
    forms = found.named.forms[:_FORMS]
    letter = _LETTER * wide
    high = 2.0 * half + letter * (1.0 + 3.4 * len(forms))
    lines = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left:.3f} {-half:.3f} {wide:.3f} '
        f'{high:.3f}" width="720" height="{720 * high / wide:.0f}">',
        "<title>The edges of the thread, and the combs of the nearest forms</title>",
        f'<g fill="none" stroke="currentColor" stroke-width="{0.0028 * wide:.4f}">',
        *(f'<path d="{one}"/>' for one in edge_paths(found)),
        "</g>",
        f'<path d="{comb_path(found)}" fill="none" stroke="var(--plot-warm,#9c3b23)" '
        f'stroke-width="{0.0022 * wide:.4f}"/>',
    ]
    off = [drift_mm(found, one) for one in forms]
    for n, (one, far) in enumerate(zip(forms, off, strict=True)):
        top = half + letter * (0.6 + 3.4 * n)
        ticks = "".join(
            f"M{x:.3f} {top:.3f}v{letter:.3f}"
            for x in crests(found, one.form.pitch_mm / found.pitch_mm * found.comb.pitch_mm)
        )
        lines.append(
            f'<path d="{ticks}" fill="none" stroke="currentColor" '
            f'stroke-width="{0.0022 * wide:.4f}"/>'
        )
        lines.append(
            f'<text x="{left + 0.01 * wide:.3f}" y="{top + 2.2 * letter:.3f}" '
            f'font-size="{letter:.3f}" font-family="sans-serif" fill="currentColor">'
            f"{one.form.size} {one.form.family}: {abs(far):.3f} mm off at the end</text>"
        )
    lines.append("</svg>")
    said = tuple(_why(found, read, one, far) for one, far in zip(forms, off, strict=True))
    rows = [("Form", "Pitch off", "Comb off at the end", "Angle off", "Below its diameter")]
    rows += [_row(found, read, one, far) for one, far in zip(forms, off, strict=True)]
    title = "Why the first is likelier than the second"
    return [Plot(title, "\n".join(lines), said, tuple(rows))]


def _why(found: ScrewFound, read: ThreadReadings, one: LikelyForm, far: float) -> str:
    _, pitch, _, angle, below = _row(found, read, one, far)
    bent = "" if angle == "not read" else f"angle off by {angle}, "
    return (
        f"{one.form.size} ({one.form.family}): pitch off by {pitch}, {bent}and the caliper's "
        f"figure {below} below its diameter."
    )


def _row(
    found: ScrewFound, read: ThreadReadings, one: LikelyForm, far: float
) -> tuple[str, str, str, str, str]:
    form = one.form
    pitch = 100.0 * (form.pitch_mm / read.pitch_mm - 1.0)
    angle = "not read"
    if read.angle_deg is not None:
        angle = f"{abs(form.angle_deg - read.angle_deg):.1f}°"
    return (
        f"{form.size} {form.family}",
        f"{abs(pitch):.2f} %",
        f"{abs(far):.3f} mm over {found.comb.threads:.0f} threads",
        angle,
        f"{form.major_mm - read.major_mm + 0.0:.2f} mm".replace("-0.00", "0.00"),
    )


def edge_paths(found: ScrewFound) -> tuple[str, str]:
    """Both edges as paths in mm of the card, x along the axis, the first side down the page."""
    along = found.edges.along_mm
    every = max(1, len(along) // _MOST_POINTS)
    paths = []
    for sign, edge in ((1.0, found.edges.edges_mm[0]), (-1.0, found.edges.edges_mm[1])):
        told, lifted = [], True
        for x, y in zip(along[::every], sign * edge[::every], strict=True):
            if not np.isfinite(y):
                lifted = True
                continue
            told.append(f"{'M' if lifted else 'L'}{x:.3f} {y:.3f}")
            lifted = False
        paths.append("".join(told))
    return paths[0], paths[1]


def crests(found: ScrewFound, pitch_mm: float) -> list[float]:
    """Places along the axis of the crests of a comb that begins with the fitted one."""
    comb = found.comb
    first = comb.from_mm + (comb.phase_mm[0] - comb.from_mm) % comb.pitch_mm
    return [float(x) for x in np.arange(first, comb.to_mm + 1e-9, pitch_mm)]


def comb_path(found: ScrewFound) -> str:
    """The comb of the fitted pitch, a tooth at every thread of either edge."""
    comb, half = found.comb, found.comb.width_mm / 2.0
    long = 0.22 * half
    told = []
    for side, phase in ((1.0, comb.phase_mm[0]), (-1.0, comb.phase_mm[1])):
        first = comb.from_mm + (phase - comb.from_mm) % comb.pitch_mm
        told += [
            f"M{x:.3f} {side * 1.06 * half:.3f}v{side * long:.3f}"
            for x in np.arange(first, comb.to_mm + 1e-9, comb.pitch_mm)
        ]
    return "".join(told)


def comb_in_view(found: ScrewFound) -> dict[str, Any]:  # dict: plain JSON for the page
    """What a hand needs to lay a comb on the picture of the screw: all in mm of the card.

    `per_mm` turns a comb's pitch on the card's plane into the screw's, whose axis lies higher.
    """
    comb, edges = found.comb, found.edges
    left, half = float(edges.along_mm[0]), comb.width_mm / 2.0
    firsts = [comb.from_mm + (one - comb.from_mm) % comb.pitch_mm for one in comb.phase_mm]
    return {
        "box": [left, -edges.reach_mm, float(edges.along_mm[-1]) - left, 2.0 * edges.reach_mm],
        "pitch": comb.pitch_mm,
        "firsts": [float(one) for one in firsts],
        "to": comb.to_mm,
        "tooth": [1.3 * half, 0.22 * half],
        "per_mm": found.pitch_mm / comb.pitch_mm,
    }


def drift_mm(found: ScrewFound, one: LikelyForm) -> float:
    """By how much a form's comb is off at the last thread seen, mm; positive when too long."""
    return (one.form.pitch_mm - found.pitch_mm) * found.comb.threads

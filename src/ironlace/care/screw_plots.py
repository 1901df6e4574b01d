"""A screw's edges drawn with the comb of the fitted pitch, and how the nearest forms keep to it."""

from collections.abc import Sequence
from typing import Any, Final

import numpy as np

from ironlace.care.screw_photograph import ScrewFound
from ironlace.care.thread_angle import DEPTH
from ironlace.care.thread_forms import LikelyForm, ThreadForm, ThreadReadings
from ironlace.evidence.answers import Plot
from ironlace.evidence.arrays import Floats

_LETTER: Final = 0.031
"""Height of letters as a share of the drawing's width: 15 px where it is 720 wide."""
_MOST_POINTS: Final = 900
"""Points of a drawn edge: more is nothing that could be seen."""
_BINS: Final = 64
"""Of one pitch, into which all threads are laid: some ten pixels of a photograph in each."""
_DEPTHS: Final = {"metric": 0.6134, "unified": 0.6134, "Whitworth": 0.6403, "BA": 0.6}
"""Depth of an external thread in pitches (ISO 724 and ASME B1.1: 17/24 H = 0.6134; BS 84: 0.640327;
BS 93: 0.6; all read in secondary tables)."""
_LINE_PX: Final = 34.0
"""Between the lines of words under the picture of one thread: they are read on a phone too."""
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
    return [Plot(title, "\n".join(lines), said, tuple(rows)), profile_plot(found)]


def profile_plot(found: ScrewFound) -> Plot:
    """One thread, all that were seen laid upon each other, and the nearest forms over it."""
    forms = found.named.forms[:_FORMS]
    low, middle, high = folded_profile(found)
    places = (np.arange(_BINS) + 0.5) / _BINS - 0.5
    drawn = [form_profile(one.form, found.pitch_mm) for one in forms]
    values = [low, high, *(ring[:, 1] for ring in drawn)]
    top = float(np.nanmax([np.nanmax(v) for v in values]))
    foot = float(np.nanmin([np.nanmin(v) for v in values]))
    per = 640.0 / found.pitch_mm  # both ways alike, so that an angle is an angle
    margin, legend = 20.0, _LINE_PX * (len(forms) + 1)
    tall = (top - foot) * per

    def at(u: float, r: float) -> str:
        return f"{margin + 640.0 * (u + 0.5):.1f} {margin + (top - r) * per:.1f}"

    ends = zip(places, low, high, strict=True)
    bars = "".join(
        f"M{at(u, a)}L{at(u, b)}" for u, a, b in ends if np.isfinite(a) and np.isfinite(b)
    )
    seen = "M" + "L".join(at(u, r) for u, r in zip(places, middle, strict=True) if np.isfinite(r))
    shapes = [
        f'<path d="{bars}" stroke="currentColor" stroke-opacity="0.22" '
        f'stroke-width="{640 / _BINS:.1f}"/>',
        f'<path d="{seen}" fill="none" stroke="currentColor" stroke-width="2.5"/>',
    ]
    words = ["as seen, and the middle half of the threads"]
    for n, (one, ring) in enumerate(zip(forms, drawn, strict=True)):
        line = "M" + "L".join(at(u, r) for u, r in ring)
        look = 'stroke="var(--plot-warm,#9c3b23)"' if n == 0 else 'stroke="currentColor"'
        dash = "" if n == 0 else ' stroke-dasharray="9 6"'
        shapes.append(f'<path d="{line}" fill="none" {look} stroke-width="2"{dash}/>')
        y = margin + tall + _LINE_PX * (n + 2)
        shapes.append(f'<path d="M{margin} {y - 7:.1f}h44" {look} stroke-width="2"{dash}/>')
        words.append(f"{one.form.size} {one.form.family}, as the standard has it")
    for n, said in enumerate(words):
        shapes.append(
            f'<text x="{margin + 54}" y="{margin + tall + _LINE_PX * (n + 1):.1f}" font-size="22" '
            f'fill="currentColor">{said}</text>'
        )
    y = margin + tall + _LINE_PX
    shapes.append(f'<path d="M{margin} {y - 7:.1f}h44" stroke="currentColor" stroke-width="2.5"/>')
    high_px = 2.0 * margin + tall + legend
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 680 {high_px:.0f}" width="680" '
        f'height="{high_px:.0f}" font-family="sans-serif"><title>One thread and the nearest forms'
        f"</title>{''.join(shapes)}</svg>"
    )
    says = (
        "All threads laid upon each other, with the two nearest forms over them, flats instead of "
        "rounded crests. Blur rounds what is seen, and wear lowers its crest.",
    )
    return Plot(
        "One thread, and the nearest forms over it", svg, says, _profile_rows(forms, middle)
    )


def _profile_rows(forms: Sequence[LikelyForm], middle: Floats) -> tuple[tuple[str, ...], ...]:
    rows = [("Form", "Diameter, mm", "Depth of thread, mm", "Angle, °")]
    rows += [
        (
            f"{one.form.size} {one.form.family}",
            f"{one.form.major_mm:.3f}",
            f"{_DEPTHS[one.form.family] * one.form.pitch_mm:.3f}",
            f"{one.form.angle_deg:g}",
        )
        for one in forms
    ]
    depth = float(np.nanmax(middle) - np.nanmin(middle))
    rows.append(("as seen", f"{2.0 * np.nanmax(middle):.3f}", f"{depth:.3f}", "see above"))
    return tuple(rows)


def folded_profile(found: ScrewFound) -> tuple[Floats, Floats, Floats]:
    """Lower and upper quarter, and between them the middle, of the radius over one pitch, mm.

    In the order low, middle, high, shapes (bins,), the crest in the middle; NaN where nothing was
    seen. On the screw's own scale, as its axis lies.
    """
    comb, per_mm = found.comb, found.pitch_mm / found.comb.pitch_mm
    along, told = found.edges.along_mm, []
    inside = (along >= comb.from_mm) & (along <= comb.to_mm)
    for edge, phase in zip(found.edges.edges_mm, comb.phase_mm, strict=True):
        turn = np.mod((along - phase) / comb.pitch_mm + 0.5, 1.0)
        good = inside & np.isfinite(edge)
        told.append(np.stack([turn[good], edge[good] * per_mm], axis=1))
    places = np.concatenate(told)
    which = np.minimum((places[:, 0] * _BINS).astype(int), _BINS - 1)
    folded = np.full((3, _BINS), np.nan)
    for n in range(_BINS):
        here = places[which == n, 1]
        if len(here):
            folded[:, n] = np.quantile(here, [0.25, 0.5, 0.75])
    return folded[0], folded[1], folded[2]


def thread_stands(found: ScrewFound) -> tuple[float, float]:
    """How high its threads stand as seen, mm, and as a share of a full thread's depth.

    Blur lowers a thread as well as wear does, so that what is missing is the most that can be worn.
    """
    middle = folded_profile(found)[1]
    stands = float(np.nanmax(middle) - np.nanmin(middle))
    return stands, stands / (DEPTH * found.pitch_mm)


def form_profile(form: ThreadForm, pitch_mm: float) -> Floats:
    """A form's flats and flanks over one pitch: places in pitches of the screw, radii in mm.

    Shape (n, 2); crest in the middle, straight flanks that cross the middle of the depth a quarter
    of a pitch from it.
    """
    deep = _DEPTHS[form.family] * form.pitch_mm
    slope = np.tan(np.deg2rad(form.angle_deg) / 2.0)
    crest = form.pitch_mm / 4.0 - deep / 2.0 * slope
    root = form.pitch_mm / 4.0 + deep / 2.0 * slope
    outer = form.major_mm / 2.0
    half = form.pitch_mm / 2.0
    ring = [(-half, outer - deep), (-root, outer - deep), (-crest, outer)]
    ring += [(-x, r) for x, r in reversed(ring)]
    return np.array(ring) / [pitch_mm, 1.0]


def _why(found: ScrewFound, read: ThreadReadings, one: LikelyForm, far: float) -> str:
    _, pitch, _, angle, below = _row(found, read, one, far)
    bent = "" if angle == "not read" else f"angle off by {angle}, "
    return (
        f"{one.form.size} ({one.form.family}): pitch off by {pitch}, {bent}and the caliper's "
        f"figure {_beside(below)} its diameter."
    )


def _beside(below: str) -> str:
    """How a caliper's figure lies to a diameter, in words: below it, or above."""
    return f"{below[1:]} above" if below.startswith("-") else f"{below} below"


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

"""The length of each stitch along a seam: sure ones filled, doubted ones open, skips as rings."""

from collections.abc import Sequence
from typing import Final
from xml.sax.saxutils import escape

import numpy as np

from ironlace.evidence.answers import Plot
from ironlace.running.plot_pieces import label, round_step
from ironlace.running.seam.seam_measured import SeamMeasured

_WIDE, _HIGH, _LEFT, _BELOW, _ABOVE, _RIGHT = 560.0, 210.0, 46.0, 36.0, 16.0, 12.0
"""Width and height of the plot, and its margins, in units of the drawing."""
ROOM: Final = 0.15
"""Share of the mean length that the plot leaves free above and below."""


def seam_plots(seam: SeamMeasured) -> Sequence[Plot]:
    """The one plot."""
    middle = 0.5 * (seam.along_mm[1:] + seam.along_mm[:-1])
    lengths = seam.lengths_mm / seam.stitches
    doubt = seam.doubtful[:-1] | seam.doubtful[1:] | seam.unseen
    mean = seam.figures.mean_mm[1]
    low = float(min(lengths.min(), mean * (1.0 - ROOM)))
    high = float(max(lengths.max(), mean * (1.0 + ROOM)))
    whole, base = float(seam.along_mm[-1]), _HIGH - _BELOW

    def x(value: float) -> float:
        return _LEFT + value / whole * (_WIDE - _LEFT - _RIGHT)

    def y(value: float) -> float:
        return base - (value - low) / (high - low) * (base - _ABOVE)

    shapes = [
        f'<path d="M{_LEFT} {_ABOVE}V{base}H{_WIDE - _RIGHT}" fill="none" stroke="currentColor" '
        'stroke-width="0.6"/>',
        f'<path d="M{_LEFT} {y(mean):.1f}H{_WIDE - _RIGHT}" stroke="currentColor" '
        'stroke-width="0.8" stroke-dasharray="1 4"/>',
    ]
    for at, length, many, unsure in zip(middle, lengths, seam.stitches, doubt, strict=True):
        place = f'cx="{x(float(at)):.1f}" cy="{y(float(length)):.1f}"'
        fill = "none" if unsure else "currentColor"
        dash = ' stroke-dasharray="1.5 1.5"' if unsure else ""
        shapes.append(f'<circle {place} r="2.6" fill="{fill}" stroke="currentColor"{dash}/>')
        if many > 1:
            shapes.append(f'<circle {place} r="6" fill="none" stroke="currentColor"/>')
    step = round_step(whole / 6.0)
    shapes += [
        label(x(float(tick)), base + 14.0, f"{tick:g}", "middle")
        for tick in np.arange(0.0, whole + 1e-6, step)
    ]
    step = round_step((high - low) / 4.0)
    shapes += [
        label(_LEFT - 5.0, y(float(tick)) + 3.5, f"{tick:.4g}", "end")
        for tick in np.arange(np.ceil(low / step) * step, high, step)
    ]
    shapes.append(label(_LEFT - 5.0, _ABOVE - 4.0, "mm", "end"))
    shapes.append(label(_WIDE - _RIGHT, _HIGH - 6.0, "along the seam, mm", "end"))
    title = "Length of each stitch along the seam"
    says = (
        f"Length in mm of {len(lengths)} intervals against their place along the seam: sure ones "
        f"filled, {int(doubt.sum())} doubted ones dotted and open, a ring round what was skipped "
        "(its length shared out); the dotted line is the mean."
    )
    rows = (
        ("Place, mm", "Length, mm", "Known"),
        *(
            (f"{at:.1f}", f"{length:.3f}", "doubted" if unsure else "sure")
            for at, length, unsure in zip(middle, lengths, doubt, strict=True)
        ),
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_WIDE:g} {_HIGH:g}" role="img">'
        f"<title>{escape(title)}</title><desc>{escape(says)}</desc>{''.join(shapes)}</svg>"
    )
    return [Plot(title, svg, (says,), rows)]

"""A turned head's curves over one turn, as a drawing with a line that a page can move."""

import numpy as np

from ironlace.running.motion.turned import STEP_DEG, HeadTurned, TurnedPart
from ironlace.running.motion.turned_drawn import hidden, still_at
from ironlace.running.plot_pieces import label, round_step

_PLOT_WIDE, _STRIP, _PLOT_LEFT, _PLOT_TOP = 560.0, 90.0, 44.0, 28.0
"""Width of the curves' drawing, height of one motion's strip, and the margins."""

_NAME_WIDE = 90.0
"""What the name of a mark takes along the curves' drawing."""


def turn_x(turn: float) -> float:
    """Where degrees turned stand on the curves' drawing."""
    return _PLOT_LEFT + turn / 360.0 * (_PLOT_WIDE - _PLOT_LEFT - 12.0)


def curves_svg(head: HeadTurned) -> str:
    """Draw every motion over one turn, a strip each, with readings, band, marks and a line."""
    high = _PLOT_TOP + _STRIP * len(head.parts) + 34.0
    shapes = [_marks_drawn(head, high)]
    shapes += [_strip(head, part, row) for row, part in enumerate(head.parts)]
    base = _PLOT_TOP + _STRIP * len(head.parts)
    for turn in range(0, 361, 45):
        shown = (-turn if head.numbers == "fall" else turn) % 360
        shapes.append(label(turn_x(turn), base + 15.0, f"{shown}°", "middle"))
    shapes.append(label(_PLOT_WIDE - 12.0, base + 30.0, "the disc, as it sews", "end"))
    shapes.append(
        f'<path class="turn-line" data-line="{turn_x(0.0):g} {turn_x(360.0):g}" '
        f'd="M0 {_PLOT_TOP - 4:g}V{base + 3:g}" transform="translate({turn_x(head.start):.2f} 0)"/>'
    )
    says = (
        f"Height in mm of {len(head.parts)} parts over one turn, each with the band that holds it "
        "in 90 % and its readings as circles (crosses: taken for misread)."
    )
    return (
        f'<svg class="turn-curves" xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_PLOT_WIDE:g} '
        f'{high:g}" role="img"><title>The parts over one turn</title><desc>{says}</desc>'
        f"{''.join(shapes)}</svg>"
    )


def _marks_drawn(head: HeadTurned, high: float) -> str:
    shapes = []
    for mark in head.marks:
        x = turn_x(mark.turn)
        meets = mark.name.startswith("shuttle")
        if meets or x < _PLOT_LEFT + _NAME_WIDE:
            anchor = "end" if x > _PLOT_WIDE - _NAME_WIDE and not meets else "start"
        else:
            anchor = "end" if mark.name == "needle lowest" else "middle"
        look = "turn-mark turn-meets" if meets else "turn-mark"
        shapes.append(f'<path class="{look}" d="M{x:.1f} {_PLOT_TOP - 8:g}V{high - 34:g}"/>')
        shapes.append(label(x, 16.0, "meets" if meets else mark.name, anchor))
    return "".join(shapes)


def _strip(head: HeadTurned, part: TurnedPart, row: int) -> str:
    top, base = _PLOT_TOP + row * _STRIP + 26.0, _PLOT_TOP + (row + 1) * _STRIP - 6.0
    values = [h for _, h, out in part.read if not out] + [part.low, part.high]
    low, high = min(values), max(values)

    def y(height: float) -> float:
        share = (height - low) / max(high - low, 1e-6)
        return base - float(np.clip(share, -0.06, 1.06)) * (base - top)

    shapes = [
        f'<path class="turn-frame" d="M{_PLOT_LEFT} {top - 4:g}V{base + 4:g}H{_PLOT_WIDE - 12}"/>',
        label(2.0, top - 10.0, f"{part.name}, mm", "start"),
    ]
    step = round_step((high - low) / 2.0)
    tick = float(np.ceil(low / step) * step)
    while tick <= high:
        shapes.append(label(_PLOT_LEFT - 5.0, y(tick) + 3.5, f"{tick:g}", "end"))
        tick += step
    for first, last in _stretches(part.known):
        places = range(first, last)
        line = [f"{turn_x(k * STEP_DEG):.1f},{y(part.height[k]):.1f}" for k in places]
        band = [
            f"{turn_x(k * STEP_DEG):.1f},{y(part.height[k] + side * part.half[k]):.1f}"
            for side, along in ((1.0, places), (-1.0, places[::-1]))
            for k in along
        ]
        shapes.append(f'<polygon class="turn-band" points="{" ".join(band)}"/>')
        shapes.append(f'<polyline class="turn-curve" points="{" ".join(line)}"/>')
    for turn, height, out in part.read:
        x, at_y = turn_x(turn), y(height)
        if out:
            shapes.append(f'<path class="turn-out" d="M{x - 3:.1f} {at_y - 3:.1f}l6 6m0 -6l-6 6"/>')
        else:
            shapes.append(f'<circle class="turn-read" cx="{x:.1f}" cy="{at_y:.1f}" r="2.2"/>')
    height, _ = still_at(head, part)
    gone = np.isnan(height)
    shapes.append(
        f'<circle class="turn-dot" data-dot="{part.name}" data-low="{low:.4f}" '
        f'data-high="{high:.4f}" data-top="{top:g}" data-base="{base:g}" r="5" '
        f'cx="{turn_x(head.start):.2f}" cy="{0.0 if gone else y(height):.2f}"'
        f"{hidden(gone)}/>"
    )
    return "".join(shapes)


def _stretches(known: tuple[bool, ...]) -> list[tuple[int, int]]:
    """Where a part is told, as first and one past the last place."""
    edges = np.flatnonzero(np.diff(np.concatenate(([0], np.array(known, dtype=int), [0]))))
    return [(int(a), int(b)) for a, b in zip(edges[::2], edges[1::2], strict=True) if b - a > 1]

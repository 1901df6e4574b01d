"""The threading diagram as SVG in mm: thread over the picture, numbers beside it.

What lies over and what under is told by a gap in the line beneath; how a step is known, by the
line round its number; a shuttle thread is a double line, one that runs behind a part is broken.
Nothing rests on colour.
"""

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import atan2, degrees, hypot
from xml.sax.saxutils import escape, quoteattr

from ironlace.evidence.grades import Grade
from ironlace.running.threading.deeds import KNOWN
from ironlace.running.threading.leaders import Leader, leaders
from ironlace.running.threading.plan import PlanPicture, ThreadingPlan, ThreadPoint
from ironlace.running.threading.steps import step_in_words
from ironlace.running.threading.stretches import (
    Crossing,
    Stretch,
    arrow_share,
    crossings,
    stretches,
    unbroken,
)

INK, PAPER, QUIET = "#1b1712", "#ffffff", "#5a554b"
BADGE_MM, FIGURE_MM = 3.1, 3.7
"""Half the height of a number's field, and the size of its figures: 10.5 points, read at arm's
length."""
PITCH_MM = 7.2
"""Least distance of two numbers on one edge."""
AWAY_MM = 2.0
"""From the picture's edge to where a leader ends."""
CASING_MM, THREAD_MM = 1.7, 0.75
"""Width of the light line under the thread, and of the thread."""
_LINE_MM = 5.4
"""From line to line of the legend."""


@dataclass(frozen=True, slots=True)
class Panel:
    """One picture with its thread: SVG without its outer element, size in mm, what it shows."""

    name: str
    body: str
    width_mm: float
    height_mm: float
    says: str

    def svg(self) -> str:
        """The panel by itself."""
        return _page(self.body, self.width_mm, self.height_mm, self.says)


def panels(
    plan: ThreadingPlan,
    width_mm: float,
    high_mm: float,
    under: Mapping[str, str],
    *,
    close: bool = False,
) -> tuple[Panel, ...]:
    """Draw each picture of a checked plan that has points.

    Parameters
    ----------
    plan
        As `checked_plan` returns it.
    width_mm, high_mm
        The most that a panel may take. More numbers than its edges carry make it higher.
    under
        By name of a picture, its address (or ``data:`` address); left out, it is a bare sheet.
    close
        Whether only the part of a picture is shown that the thread is on.
    """
    return tuple(
        _panel(plan, picture, (width_mm, high_mm), under.get(picture.name, ""), close)
        for picture in plan.picture
        if plan.on(picture.name)
    )


def threading_svg(plan: ThreadingPlan, under: Mapping[str, str]) -> str:
    """The whole plan on one sheet: its pictures one below the other, then what the signs mean."""
    drawn = panels(plan, SHEET_MM, SHEET_MM, under)
    parts: list[str] = []
    down = 0.0
    for panel in drawn:
        if len(drawn) > 1:
            parts.append(_words(BADGE_MM, down + 5.0, panel.name, 4.0))
            down += 7.0
        aside = (SHEET_MM - panel.width_mm) / 2.0
        parts.append(f'<g transform="translate({aside:.2f} {down:.2f})">{panel.body}</g>')
        down += panel.height_mm + 4.0
    for sign, told in legend(plan):
        parts.append(
            f'<g transform="translate(4 {down + 2.4:.2f})">{sign}</g>'
            + _words(20.0, down + 3.7, told, 3.7)
        )
        down += _LINE_MM
    says = f"{plan.title}: " + " ".join(panel.says for panel in drawn)
    return _page("".join(parts), SHEET_MM, down + 2.0, says)


SHEET_MM = 180.0
"""Width of the whole sheet: A4 with its edges."""


def legend(plan: ThreadingPlan) -> tuple[tuple[str, str], ...]:
    """The signs that occur: each as SVG about its left end, 14 mm long, and what it means."""
    found = []
    if plan.of_thread("shuttle"):
        found.append((_sample(_thread_line("M0 0H14", "shuttle", "")), "thread of the shuttle"))
    if any(point.behind for point in plan.point):
        line = _thread_line("M0 0H14", "needle", "part")
        found.append((_sample(line), "runs behind a part"))
    if any(point.crosses for point in plan.point):
        line = _thread_line("M0 0H5.5M8.5 0H14M7 -2.2V2.2", "needle", "")
        found.append((_sample(line), "gap: lies under the other"))
    grades = dict.fromkeys(point.known for point in plan.point)
    for known in (*KNOWN, ""):
        if known not in grades:
            continue
        grade = KNOWN[known].grade if known else None
        told = KNOWN[known].told if known else "no ring: how it is known is not said"
        found.append((_badge(7.0, 0.0, "", grade, 0.75), told))
    return tuple(found)


def _panel(
    plan: ThreadingPlan,
    picture: PlanPicture,
    most_mm: tuple[float, float],
    address: str,
    close: bool,
) -> Panel:
    points = plan.on(picture.name)
    groups = _groups(points)
    labels = [", ".join(str(point.number) for point in shared) for _, shared in groups]
    edge = AWAY_MM + 2.0 * max(_half(label) for label in labels) + 0.4
    window = _window(picture, points, close)
    scale = min((most_mm[0] - 2.0 * edge) / window[2], most_mm[1] / window[3])
    left, top, wide, high = (scale * px for px in window)
    places = [(x * scale - left, y * scale - top) for (x, y), _ in groups]
    led = leaders(places, wide, high, PITCH_MM, AWAY_MM)
    over = max([BADGE_MM + 0.4 - one.end[1] for one in led] + [0.4])
    below = max([one.end[1] + BADGE_MM + 0.4 - high for one in led] + [0.4])
    body = "".join(
        (
            f'<g transform="translate({edge:.3f} {over:.3f})">',
            _ground(picture, window, scale, address),
            *(_leader(one) for one in led),
            f'<g transform="translate({-left:.3f} {-top:.3f})">{_thread(plan, picture, scale)}</g>',
            *(
                _number(one, label, shared)
                for one, label, (_, shared) in zip(led, labels, groups, strict=True)
            ),
            "</g>",
        )
    )
    says = " ".join(f"{point.number}: {step_in_words(point)}" for point in points)
    return Panel(picture.name, body, wide + 2.0 * edge, high + over + below, says)


def _thread(plan: ThreadingPlan, picture: PlanPicture, scale: float) -> str:
    """What is drawn on a picture: light line, what the thread passes, thread, arrows, doubts."""
    laid = stretches(plan, picture.name, scale)
    met = crossings(laid)
    points = plan.on(picture.name)
    return "".join(
        (
            *(_casing(n, one, met) for n, one in enumerate(laid)),
            *(_symbol(one, scale) for one in points if one.side != "back"),
            *(_core(n, one, met) for n, one in enumerate(laid)),
            *(_symbol(one, scale) for one in points if one.side == "back"),
            *(_arrow(n, one, met) for n, one in enumerate(laid)),
            *(_doubt(one) for one in met if one.above is None),
        )
    )


def _window(
    picture: PlanPicture, points: Sequence[ThreadPoint], close: bool
) -> tuple[float, float, float, float]:
    """Left, top, width and height in px of what is shown of a picture."""
    wide, high = float(picture.width_px or 0), float(picture.height_px or 0)
    if not close:
        return 0.0, 0.0, wide, high
    across, down = [one.at[0] for one in points], [one.at[1] for one in points]
    margin = max(
        _CLOSE * max(max(across) - min(across), max(down) - min(down)), _LEAST * max(wide, high)
    )
    left, right = max(0.0, min(across) - margin), min(wide, max(across) + margin)
    top, bottom = max(0.0, min(down) - margin), min(high, max(down) + margin)
    return left, top, right - left, bottom - top


_CLOSE, _LEAST = 0.15, 0.08
"""Left about the points when only their part is shown: of their spread, at least of the picture."""


def _ground(
    picture: PlanPicture, window: tuple[float, float, float, float], scale: float, address: str
) -> str:
    wide, high = scale * window[2], scale * window[3]
    shown = (
        f'<svg width="{wide:.3f}" height="{high:.3f}" preserveAspectRatio="none" '
        f'viewBox="{" ".join(f"{px:.2f}" for px in window)}"><image href={quoteattr(address)} '
        f'width="{picture.width_px}" height="{picture.height_px}" '
        'preserveAspectRatio="none"/></svg>'
        if address
        else ""
    )
    return (
        f'<rect width="{wide:.3f}" height="{high:.3f}" fill="#faf8f2"/>{shown}'
        f'<rect width="{wide:.3f}" height="{high:.3f}" fill="none" stroke="{QUIET}" '
        'stroke-width="0.2"/>'
    )


def _groups(
    points: Sequence[ThreadPoint],
) -> list[tuple[tuple[float, float], list[ThreadPoint]]]:
    """The points by their place: those on one and the same share a number's field."""
    found: dict[tuple[float, float], list[ThreadPoint]] = defaultdict(list)
    for point in points:
        found[point.at].append(point)
    return list(found.items())


def _half(label: str) -> float:
    """Half the width of a number's field."""
    return max(BADGE_MM, 0.27 * FIGURE_MM * len(label) + 1.6)


def _leader(one: Leader) -> str:
    (x0, y0), (x1, y1) = one.start, one.end
    short = min(1.4 / max(hypot(x1 - x0, y1 - y0), 1e-9), 1.0)
    path = f"M{x0 + short * (x1 - x0):.3f} {y0 + short * (y1 - y0):.3f}L{x1:.3f} {y1:.3f}"
    return (
        f'<path class="leader-under" d="{path}" stroke="{PAPER}" stroke-width="0.7" '
        f'stroke-opacity="0.85"/><path class="leader" d="{path}" stroke="{INK}" '
        'stroke-width="0.22"/>'
    )


def _number(one: Leader, label: str, points: Sequence[ThreadPoint]) -> str:
    half = _half(label)
    x = one.end[0] - half if one.side == "left" else one.end[0] + half
    grades = [point.grade for point in points]
    grade = grades[0] if len(set(grades)) == 1 else None
    if None not in grades:
        grade = max((g for g in grades if g is not None), key=list(Grade).index)
    told = " ".join(step_in_words(point) for point in points)
    return f"<g><title>{escape(told)}</title>{_badge(x, one.end[1], label, grade)}</g>"


def _badge(x: float, y: float, label: str, grade: Grade | None, size: float = 1.0) -> str:
    half, high = _half(label) * size, BADGE_MM * size
    ring = "none" if grade is None else INK
    dash = "" if grade is None else " ".join(f"{mm * size:g}" for mm in grade.dash_mm)
    dashed = f' stroke-dasharray="{dash}" stroke-linecap="butt"' if dash else ""
    words = (
        f'<text x="{x:.3f}" y="{y + 0.35 * FIGURE_MM:.3f}" font-size="{FIGURE_MM}" '
        f'font-weight="600" text-anchor="middle" fill="{INK}">{label}</text>'
        if label
        else ""
    )
    return (
        f'<rect x="{x - half:.3f}" y="{y - high:.3f}" width="{2 * half:.3f}" '
        f'height="{2 * high:.3f}" rx="{high:.3f}" fill="{PAPER}" stroke="{ring}" '
        f'stroke-width="0.45"{dashed}/>{words}'
    )


def _parts(index: int, stretch: Stretch, met: Sequence[Crossing]) -> str:
    path = ""
    for low, high in unbroken(index, stretch, met):
        (x0, y0), (x1, y1) = stretch.at(low), stretch.at(high)
        path += f"M{x0:.3f} {y0:.3f}L{x1:.3f} {y1:.3f}"
    return path


def _casing(index: int, stretch: Stretch, met: Sequence[Crossing]) -> str:
    path = _parts(index, stretch, met)
    return f'<path d="{path}" stroke="{PAPER}" stroke-width="{CASING_MM}"/>' if path else ""


def _core(index: int, stretch: Stretch, met: Sequence[Crossing]) -> str:
    path = _parts(index, stretch, met)
    return _thread_line(path, stretch.end.thread, stretch.end.behind) if path else ""


def _thread_line(path: str, thread: str, behind: str) -> str:
    """The thread; of the shuttle a double line, behind a part a broken one."""
    dash = ' stroke-dasharray="1.7 1.1"' if behind else ""
    kind = f'class="thread" d="{path}"{dash}'
    if thread == "shuttle":
        return (
            f'<path {kind} stroke="{INK}" stroke-width="{THREAD_MM + 0.55}"/>'
            f'<path d="{path}" stroke="{PAPER}" stroke-width="0.6"/>'
        )
    return f'<path {kind} stroke="{INK}" stroke-width="{THREAD_MM}"/>'


def _arrow(index: int, stretch: Stretch, met: Sequence[Crossing]) -> str:
    share = arrow_share(index, stretch, met)
    if share is None:
        return ""
    (x, y), ((x0, y0), (x1, y1)) = stretch.at(share), stretch.line
    turn = degrees(atan2(y1 - y0, x1 - x0))
    return (
        f'<path class="arrow" d="M1.9 0L-1.5 1.5L-0.7 0L-1.5 -1.5Z" fill="{INK}" '
        f'stroke="{PAPER}" stroke-width="0.35" '
        f'transform="translate({x:.3f} {y:.3f}) rotate({turn:.2f})"/>'
    )


def _doubt(one: Crossing) -> str:
    x, y = one.at
    return (
        f'<text class="doubt" x="{x + 1.2:.3f}" y="{y - 1.2:.3f}" font-size="3.6" '
        f'font-weight="600" fill="{INK}" stroke="{PAPER}" stroke-width="0.8" '
        'paint-order="stroke">?</text>'
    )


_SHAPES = {
    "spool": "M-1.5 -1.6H1.5M-1.5 1.6H1.5M-0.9 -1.6V1.6H0.9V-1.6Z",
    "bobbin": "M-1.6 -1.3V1.3M1.6 -1.3V1.3M-1.6 -0.8H1.6V0.8H-1.6Z",
    "guide hole": "M-1.1 0A1.1 1.1 0 1 0 1.1 0A1.1 1.1 0 1 0 -1.1 0Z",
    "shuttle hole": "M-1.1 0A1.1 1.1 0 1 0 1.1 0A1.1 1.1 0 1 0 -1.1 0Z",
    "take-up eye": "M-1.3 0A1.3 1 0 1 0 1.3 0A1.3 1 0 1 0 -1.3 0Z",
    "needle eye": "M-0.7 0A0.7 1.6 0 1 0 0.7 0A0.7 1.6 0 1 0 -0.7 0Z",
    "slot": "M-0.6 -1.5H0.6V1.5H-0.6Z",
    "shuttle slot": "M-0.6 -1.5H0.6V1.5H-0.6Z",
    "hook": "M0 -1.6V0.4A0.9 0.9 0 1 0 1.8 0.4",
    "wire": "M-0.8 0A0.8 0.8 0 1 0 0.8 0A0.8 0.8 0 1 0 -0.8 0Z",
    "pin": "M-0.8 0A0.8 0.8 0 1 0 0.8 0A0.8 0.8 0 1 0 -0.8 0Z",
    "discs": "M-1.1 -1.8V1.8H-0.5V-1.8ZM0.5 -1.8V1.8H1.1V-1.8Z",
    "check spring": "M-1.5 0.8Q-0.75 -2 0 0.8T1.5 0.8",
    "shuttle spring": "M-1.7 -0.5H1.7V0.5H-1.7Z",
    "keeper": "M-1.5 0L0 -1.5L1.5 0L0 1.5Z",
    "needle plate": "M-1.7 -1.2H1.7V1.2H-1.7ZM-0.4 0A0.4 0.4 0 1 0 0.4 0A0.4 0.4 0 1 0 -0.4 0Z",
}
"""What lies at a point, as a path about it in mm."""
_FILLED = ("wire", "pin", "shuttle spring")
_OPEN = ("hook", "check spring")


def _symbol(point: ThreadPoint, scale: float) -> str:
    fill = INK if point.does in _FILLED else "none" if point.does in _OPEN else PAPER
    under = f' stroke="{PAPER}" stroke-width="1.1" fill="none"'
    place = f"translate({point.at[0] * scale:.3f} {point.at[1] * scale:.3f})"
    path = _SHAPES[point.does]
    return (
        f'<g transform="{place}"><path d="{path}"{under}/>'
        f'<path d="{path}" fill="{fill}" stroke="{INK}" stroke-width="0.35"/></g>'
    )


def _sample(line: str) -> str:
    return f'<g fill="none">{line}</g>'


def _words(x: float, y: float, text: str, size: float) -> str:
    return f'<text x="{x:g}" y="{y:.2f}" font-size="{size:g}" fill="{INK}">{escape(text)}</text>'


def _page(body: str, wide: float, high: float, says: str) -> str:
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.3f}mm" height="{high:.3f}mm" '
        f'viewBox="0 0 {wide:.3f} {high:.3f}" role="img"><title>{escape(says)}</title>'
        f'<rect width="{wide:.3f}" height="{high:.3f}" fill="{PAPER}"/>'
        '<g fill="none" stroke-linejoin="round" stroke-linecap="butt" '
        f"font-family=\"'Source Sans Pro', sans-serif\">{body}</g></svg>\n"
    )

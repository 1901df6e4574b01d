"""Lengths, transforms and viewports of SVG: how its numbers become millimetres.

By SVG 2, chapter 8, and CSS Values 3, 5.2: a length without a unit is one px, 96 px are one inch,
and a viewBox is fitted into its viewport as ``preserveAspectRatio`` says.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from typing import Final
from xml.etree import ElementTree

import numpy as np

from ironlace.evidence.arrays import Bounds, Floats
from ironlace.ornament.files.svg_curves import NUMBER
from ironlace.ornament.files.svg_root import SvgFault

PX_MM: Final = 25.4 / 96
"""One px in mm (CSS Values 3, 5.2)."""

UNITS_MM: Final = {
    "": PX_MM,
    "px": PX_MM,
    "mm": 1.0,
    "cm": 10.0,
    "q": 0.25,
    "in": 25.4,
    "pt": 25.4 / 72,
    "pc": 25.4 / 6,
}
"""Absolute units in mm, by their lower-case names (CSS Values 3, 5.2)."""

_LENGTH: Final = re.compile(rf"\s*({NUMBER})\s*([a-zA-Z]*|%)\s*")
_LISTED: Final = re.compile(NUMBER)


@dataclass(frozen=True, slots=True)
class Page:
    """The page an SVG is drawn on.

    Attributes
    ----------
    to_mm
        From user units to mm, shape (3, 3). The origin of the user units stays the origin, so that
        a drawing keeps its place when only its window is changed.
    window_mm
        Left, top, right, bottom of its viewBox.
    shown_mm
        The same of what is shown: more where the viewBox does not fill its width and height, less
        where it overfills them.
    viewport
        Width and height in user units, of which percentages are taken.
    told_mm
        Width and height as they are told, in mm; None for one that is not.
    notices
        What had to be taken for granted about its size, one sentence each.
    """

    to_mm: Floats
    window_mm: Bounds
    shown_mm: Bounds
    viewport: tuple[float, float]
    told_mm: tuple[float | None, float | None]
    notices: tuple[str, ...] = ()


def svg_page(root: ElementTree.Element) -> Page:
    """Read the size of an SVG from its outermost element.

    Raises
    ------
    SvgFault
        If it says no size, or one that cannot be.
    """
    view = view_box(root)
    wide, high = (_side_mm(root, name) for name in ("width", "height"))
    if view is None:
        if wide is None or high is None:
            raise SvgFault(
                "The SVG has neither a viewBox nor a size in mm, so its scale is unknown; save it "
                'with width and height in mm and viewBox="left top width height" in mm.'
            )
        view = (0.0, 0.0, wide / PX_MM, high / PX_MM)
    how = root.get("preserveAspectRatio") or ""
    across, down = _scales(view, wide, high, how)
    left, top = view[0] * across, view[1] * down
    window = (left, top, left + view[2] * across, top + view[3] * down)
    notices = []
    if wide is None and high is None:
        notices.append(
            "The SVG does not say how large it is; one unit of its viewBox was taken as 1 mm."
        )
    elif any(_in_px(root.get(name)) for name in ("width", "height")):
        notices.append(
            f"The SVG tells its size in px; 96 px were taken as one inch, so its page is "
            f"{window[2] - window[0]:.1f} by {window[3] - window[1]:.1f} mm."
        )
    shown = window
    if wide is not None and high is not None:
        share_x, share_y = _aligned(how)
        left -= share_x * (wide - view[2] * across)
        top -= share_y * (high - view[3] * down)
        shown = (left, top, left + wide, top + high)
    return Page(
        np.diag([across, down, 1.0]),
        window,
        shown,
        (view[2], view[3]),
        (wide, high),
        tuple(notices),
    )


def _scales(
    view: tuple[float, float, float, float], wide: float | None, high: float | None, how: str
) -> tuple[float, float]:
    if wide is None and high is None:
        return 1.0, 1.0
    if wide is None or high is None:
        known = wide / view[2] if wide is not None else (high or 0.0) / view[3]
        return known, known
    return fitted_scales(view, wide, high, how)


def fitted_scales(
    view: tuple[float, float, float, float], wide: float, high: float, how: str
) -> tuple[float, float]:
    """Scales across and down that fit a viewBox into a width and a height."""
    across, down = wide / view[2], high / view[3]
    if "none" in how:
        return across, down
    one = max(across, down) if "slice" in how else min(across, down)
    return one, one


def _aligned(how: str) -> tuple[float, float]:
    """What share of the room to spare lies left of a viewBox, and above it."""
    return (
        0.0 if "xMin" in how or "none" in how else 1.0 if "xMax" in how else 0.5,
        0.0 if "YMin" in how or "none" in how else 1.0 if "YMax" in how else 0.5,
    )


def inner_viewport(
    fitted: ElementTree.Element, sized: ElementTree.Element, outer: tuple[float, float]
) -> tuple[Floats, tuple[float, float]]:
    """How the viewBox of an inner ``svg`` or a ``symbol`` is fitted, and the viewport inside it.

    ``sized`` is the element whose width and height count: the ``use``, or the ``svg`` itself.
    Nothing is clipped to it.
    """
    view = view_box(fitted)
    wide, high = (
        length_of(sized if sized.get(name) else fitted, name, of, default=of)
        for name, of in (("width", outer[0]), ("height", outer[1]))
    )
    if view is None:
        return np.eye(3), (wide, high)
    how = fitted.get("preserveAspectRatio") or ""
    across, down = fitted_scales(view, wide, high, how)
    share_x, share_y = _aligned(how)
    left = share_x * (wide - view[2] * across) - view[0] * across
    top = share_y * (high - view[3] * down) - view[1] * down
    matrix = np.array([[across, 0.0, left], [0.0, down, top], [0.0, 0.0, 1.0]])
    return matrix, (view[2], view[3])


def view_box(element: ElementTree.Element) -> tuple[float, float, float, float] | None:
    """Left, top, width and height of a viewBox; None where there is none that can be used."""
    told = [float(v) for v in _LISTED.findall(element.get("viewBox") or "")]
    if len(told) != 4 or told[2] <= 0 or told[3] <= 0:
        return None
    return told[0], told[1], told[2], told[3]


def length_of(
    element: ElementTree.Element, name: str, of: float = 0.0, *, default: float = 0.0
) -> float:
    """A length inside the drawing in user units.

    Parameters
    ----------
    of
        What a percentage is taken of.
    default
        Where it is left out, or ``auto``.

    Raises
    ------
    SvgFault
        If its unit is not absolute.
    """
    text = (element.get(name) or "").strip()
    if not text or text == "auto":
        return default
    match = _LENGTH.fullmatch(text)
    unit = match.group(2).lower() if match else "?"
    if match and unit == "%":
        return float(match.group(1)) / 100 * of
    if match is None or unit not in UNITS_MM:
        tag = str(element.tag).rsplit("}", 1)[-1]
        raise SvgFault(
            f"A <{tag}> has {name}={text[:20]!r}: give lengths inside the drawing without a unit, "
            "in mm."
        )
    return float(match.group(1)) * UNITS_MM[unit] / PX_MM


def _side_mm(root: ElementTree.Element, name: str) -> float | None:
    """Width or height of the page in mm; None where it fills whatever it is shown in."""
    text = (root.get(name) or "").strip()
    match = _LENGTH.fullmatch(text)
    if not text or text == "auto" or (match and match.group(2) == "%"):
        return None
    unit = match.group(2).lower() if match else "?"
    if match is None or unit not in UNITS_MM:
        raise SvgFault(f"The SVG's {name} is {text[:20]!r}: give it in mm, such as 120mm.")
    side = float(match.group(1)) * UNITS_MM[unit]
    if not 0 < side < np.inf:
        raise SvgFault(f"The SVG's {name} is {text[:20]!r}, not more than 0: give it in mm.")
    return side


def _in_px(text: str | None) -> bool:
    match = _LENGTH.fullmatch(text or "")
    return match is not None and match.group(2).lower() in ("", "px")


def transform_matrix(text: str | None) -> Floats:
    """The 3x3 matrix of an SVG transform attribute (SVG 1.1, 7.6).

    Raises SvgFault when one of its transforms is not known.

    >>> transform_matrix("translate(2,3) scale(2)")[0].tolist()
    [2.0, 0.0, 2.0]
    """
    total = np.eye(3)
    for name, inner in re.findall(r"(\w+)\s*\(([^)]*)\)", text or ""):
        told = [float(x) for x in _LISTED.findall(inner)]
        total = total @ _one_transform(name, told, inner)
    return total


def _one_transform(name: str, v: list[float], inner: str) -> Floats:
    m = np.eye(3)
    if name == "matrix" and len(v) == 6:
        return np.array([[v[0], v[2], v[4]], [v[1], v[3], v[5]], [0, 0, 1]])
    if name == "translate" and len(v) in (1, 2):
        m[:2, 2] = (v[0], v[1] if len(v) > 1 else 0.0)
    elif name == "scale" and len(v) in (1, 2):
        m[0, 0], m[1, 1] = v[0], v[1] if len(v) > 1 else v[0]
    elif name == "rotate" and len(v) in (1, 3):
        c, s = np.cos(np.deg2rad(v[0])), np.sin(np.deg2rad(v[0]))
        m[:2, :2] = [[c, -s], [s, c]]
        if len(v) == 3:
            centre = np.array(v[1:])
            m[:2, 2] = centre - m[:2, :2] @ centre
    elif name == "skewX" and len(v) == 1:
        m[0, 1] = np.tan(np.deg2rad(v[0]))
    elif name == "skewY" and len(v) == 1:
        m[1, 0] = np.tan(np.deg2rad(v[0]))
    else:
        raise SvgFault(f"The SVG uses the transform {name}({inner[:40]}), which is not known.")
    return m

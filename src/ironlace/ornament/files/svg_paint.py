"""What an SVG paints a shape with: presentation attributes, style sheets, inheritance.

Which value counts follows CSS Cascade 4: an attribute gives way to a rule of a style sheet, a more
particular selector wins over a less particular one, ``style`` over both, ``!important`` over all.
Selectors by type, class and id are followed, also one inside another; what other selectors say is
named as not followed.
"""

from __future__ import annotations

import colorsys
import math
import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from typing import Final, Literal
from xml.etree import ElementTree

from ironlace.ornament.files.svg_curves import NUMBER
from ironlace.ornament.files.svg_root import SvgFault, tag_of

PROPERTIES: Final = frozenset(
    {
        "filter",
        "marker",
        "marker-start",
        "marker-mid",
        "marker-end",
        "fill",
        "fill-rule",
        "fill-opacity",
        "stroke",
        "stroke-opacity",
        "stroke-width",
        "opacity",
        "display",
        "visibility",
        "color",
        "clip-path",
        "mask",
        "mask-image",
    }
)
"""The properties that decide whether and how a shape is filled."""

MOVES: Final = ("transform", "translate", "rotate", "scale", "offset-path")
"""What moves a shape where a style tells it (CSS Transforms 2); as attributes these are none."""

GEOMETRY: Final = frozenset({"cx", "cy", "r", "rx", "ry", "x", "y", "width", "height", "d"})
"""What may be told by a style instead of an attribute (SVG 2, 8.1 and 9.3)."""

_BY_STYLE: Final = PROPERTIES | GEOMETRY | {*MOVES, "transform-origin"}

_INITIAL: Final = {
    "fill": "",
    "stroke": "none",
    "fill-rule": "nonzero",
    "fill-opacity": "1",
    "stroke-opacity": "1",
    "stroke-width": "1",
    "color": "#000000",
    "visibility": "visible",
}
"""What is in force at the root of a drawing."""

_FROM_ABOVE: Final = frozenset({"inherit", "unset", "revert", "revert-layer"})
"""Words for what holds around an element (CSS Cascade 5, 7.3), of properties that go inside."""

_COMPOUND: Final = re.compile(r"(?P<tag>[a-zA-Z][\w-]*|\*)?(?P<marks>(?:[.#][\w-]+)*)")
_TO_A_TURN: Final = {"": 360.0, "deg": 360.0, "grad": 400.0, "rad": math.tau, "turn": 1.0}
_ALPHA: Final = re.compile(r"(?:rgba?|hsla?)\((.*)\)")

Colour = tuple[int, int, int]
FillRule = Literal["nonzero", "evenodd"]


@dataclass(frozen=True, slots=True)
class Paint:
    """What is in force for an element.

    Attributes
    ----------
    fill, stroke
        As CSS writes them; an empty fill was nowhere told, and is black.
    rule
        How rings of one shape are filled.
    colour
        What ``currentColor`` means.
    fill_alpha, stroke_alpha, alpha
        0 is clear; ``alpha`` is that of all groups around it together.
    thin
        Whether strokes have no width.
    visible
        Whether it is shown.
    """

    fill: str = ""
    stroke: str = "none"
    rule: FillRule = "nonzero"
    colour: str = "#000000"
    fill_alpha: float = 1.0
    stroke_alpha: float = 1.0
    alpha: float = 1.0
    thin: bool = False
    visible: bool = True

    def inside(self, told: Mapping[str, str]) -> Paint:
        """What is in force for an element inside, by its own declarations."""
        if not told:
            return self
        own = {
            name: _INITIAL.get(name, value) if value == "initial" else value
            for name, value in told.items()
            if value not in _FROM_ABOVE
        }
        colour = own.get("color", self.colour)
        fill, stroke = own.get("fill", self.fill), own.get("stroke", self.stroke)
        return replace(
            self,
            fill=colour if fill.lower() == "currentcolor" else fill,
            stroke=colour if stroke.lower() == "currentcolor" else stroke,
            rule="evenodd" if own.get("fill-rule", self.rule).strip() == "evenodd" else "nonzero",
            colour=colour,
            fill_alpha=_share(own.get("fill-opacity"), self.fill_alpha),
            stroke_alpha=_share(own.get("stroke-opacity"), self.stroke_alpha),
            alpha=self.alpha * _share(own.get("opacity"), 1.0),
            thin=_nought(own["stroke-width"]) if "stroke-width" in own else self.thin,
            visible=own["visibility"] == "visible" if "visibility" in own else self.visible,
        )

    @property
    def fills(self) -> bool:
        """Whether its fill can be seen."""
        return self.visible and self.alpha * self.fill_alpha > 0 and not _clear(self.fill)

    @property
    def hides(self) -> bool:
        """Whether it has a fill that cannot be seen: hidden, or wholly clear."""
        return not self.fills and not _clear(self.fill)

    @property
    def strokes(self) -> bool:
        """Whether its stroke can be seen."""
        seen = self.visible and not self.thin and self.alpha * self.stroke_alpha > 0
        return seen and not _clear(self.stroke)


class StyleRules:
    """The style sheets of an SVG.

    Attributes
    ----------
    not_followed
        Selectors and at-rules that were passed over.
    """

    def __init__(self, root: ElementTree.Element) -> None:
        self.not_followed: list[str] = []
        self._rules: list[tuple[tuple[int, int, int], list[str], dict[str, tuple[str, bool]]]] = []
        for element in root.iter():
            if tag_of(element) != "style" or element.get("type", "text/css") != "text/css":
                continue
            if (where := element.get("media", "all").strip()) not in ("", "all", "screen"):
                # what it says holds elsewhere, on paper mostly
                self.not_followed.append(f"@{where}")
                continue
            self._add("".join(element.itertext()))
        # stable: of equals, the later one counts
        self._rules.sort(key=lambda rule: rule[0])
        nested = any(len(selector) > 1 for _, selector, _ in self._rules)
        self._up = {child: up for up in root.iter() for child in up} if nested else {}

    def told(self, element: ElementTree.Element) -> dict[str, str]:
        """The declarations that count for an element, without inheritance."""
        attributes = element.attrib
        out = {n: attributes[n].strip() for n in attributes if n in PROPERTIES}
        firm: dict[str, str] = {}
        for _, selector, declared in self._rules:
            if self._fits(selector, element):
                for name, (value, important) in declared.items():
                    (firm if important else out)[name] = value
        if "style" in attributes:
            for name, (value, important) in _declarations(attributes["style"]).items():
                (firm if important else out)[name] = value
        return out | firm

    def _add(self, css: str) -> None:
        css = re.sub(r"/\*.*?\*/|<!--|-->", "", css, flags=re.DOTALL)
        if re.search(r"@import", css, re.IGNORECASE):
            raise SvgFault("The SVG's style sheet is another file: save it as plain SVG.")
        css, count = re.subn(r"@[^{};]*(?:;|\{(?:[^{}]|\{[^{}]*\})*\})", "", css)
        if count:
            self.not_followed.append("@")
        for selectors, body in re.findall(r"([^{}]+)\{([^{}]*)\}", css):
            declared = _declarations(body)
            if not declared:
                continue
            for selector in selectors.split(","):
                parts = re.sub(r"\s*>\s*", " > ", selector.strip()).split()
                if all(part == ">" or _COMPOUND.fullmatch(part) for part in parts):
                    self._rules.append((_weight(parts), parts, declared))
                else:
                    self.not_followed.append(selector.strip())

    def _fits(self, selector: list[str], element: ElementTree.Element) -> bool:
        if not selector or not _is(selector[-1], element):
            return False
        rest = selector[:-1]
        if not rest:
            return True
        up = self._up.get(element)
        if rest[-1] == ">":
            return up is not None and self._fits(rest[:-1], up)
        while up is not None:
            if self._fits(rest, up):
                return True
            up = self._up.get(up)
        return False


def rgb_of(fill: str) -> Colour | None:
    """SRGB 0..255 of a colour as CSS writes it; None for paint that is no one colour."""
    from PIL import ImageColor

    text = fill.strip().lower()
    if re.fullmatch(r"#[0-9a-f]{4}|#[0-9a-f]{8}", text):
        text = text[:4] if len(text) == 5 else text[:7]
    numbers = _ALPHA.fullmatch(text)
    try:
        if numbers:
            parts = re.split(r"[\s,/]+", numbers.group(1).strip())
            return _rgb_of_numbers(text[:3], parts) if len(parts) in (3, 4) else None
        return ImageColor.getrgb(text)[:3]
    except ValueError:
        return None


def _rgb_of_numbers(kind: str, parts: list[str]) -> Colour:
    """The colour of ``rgb()`` or ``hsl()`` (CSS Color 4, 5.1 and 7); ValueError if it is none."""
    if kind == "rgb":
        shares = [float(p[:-1]) / 100.0 if p.endswith("%") else float(p) / 255.0 for p in parts[:3]]
    else:
        match = re.fullmatch(rf"({NUMBER})(deg|grad|rad|turn|)", parts[0])
        if match is None:
            raise ValueError(parts[0])
        turns = float(match[1]) / _TO_A_TURN[match[2]] % 1.0
        strong, light = (min(1.0, max(0.0, float(p.removesuffix("%")) / 100.0)) for p in parts[1:3])
        shares = list(colorsys.hls_to_rgb(turns, light, strong))
    red, green, blue = (int(min(1.0, max(0.0, share)) * 255.0 + 0.5) for share in shares)
    return red, green, blue


def plain_colour(fill: str) -> str:
    """A colour as ``#rrggbb``, or the paint as it was told where it is no one colour."""
    rgb = rgb_of(fill or "#000000")
    return fill.strip() if rgb is None else "#{:02x}{:02x}{:02x}".format(*rgb)


def _declarations(text: str) -> dict[str, tuple[str, bool]]:
    return {name: told for name, told in _declared(text) if name in _BY_STYLE}


def _declared(text: str) -> Iterator[tuple[str, tuple[str, bool]]]:
    for one in text.split(";"):
        name, colon, value = one.partition(":")
        if colon:
            value, mark, _ = value.partition("!")
            yield name.strip().lower(), (value.strip(), bool(mark))


def _weight(parts: list[str]) -> tuple[int, int, int]:
    """How particular a selector is: its ids, classes and types (Selectors 3, 9)."""
    text = " ".join(parts)
    types = sum(bool(re.match(r"[a-zA-Z]", part)) for part in parts)
    return text.count("#"), text.count("."), types


def _is(compound: str, element: ElementTree.Element) -> bool:
    match = _COMPOUND.fullmatch(compound)
    assert match is not None
    tag = match["tag"]
    if tag not in (None, "*", tag_of(element)):
        return False
    classes = (element.get("class") or "").split()
    return all(
        mark[1:] == element.get("id") if mark[0] == "#" else mark[1:] in classes
        for mark in re.findall(r"[.#][\w-]+", match["marks"])
    )


def _share(text: str | None, otherwise: float) -> float:
    """An opacity, as a number or a percentage."""
    if text is None:
        return otherwise
    try:
        value = float(text.strip().removesuffix("%")) / (100.0 if text.strip()[-1:] == "%" else 1.0)
    except ValueError:
        return otherwise
    return min(1.0, max(0.0, value))


def _nought(text: str) -> bool:
    return re.fullmatch(r"0*\.?0*(?:[a-z]+|%)?", text.strip()) is not None and "0" in text


def _clear(paint: str) -> bool:
    """Whether a paint lays nothing: none, or wholly transparent."""
    text = paint.strip().lower()
    if text in ("none", "transparent") or re.fullmatch(r"#[0-9a-f]{3}0|#[0-9a-f]{6}00", text):
        return True
    match = _ALPHA.fullmatch(text)
    if match is None:
        return False
    parts = re.split(r"[\s,/]+", match.group(1).strip())
    return len(parts) == 4 and _share(parts[3], 1.0) == 0.0

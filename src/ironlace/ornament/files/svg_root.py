"""Opening an SVG text safely: the one door for every reader of drawings."""

from __future__ import annotations

import re
from typing import Final
from xml.etree import ElementTree

from ironlace.ornament.errors import OrnamentError

_OWN_ENTITIES: Final = re.compile(r"<!ENTITY|<!DOCTYPE[^>\[]*\[")
_SVG: Final = "{http://www.w3.org/2000/svg}"


class SvgFault(OrnamentError):  # noqa: N818 (each reader refuses in an error of its own)
    """An SVG cannot be read; `svg_shapes.read_svg` says it in the error of whoever reads."""


def svg_root(text: str) -> ElementTree.Element:
    """The root element of an SVG.

    Entities of its own are refused wherever they stand in the text, before anything is parsed: a
    few lines of them can unpack to gigabytes, and comments of any length may stand before them.

    Raises
    ------
    SvgFault
        If the text defines entities, is not XML, or is not SVG.
    """
    if _OWN_ENTITIES.search(text):
        raise SvgFault("The SVG defines its own entities, which is refused; save it as plain SVG.")
    try:
        root = ElementTree.fromstring(text)  # noqa: S314 (entities are refused above)
    except (ElementTree.ParseError, ValueError) as error:
        raise SvgFault(f"The SVG cannot be read ({error}); save it again as plain SVG.") from error
    if tag_of(root) != "svg":
        name = str(root.tag).rsplit("}", 1)[-1]
        raise SvgFault(f"The file begins with <{name}>, not <svg>; give an SVG drawing.")
    return root


def tag_of(element: ElementTree.Element) -> str:
    """An SVG element's name without its name space; empty for what another vocabulary adds.

    A file without the declaration of its name space is read as SVG, as most programs do.
    """
    tag = str(element.tag)
    if tag.startswith("{"):
        return tag[len(_SVG) :] if tag.startswith(_SVG) else ""
    return tag

"""Opening an SVG text safely: the one door for every reader of drawings in this room."""

from __future__ import annotations

import re
from typing import Final
from xml.etree import ElementTree

from ironlace.ornament.errors import OrnamentError

_OWN_ENTITIES: Final = re.compile(r"<!ENTITY|<!DOCTYPE[^>\[]*\[")


def svg_root(text: str, refused: type[OrnamentError]) -> ElementTree.Element:
    """The root element of an SVG.

    Entities of its own are refused wherever they stand in the text, before anything is parsed: a
    few lines of them can unpack to gigabytes, and comments of any length may stand before them.

    Raises
    ------
    OrnamentError
        Of the kind `refused`, if the text defines entities, is not XML, or is not SVG.
    """
    if _OWN_ENTITIES.search(text):
        raise refused("The SVG defines its own entities, which is refused; save it as plain SVG.")
    try:
        root = ElementTree.fromstring(text)  # noqa: S314 (entities are refused above)
    except ElementTree.ParseError as error:
        raise refused(f"The SVG cannot be read ({error}); save it again as plain SVG.") from error
    if tag_of(root) != "svg":
        raise refused(f"The file begins with <{tag_of(root)}>, not <svg>; give an SVG drawing.")
    return root


def tag_of(element: ElementTree.Element) -> str:
    """An element's name without its name space."""
    return str(element.tag).rsplit("}", 1)[-1]

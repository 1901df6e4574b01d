"""Rings of the openings in a sheet's SVG, read as XML and not as the proof reads them."""

import xml.etree.ElementTree as ET

import numpy as np

SVG = "{http://www.w3.org/2000/svg}"


def rings_of_sheet(svg: str) -> list[np.ndarray]:
    """Corners of every ring, each (n, 2) mm; straight lines only."""
    openings = next(g for g in ET.fromstring(svg).iter(f"{SVG}g") if g.get("id") == "openings")
    rings = []
    for path in openings.iter(f"{SVG}path"):
        for walk in path.get("d").split("M")[1:]:
            numbers = walk.replace("L", " ").replace("Z", " ").replace(",", " ").split()
            rings.append(np.array(numbers, float).reshape(-1, 2))
    return rings

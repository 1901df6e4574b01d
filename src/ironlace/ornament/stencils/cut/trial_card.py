"""The test card: what a material and cutter really do, told by what survives of it.

Four rows of ever finer lines, webs, tongues and discs, and a spiral. The user cuts it, writes down
the finest of each that came out clean, and these become the process's limits.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

import numpy as np

from ironlace.ornament.stencils.errors import ProcessError
from ironlace.ornament.stencils.process import OWN_CARD, Process

STEPS_MM: Final = (0.1, 0.15, 0.2, 0.25, 0.3, 0.4, 0.5, 0.6, 0.8, 1.0, 1.2, 1.6)
"""Widths on the card."""

TONGUES_MM: Final = (2.0, 4.0, 6.0, 8.0, 10.0, 12.0, 15.0, 20.0)
"""Lengths of the tongues, each 1.5 mm wide at its root."""

SQUARE_MM: Final = 20.0
"""Side of the square whose cut-out is measured for the kerf."""

WIDTH_MM: Final = 150.0
"""Of the card, with `HEIGHT_MM`."""

HEIGHT_MM: Final = 120.0
"""Of the card, with `WIDTH_MM`: small enough for an offcut (common practice, no source)."""


_TO_NOTE: Final = (
    "finest line clean ______ mm",
    "finest web whole ______ mm",
    "longest tongue flat ______ mm",
    "finest disc round ______ mm",
    "square: hole ______ piece ______ mm",
    "paint crept under the edge ______ mm",
    "material ____________ cutter ____________",
)
"""What is written down by hand on the card."""


@dataclass(frozen=True)
class CardReading:
    """What the user read off a cut card.

    Attributes
    ----------
    finest_line_mm
        Narrowest slot that came out clean.
    finest_web_mm
        Narrowest web that stayed whole.
    longest_tongue_mm
        Longest tongue that lies flat.
    finest_disc_mm
        Diameter of the smallest disc that came out round; half of it is the least radius.
    square_hole_mm, square_piece_mm
        Measured sides of the square's hole and of the piece that came out of it.
    paint_spread_mm
        Creep of paint under an edge, if it was measured.
    """

    finest_line_mm: float
    finest_web_mm: float
    longest_tongue_mm: float
    finest_disc_mm: float
    square_hole_mm: float
    square_piece_mm: float
    paint_spread_mm: float | None = None


def trial_card_svg() -> str:  # long: the card, line by line
    """The card as SVG in mm, openings filled, words as text."""
    shapes: list[str] = []
    words: list[str] = []

    def rect(x: float, y: float, w: float, h: float) -> None:
        shapes.append(f'<rect x="{x:.3f}" y="{y:.3f}" width="{w:.3f}" height="{h:.3f}"/>')

    def word(x: float, y: float, text: str, size: float = 2.6) -> None:
        words.append(f'<text x="{x:.2f}" y="{y:.2f}" font-size="{size}">{text}</text>')

    word(8, 8, "IRONLACE TRIAL CARD: cut it as you cut a sheet; note the finest of each row", 3)
    for n, step in enumerate(STEPS_MM):
        x = 10 + 11.2 * n
        word(x - 1, 16, f"{step:g}")
        rect(x, 18, step, 12)  # a slot
        rect(x - 0.2, 36, 2.0, 10)  # two openings with a web between
        rect(x + 1.8 + step, 36, 2.0, 10)
        diameter = 2 * step
        shapes.append(f'<circle cx="{x + 1.5:.3f}" cy="54" r="{diameter / 2:.3f}"/>')
    word(8, 34, "lines above; webs below, mm")
    word(8, 50, "discs, diameter twice the figure")
    x = 10.0
    for length in TONGUES_MM:
        # an opening in the shape of a U leaves a tongue of the sheet hanging from its open end
        tip = 62 + length
        points = [
            (x, 62),
            (x + 1.2, 62),
            (x + 1.2, tip),
            (x + 2.7, tip),
            (x + 2.7, 62),
            (x + 3.9, 62),
            (x + 3.9, tip + 1.2),
            (x, tip + 1.2),
        ]
        told = " ".join(f"{a:.3f},{b:.3f}" for a, b in points)
        shapes.append(f'<polygon points="{told}"/>')
        word(x + 0.6, 60.5, f"{length:g}")
        x += 8.5
    rect(92, 64, SQUARE_MM, SQUARE_MM)
    word(92, 62, f"square of {SQUARE_MM:g} mm")
    shapes.append(f'<path d="{_spiral((133.0, 76.0))}"/>')
    word(129, 62, "spiral")
    for n, line in enumerate(_TO_NOTE):
        word(10 + 70 * (n % 2), 96 + 6 * (n // 2), line)
    return (
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{WIDTH_MM:g}mm" height="{HEIGHT_MM:g}mm" '
        f'viewBox="0 0 {WIDTH_MM:g} {HEIGHT_MM:g}">\n<g id="openings" fill="#1c1c1c">\n'
        + "\n".join(shapes)
        + '\n</g>\n<g id="words" fill="#204060" font-family="sans-serif">\n'
        + "\n".join(words)
        + "\n</g>\n</svg>\n"
    )


def _spiral(centre: tuple[float, float]) -> str:
    """A slot that winds in and tapers from 1.2 mm to 0.1 mm, with webs that thin alike."""
    t = np.linspace(0.0, 1.0, 300)
    radius = 10.5 - 8.5 * t
    turn = 2 * np.pi * 4.0 * t
    width = 1.2 - 1.1 * t
    way = np.stack([np.cos(turn), np.sin(turn)], axis=1)
    outer = np.asarray(centre) + (radius + width / 2)[:, None] * way
    inner = np.asarray(centre) + (radius - width / 2)[:, None] * way
    points = np.concatenate([outer, inner[::-1]])
    return "M" + "L".join(f"{x:.3f} {y:.3f}" for x, y in points) + "Z"


def process_from_card(process: Process, reading: CardReading) -> Process:
    """The process with its limits set by what survived on the user's own card.

    The kerf is half the difference of the square's hole and piece: each lost half a kerf on either
    side.

    Raises
    ------
    ProcessError
        If the figures contradict each other or the card.

    >>> from ironlace.ornament.stencils.process import known_process
    >>> reading = CardReading(0.3, 0.5, 10.0, 0.4, 20.07, 19.91)
    >>> mine = process_from_card(known_process("film-laser"), reading)
    >>> mine.least_web_mm, round(mine.kerf_mm, 3), mine.sources["kerf_mm"]
    (0.5, 0.08, 'own test card')
    """
    if reading.square_piece_mm > reading.square_hole_mm:
        raise ProcessError(
            f"The piece of {reading.square_piece_mm:g} mm is larger than its hole of "
            f"{reading.square_hole_mm:g} mm: measure both again."
        )
    if abs(reading.square_hole_mm - SQUARE_MM) > 1.0:
        raise ProcessError(
            f"The square's hole measures {reading.square_hole_mm:g} mm instead of {SQUARE_MM:g}: "
            "the card was not cut at true scale."
        )
    values: dict[str, float] = {
        "least_opening_mm": reading.finest_line_mm,
        "least_web_mm": reading.finest_web_mm,
        "longest_tongue_mm": reading.longest_tongue_mm,
        "least_radius_mm": reading.finest_disc_mm / 2.0,
        "kerf_mm": (reading.square_hole_mm - reading.square_piece_mm) / 2.0,
    }
    if reading.paint_spread_mm is not None:
        values["paint_spread_mm"] = reading.paint_spread_mm
    if process.bridge_width_mm < values["least_web_mm"]:
        values["bridge_width_mm"] = values["least_web_mm"]
    return process.with_values(values, OWN_CARD)

"""What a drawing stands on, in figures: how much of its outline each kind of evidence carries."""

import re
from collections.abc import Iterator
from itertools import groupby
from typing import Any, Final
from xml.sax.saxutils import quoteattr

import numpy as np

from ironlace.dossier.account.blocks import EvidenceMap, Share
from ironlace.dossier.print.ink_window import ink_window
from ironlace.dossier.print.plain_drawing import read_drawing
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.evidence.grades import Grade
from ironlace.ornament import Drawing, drawing_from_svg, drawing_svg
from ironlace.ornament.files.drawing_svg import blind_svg

_SOURCES = {
    "here": "on this machine",
    "mirror": "its mirror image",
    "repeat": "a repeat of its motif",
    "closed": "a small bite closed",
    "bridge": "a gap bridged, not yet accepted",
    "bridge, accepted": "a gap bridged, accepted",
    "drawn": "drawn by hand",
    "none": "no evidence",
    "edge of a loss": "likely the edge of a loss, not of the ornament",
    "a rim that may be eaten": "seen, but perhaps eaten from its rim inwards",
    "paint that may have been pushed aside": "seen, but perhaps pushed aside since it was painted",
    "a speck that no other copy shows": "likely dirt on the work, not paint",
}


GRADE_COLOURS: Final = {
    Grade.SEEN: "#1b1d1f",
    Grade.MEASURED: "#2b6a4d",
    Grade.INFERRED: "#9a5b13",
    Grade.CONJECTURED: "#9b1f3a",
}
"""Of each grade's line in a map of evidence, beside its pattern: ink, green, gilt, red, all of 5 to
1 and more against white."""

_GROUND = "#eadfc4"
"""Of the ornament under the lines: gilt, light enough for every line on it."""

_LINE_MM = 0.32
"""Of a line in the map: it stays a line when the map is set at half its size (judged)."""


def standing(finding: Finding) -> tuple[tuple[str, str], ...]:
    """Pairs of words for a drawing: its proof on its photograph, what it hides, its colours."""
    return (*_proof(finding), *_unseen(finding), *_colours(finding))


def without_lines(svg: str) -> str:
    """A drawing without the lines of evidence over its edges: the map of evidence shows those."""
    return _LINES_OF_EVIDENCE.sub("", svg, count=1)


_LINES_OF_EVIDENCE = re.compile(
    r'<g id="evidence" data-role="evidence"[^>]*>[^<]*'
    r"(?:<path\b[^>]*/>[^<]*)*</g>"
)


def evidence_map(name: str, title: str, svg: str) -> EvidenceMap | None:
    """The map of a drawing's evidence; None of one that does not carry its own.

    Each stretch of the outline is drawn in the line pattern and the colour of its grade, over the
    ornament in a pale gilt.
    """
    if "data-evidence=" not in svg:
        return None
    try:
        drawing = drawing_from_svg(svg)
    except IronlaceError:
        return None
    told = _shares(drawing)
    if not told:
        return None
    lines = read_drawing(_map_svg(drawing))
    return EvidenceMap(name, title, lines, ink_window(lines), told)


def _map_svg(drawing: Drawing) -> str:
    plain = drawing_svg(
        Drawing(drawing.paths, drawing.bounds_mm, dict.fromkeys(drawing.layers, _rgb(_GROUND))),
        evidence=False,
        decimals=3,
    )
    body, end, _ = plain.rpartition("</svg>")
    lines = blind_svg(drawing.blind, decimals=3)
    lines.append(f'<g fill="none" stroke-width="{_LINE_MM}" stroke-linecap="butt">')
    # the strongest last, so that no conjecture is drawn over what was seen
    for grade in reversed(Grade):
        lines += _stretches(drawing, grade)
    return body + "\n".join([*lines, "</g>"]) + end


def _stretches(drawing: Drawing, grade: Grade) -> Iterator[str]:
    dash = " ".join(f"{mm:g}" for mm in grade.dash_mm)
    pattern = f' stroke-dasharray="{dash}"' if dash else ""
    for path in drawing.paths:
        at = 0
        for one, run in groupby(path.grades):
            count = len(list(run))
            curves = path.curves[at : at + count]
            at += count
            if one is grade:
                d = f"M{_points(curves[0, :1])}C" + " ".join(_points(c[1:]) for c in curves)
                yield (
                    f"<path data-grade={quoteattr(grade.value)} "
                    f'stroke="{GRADE_COLOURS[grade]}"{pattern} d="{d}"/>'
                )


def _points(points: Any) -> str:
    return " ".join(f"{v:.3f}" for v in np.ravel(points))


def _rgb(colour: str) -> tuple[int, int, int]:
    red, green, blue = (int(colour[at : at + 2], 16) for at in (1, 3, 5))
    return red, green, blue


def _shares(drawing: Drawing) -> tuple[Share, ...]:
    lengths: dict[tuple[Grade, str], float] = {}
    for path in drawing.paths:
        for grade, source, length in zip(path.grades, path.sources, path.lengths, strict=True):
            words = _SOURCES.get(source, source)
            lengths[grade, words] = lengths.get((grade, words), 0.0) + float(length)
    total = sum(lengths.values())
    if total <= 0:
        return ()
    order = list(Grade)
    ranked = sorted(lengths.items(), key=lambda item: (order.index(item[0][0]), -item[1]))
    return tuple(Share(g, words, length / total, length) for (g, words), length in ranked)


def _reported(finding: Finding) -> dict[str, Any]:
    report = finding.method.parameters.get("report")
    return report if isinstance(report, dict) else {}


def _proof(finding: Finding) -> Iterator[tuple[str, str]]:
    proof = _reported(finding).get("proof")
    if not isinstance(proof, dict) or proof.get("mean_mm") is None:
        return
    yield (
        "laid back on its photograph",
        f"a trace under {100 * proof['with_a_trace']:.0f} % of the outline, on average "
        f"{proof['mean_mm']:.3f} mm from it, 95 % within {proof['p95_mm']:.3f} mm; under "
        f"{100 * proof['graded_seen_without_a_trace']:.1f} % of what is graded seen there is none",
    )


def _unseen(finding: Finding) -> Iterator[tuple[str, str]]:
    shares = _reported(finding).get("blind_share")
    told = sorted((shares or {}).items(), key=lambda item: -item[1])
    words = [f"{100 * share:.1f} % ({why})" for why, share in told if share >= 0.001]
    if words:
        yield (
            "shaded, for nothing can be said of it",
            f"{', '.join(words)} of what the strip encloses",
        )


def _colours(finding: Finding) -> Iterator[tuple[str, str]]:
    colours = _reported(finding).get("colours")
    if not isinstance(colours, dict):
        return
    for name, colour in colours.items():
        lab = ", ".join(f"{v:.1f}" for v in colour["lab"])
        yield f"colour of the {name}", f"L*a*b* {lab} in this light, by the strip's paper"

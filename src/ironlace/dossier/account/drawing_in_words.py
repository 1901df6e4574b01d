"""What a drawing stands on, in figures: how much of its outline each kind of evidence carries."""

from collections.abc import Iterator
from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import Finding
from ironlace.evidence.grades import Grade
from ironlace.ornament import drawing_from_svg

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
}


def standing(svg: str, finding: Finding) -> tuple[tuple[str, str], ...]:
    """Pairs of words for a drawing: its outline by grade and source, its proof, its colours."""
    return (*_shares(svg), *_proof(finding), *_colours(finding))


def _shares(svg: str) -> Iterator[tuple[str, str]]:
    try:
        drawing = drawing_from_svg(svg)
    except IronlaceError:
        return
    lengths: dict[tuple[Grade, str], float] = {}
    for path in drawing.paths:
        for grade, source, length in zip(path.grades, path.sources, path.lengths, strict=True):
            lengths[grade, source] = lengths.get((grade, source), 0.0) + float(length)
    total = sum(lengths.values())
    if total <= 0:
        return
    order = list(Grade)
    for (grade, source), length in sorted(
        lengths.items(), key=lambda item: (order.index(item[0][0]), -item[1])
    ):
        words = _SOURCES.get(source, source)
        yield f"{grade}: {words}", f"{length:.0f} mm, {100 * length / total:.1f} %"


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


def _colours(finding: Finding) -> Iterator[tuple[str, str]]:
    colours = _reported(finding).get("colours")
    if not isinstance(colours, dict):
        return
    for name, colour in colours.items():
        lab = ", ".join(f"{v:.1f}" for v in colour["lab"])
        yield f"colour of the {name}", f"L*a*b* {lab} in this light, by the strip's paper"

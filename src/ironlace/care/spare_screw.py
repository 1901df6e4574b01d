"""The spare of a lost screw, drawn true to scale: thread with its limits, head and slot as the old.

What is measured on the screw that is left, or on the hole, is asked for; the thread's limits are
those of ISO 965-1, 6g, by its formulae, for every family: a cut thread is no finer than that.
"""

import math
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from typing import Annotated, Final, Literal
from xml.sax.saxutils import escape

from ironlace.care.errors import CareError
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Known, Nothing, grade_of
from ironlace.evidence.answers import Answer, MadeFile, Plot, PlotsWhenSeen, Table
from ironlace.evidence.dxf_document import dxf_text, new_document
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps

Head = Literal["cheese", "countersunk", "round", "fillister", "none"]
Place = tuple[float, float]
_MARGIN_MM: Final = 8.0
"""Round what is drawn."""
_BAR_MM: Final = 100.0
"""Of the bar to check a print with."""
_LETTER_MM: Final = 3.5
"""Height of letters (ISO 3098 has 3.5)."""
_FEED_MM: Final = 0.05
"""A turned length or diameter without its own tolerance: ISO 2768-1, fine, up to 6 mm."""
_DEPTHS: Final = {60.0: 0.6134, 55.0: 0.640327, 47.5: 0.6}
"""Depth in pitches by angle: ISO 68-1 of a screw, BS 84, BS 93 (read in secondary tables)."""
_ROUND: Final = 0.55
"""Height of a round head over half its diameter where none is measured (common practice)."""


_PITCH_SHARE = (0.09, 0.28)
"""A pitch by its diameter: 0.14 to 0.25 in the tables of `thread_forms`, with a margin for a
maker's own."""


@dataclass(frozen=True)
class SpareAsked:
    """What is asked for a spare screw."""

    diameter: Annotated[
        Known,
        Ask(
            "Diameter of the thread, nominal",
            unit="mm",
            low=0.8,
            high=30.0,
            example="4.762 mm",
            usual=usual_figures.SCREW_MM,
        ),
    ]
    pitch: Annotated[
        Known,
        Ask(
            "Pitch",
            unit="mm",
            low=0.15,
            high=5.0,
            example="1.0583 mm",
            usual=usual_figures.PITCH_MM,
        ),
    ]
    length: Annotated[
        Known,
        Ask(
            "Length under the head",
            unit="mm",
            low=1.0,
            high=150.0,
            example="12.0 mm",
            usual=usual_figures.SCREW_LONG_MM,
        ),
    ]
    head: Annotated[
        Head,
        Ask(
            "Head, as the original's",
            choices={
                "cheese": "flat cylinder",
                "countersunk": "countersunk",
                "round": "round",
                "fillister": "cylinder with a domed top",
                "none": "none: a set screw",
            },
            example="none",
        ),
    ]
    angle: Annotated[
        float,
        Ask(
            "Angle between the flanks",
            unit="°",
            low=30.0,
            high=90.0,
            example="55",
            usual=usual_figures.FLANKS_DEG,
        ),
    ] = 55.0
    threaded: Annotated[
        Known | None,
        Ask("Of it threaded", "Left out: all of it.", unit="mm", low=0.5, high=150.0,
            example="9 mm", usual=usual_figures.SCREW_LONG_MM),
    ] = None  # fmt: skip
    head_diameter: Annotated[
        Known | None,
        Ask(
            "Head, diameter",
            unit="mm",
            low=0.8,
            high=60.0,
            example="7.6 mm",
            usual=usual_figures.SCREW_HEAD_MM,
        ),
    ] = None
    head_height: Annotated[
        Known | None,
        Ask(
            "Head, height",
            unit="mm",
            low=0.2,
            high=40.0,
            example="2.6 mm",
            usual=usual_figures.SCREW_HEAD_TALL_MM,
        ),
    ] = None
    slot_wide: Annotated[
        Known | None,
        Ask(
            "Slot, width",
            unit="mm",
            low=0.1,
            high=10.0,
            example="0.8 mm",
            usual=usual_figures.SLOT_MM,
        ),
    ] = None
    slot_deep: Annotated[
        Known | None,
        Ask(
            "Slot, depth",
            unit="mm",
            low=0.1,
            high=20.0,
            example="1.1 mm",
            usual=usual_figures.SLOT_MM,
        ),
    ] = None
    material: Annotated[
        str,
        Ask(
            "Material",
            "As the original's if it is known; a file tells soft iron from steel.",
            example="mild steel, blued after turning",
        ),
    ] = ""
    name: Annotated[str, Ask("Which screw", example="needle plate, left")] = ""


@dataclass(frozen=True)
class Spare:
    """A spare: limits of its thread in mm, and lengths from under the head."""

    asked: SpareAsked
    major: tuple[float, float]
    minor: float
    threaded: float
    head_height: float
    head_diameter: float


def spare(_inputs: Nothing, asked: SpareAsked, _steps: Steps) -> Spare:
    """Work the spare's limits out.

    Raises
    ------
    CareError
        When pitch, head or slot cannot belong to this screw.
    """
    diameter, pitch, length = asked.diameter.value, asked.pitch.value, asked.length.value
    if pitch > 0.6 * diameter:
        raise CareError(
            f"A pitch of {pitch:g} mm on a diameter of {diameter:g} mm cannot be: check both."
        )
    threaded = length if asked.threaded is None else asked.threaded.value
    if threaded > length + 1e-9:
        raise CareError(
            f"{threaded:g} mm threaded on a length of {length:g} mm cannot be: measure again."
        )
    wide = asked.head_diameter.value if asked.head_diameter is not None else 0.0
    tall = asked.head_height.value if asked.head_height is not None else 0.0
    if asked.head == "round" and not tall:
        tall = _ROUND * wide
    if asked.head != "none" and not (wide and tall):
        raise CareError("The head's diameter and height are not given: measure the old one's.")
    if asked.head != "none" and wide <= diameter:
        raise CareError(
            f"A head of {wide:g} mm is no wider than the thread of {diameter:g} mm: choose none, "
            "or measure again."
        )
    deep = asked.slot_deep.value if asked.slot_deep is not None else 0.0
    if deep and asked.head != "none" and deep >= tall:
        raise CareError(f"A slot {deep:g} mm deep goes through a head of {tall:g} mm.")
    across = asked.slot_wide.value if asked.slot_wide is not None else 0.0
    if across >= (wide or diameter):
        raise CareError(
            f"A slot {across:g} mm wide leaves nothing of a head of {wide or diameter:g} mm: give "
            "the width of its gap, which the screwdriver's blade fills."
        )
    # ISO 965-1: allowance g and tolerance of grade 6, in micrometres
    allowance = 15.0 + 11.0 * pitch
    tolerance = 180.0 * pitch ** (2.0 / 3.0) - 3.15 / math.sqrt(pitch)
    high = diameter - allowance / 1000.0
    nearest = min(_DEPTHS, key=lambda one: abs(one - asked.angle))
    depth = _DEPTHS[nearest] * pitch
    return Spare(
        asked,
        (high - tolerance / 1000.0, high),
        high - 2.0 * depth,
        threaded,
        tall if asked.head != "none" else 0.0,
        wide if asked.head != "none" else 0.0,
    )


def spare_lines(found: Spare) -> dict[str, list[list[Place]]]:
    """By kind of line, the polylines of the side view and, to its right, the view on the head.

    In mm, x along the axis with 0 under the head, y from the axis upward.
    """
    asked = found.asked
    radius, core = asked.diameter.value / 2.0, found.minor / 2.0
    length, tall, half = asked.length.value, found.head_height, found.head_diameter / 2.0
    begins = length - found.threaded
    bevel = radius - core
    outline: list[Place] = [(0.0, radius), (length - bevel, radius), (length, core)]
    lines: dict[str, list[list[Place]]] = {"outline": [], "thin": [], "axis": []}
    top = _head(asked.head, tall, half, radius)
    upper = [*top, *outline]
    lines["outline"].append([*upper, *[(x, -y) for x, y in reversed(upper)], upper[0]])
    for sign in (1.0, -1.0):
        lines["thin"].append([(begins, sign * core), (length, sign * core)])
    if found.threaded < length:
        lines["outline"].append([(begins, radius), (begins, -radius)])
    lines["axis"].append([(-tall - 3.0, 0.0), (length + 3.0, 0.0)])
    end = -tall if asked.head != "none" else 0.0
    seen = half if asked.head != "none" else radius
    if asked.slot_deep is not None and asked.slot_wide is not None:
        deep, wide = asked.slot_deep.value, asked.slot_wide.value / 2.0
        lines["outline"].append(
            [(end, wide), (end + deep, wide), (end + deep, -wide), (end, -wide)]
        )
    middle = length + 12.0 + seen
    ring = [2.0 * math.pi * n / 96.0 for n in range(97)]
    lines["outline"].append([(middle + seen * math.cos(t), seen * math.sin(t)) for t in ring])
    if asked.slot_wide is not None:
        wide = asked.slot_wide.value / 2.0
        reach = math.sqrt(max(seen * seen - wide * wide, 0.0))
        for sign in (1.0, -1.0):
            lines["outline"].append([(middle - reach, sign * wide), (middle + reach, sign * wide)])
    lines["axis"].append([(middle - seen - 3.0, 0.0), (middle + seen + 3.0, 0.0)])
    return lines


def _head(head: str, tall: float, half: float, radius: float) -> list[Place]:
    """The upper half of the head's outline, from the axis at its top to under it."""
    if head == "none":
        return [(0.0, 0.0)]
    if head == "countersunk":
        return [(-tall, 0.0), (-tall, half), (0.0, radius)]
    if head == "cheese":
        return [(-tall, 0.0), (-tall, half), (0.0, half)]
    dome = tall if head == "round" else 0.35 * tall
    arc = [
        (-tall + dome * (1.0 - math.sin(t)), half * math.cos(t))
        for t in (math.pi / 2.0 * (1.0 - n / 24.0) for n in range(25))
    ]
    return [*arc, (0.0, half)]


def spare_words(found: Spare) -> list[str]:
    """What stands beside the drawing: thread with limits, lengths, head, slot, material."""
    asked = found.asked
    low, high = found.major
    said = [
        f"{asked.name or 'Spare screw'}. Thread {asked.diameter.value:.3f} x "
        f"{asked.pitch.value:.4f} mm ({25.4 / asked.pitch.value:.2f} an inch), "
        f"{asked.angle:g} degrees.",
        f"Over the thread {low:.3f} to {high:.3f} mm; core {found.minor:.3f} mm; threaded "
        f"{found.threaded:.2f} of {asked.length.value:.2f} mm.",
    ]
    if asked.head != "none":
        said.append(
            f"Head {asked.head}, {found.head_diameter:.2f} mm, {found.head_height:.2f} mm high, "
            f"each ± {_FEED_MM:g} mm."
        )
    if asked.slot_wide is not None and asked.slot_deep is not None:
        said.append(
            f"Slot {asked.slot_wide.value:.2f} mm wide, {asked.slot_deep.value:.2f} mm deep."
        )
    said.append(f"Material: {asked.material or 'not said; look what the old one is'}.")
    said.append("The bar is 100 mm long. Mark the spare, so that it is known for one.")
    return said


def spare_svg(found: Spare) -> str:
    """The drawing as SVG in mm."""
    lines, words = spare_lines(found), spare_words(found)
    left, right, top = _extent(lines)
    wide = max(right - left, _BAR_MM, *(len(one) * 0.52 * _LETTER_MM for one in words))
    wide += 2.0 * _MARGIN_MM
    bar = 2.0 * top + 2.0 * _MARGIN_MM
    high = bar + _MARGIN_MM + 1.5 * _LETTER_MM * (len(words) + 1)
    looks = {
        "outline": 'stroke-width="0.35"',
        "thin": 'stroke-width="0.15"',
        "axis": 'stroke-width="0.12" stroke-dasharray="4 1 0.8 1"',
    }
    drawn = [
        f'<svg xmlns="http://www.w3.org/2000/svg" width="{wide:.4f}mm" height="{high:.4f}mm" '
        f'viewBox="0 0 {wide:.4f} {high:.4f}">',
        "<title>Spare screw, true to scale</title>",
    ]
    for kind, look in looks.items():
        for n, line in enumerate(lines[kind]):
            path = "L".join(
                f"{x - left + _MARGIN_MM:.4f} {top + _MARGIN_MM - y:.4f}" for x, y in line
            )
            drawn.append(f'<path id="{kind}-{n}" fill="none" stroke="#000" {look} d="M{path}"/>')
    drawn.append(
        f'<path id="bar" fill="none" stroke="#000" stroke-width="0.25" '
        f'd="M{_MARGIN_MM} {bar:.4f}h{_BAR_MM}"/>'
    )
    drawn.append(f'<g font-family="sans-serif" font-size="{_LETTER_MM}" fill="#000">')
    drawn += [
        f'<text x="{_MARGIN_MM}" y="{bar + 1.5 * _LETTER_MM * (n + 1.5):.3f}">{escape(one)}</text>'
        for n, one in enumerate(words)
    ]
    return "\n".join([*drawn, "</g>", "</svg>", ""])


def _extent(lines: dict[str, list[list[Place]]]) -> tuple[float, float, float]:
    """Least and greatest x, and greatest y, of all that is drawn."""
    places = [place for kind in lines.values() for line in kind for place in line]
    return min(p[0] for p in places), max(p[0] for p in places), max(p[1] for p in places)


def spare_dxf(found: Spare) -> str:
    """The drawing as DXF in mm, a layer for each kind of line."""
    document = new_document()
    space = document.modelspace()
    lines = spare_lines(found)
    for kind, polylines in lines.items():
        document.layers.add(kind.upper())
        for line in polylines:
            space.add_lwpolyline(line, dxfattribs={"layer": kind.upper()})
    document.layers.add("WORDS")
    left, _, top = _extent(lines)
    for n, word in enumerate(spare_words(found)):
        at = (left, -top - 1.5 * _LETTER_MM * (n + 2))
        text = space.add_text(word, height=_LETTER_MM, dxfattribs={"layer": "WORDS"})
        text.set_placement(at)
    return dxf_text(document)


def spare_answer(found: Spare) -> Answer:
    """Tell the spare's limits, with its drawing."""
    asked = found.asked
    grade = grade_of(_known(asked), Grade.INFERRED)
    low, high = found.major
    results = (
        Result(name="over the thread, at most", value=high, unit="mm", grade=grade),
        Result(name="over the thread, at least", value=low, unit="mm", grade=grade),
        Result(name="core", value=found.minor, unit="mm", grade=grade),
    )
    said = (
        *_doubts(asked),
        f"Turn the blank to {low:.3f} to {high:.3f} mm, cut to a core of {found.minor:.3f} mm "
        f"({(high - found.minor) / 2.0:.3f} mm deep), pitch {asked.pitch.value:.4f} mm.",
        "A worn screw is thinner than it was, and its hole wider: try the spare in the hole before "
        "the last cut. No hole is tapped anew for it.",
        f"Material: {asked.material or 'not said; look what the old one is'}.",
    )
    rows = tuple((str(n), one) for n, one in enumerate(spare_words(found), 1))
    figures = {
        "major_mm": [low, high],
        "minor_mm": found.minor,
        "pitch_mm": asked.pitch.value,
        "threaded_mm": found.threaded,
        "length_mm": asked.length.value,
    }
    files = (
        MadeFile("spare.svg", "image/svg+xml", "The spare, true to scale",
                 lambda: spare_svg(found).encode("utf-8"), on_paper=True),
        MadeFile("spare.dxf", "image/vnd.dxf", "The spare, true to scale (DXF)",
                 lambda: spare_dxf(found).encode("utf-8")),
    )  # fmt: skip
    plots = PlotsWhenSeen(lambda: [_plot(found)])
    return Answer(results, said, figures, (Table("On the drawing", ("No.", "Words"), rows),), plots,
                  files)  # fmt: skip


def _doubts(asked: SpareAsked) -> Iterator[str]:
    """What in the screw's own measures does not go together."""
    wide, pitch = asked.diameter.value, asked.pitch.value
    if not _PITCH_SHARE[0] <= pitch / wide <= _PITCH_SHARE[1]:
        way = "finer" if pitch / wide < _PITCH_SHARE[0] else "coarser"
        yield (
            f"A pitch of {pitch:g} mm is {way} than is usual on a diameter of {wide:g} mm "
            f"({_PITCH_SHARE[0] * wide:.2g} to {_PITCH_SHARE[1] * wide:.2g} mm): look whether the "
            "diameter is a radius, or a digit or the decimal comma is wrong."
        )


def _plot(found: Spare) -> Plot:
    """The side view and the view on the head, large."""
    lines = spare_lines(found)
    left, right, top = _extent(lines)
    wide, high = right - left + 2.0, 2.0 * top + 2.0
    paths = "".join(
        f'<path fill="none" stroke="currentColor" stroke-width="{0.004 * wide:.4f}" '
        f'd="M{"L".join(f"{x:.3f} {-y:.3f}" for x, y in line)}"/>'
        for kind in lines.values()
        for line in kind
    )
    svg = (
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="{left - 1:.3f} {-top - 1:.3f} '
        f'{wide:.3f} {high:.3f}"><title>The spare</title>{paths}</svg>'
    )
    words = tuple(spare_words(found)[:2])
    rows = [("What", "mm"), ("over the thread", f"{found.major[1]:.3f}"), ("core",
            f"{found.minor:.3f}")]  # fmt: skip
    return Plot("The spare, from the side and on its head", svg, words, tuple(rows))


def _known(asked: SpareAsked) -> Iterable[Known]:
    return (one for one in (asked.diameter, asked.pitch, asked.length))


SPARE_SCREW = Analysis(
    key="spare-screw",
    about="spare screw",
    question="How is the spare screw made?",
    section="care",
    inputs=Nothing,
    asked=SpareAsked,
    work=spare,
    answer=spare_answer,
    method="ironlace.care: limits of a cut thread, head and slot as measured",
    published="ISO 965-1 (6g), ISO 68-1, BS 84, BS 93, ISO 2768-1, read in secondary tables",
    subject=lambda asked: asked.name,
    hazards=("running parts",),
)

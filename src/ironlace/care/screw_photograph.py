"""An unknown screw from one photograph on a printed card, with a caliper's diameter.

The card's markers lay the photograph flat; the screw's axis lies above the card and is seen larger
by the share `height / distance of the camera`, which is taken off, with its doubt. Without a lens
and a distance, how far the camera stood is guessed as such photographs are taken (a median of
260 mm) and the pitch's interval widened by it.
"""

import math
from dataclasses import dataclass
from typing import Annotated, Final, Literal

import numpy as np
from numpy.typing import NDArray

from ironlace.care.errors import CareError
from ironlace.care.screw_lie import ScrewLie, screw_lie
from ironlace.care.thread_angle import FlankAngle, flank_angle, flanks_seen
from ironlace.care.thread_edges import ThreadEdges, thread_edges
from ironlace.care.thread_forms import ThreadNamed, ThreadReadings, name_thread
from ironlace.care.thread_pitch import DOUBT_SHARE, ThreadPitch, thread_pitch
from ironlace.evidence.analyses import Ask
from ironlace.evidence.intervals import NINETY
from ironlace.photographs import (
    GivenLens,
    Placing,
    StripLayout,
    StripSighting,
    find_strip,
    place_surface,
)

LIES: Final = {
    "": "not said: it may rest on its head",
    "level": "level, its head over the card's edge or on a packing",
}
"""What may be said of how a screw lies."""
USUAL_DISTANCE_MM: Final = 260.0
"""From which a screw is photographed close up, where nobody said (a judgement)."""
_DISTANCE_SPREAD: Final = 0.35
"""One standard deviation of its logarithm."""
_GIVEN_DISTANCE_SD: Final = 0.03
"""Of a distance that was given: measured to the lens's front, not its middle (a judgement)."""
MOST_SLANT_DEG: Final = 17.0
"""Between line of sight and the square to the axis: farther over no outline is to be trusted."""
MOST_TAPER_DEG: Final = 5.0
"""By which one end may look higher than it lies, before the screw itself must be thinner there."""
_STEEP_DEG: Final = 25.0
"""Higher than this no end of a screw lies on a card: what looks so is tapered."""
_SAID_DEG: Final = 4.0
"""By which a screw may lie off level before that is told (a judgement)."""
_SAID_SHARE: Final = 0.002
"""Of the pitch, by which that must move it to be told (a judgement)."""
_TWO_STARTS: Final = (
    "crests of both edges face each other, as of two threads cut side by side: its lead is then "
    "twice the pitch, and no form of the list is its own"
)
_AGREES_SHARE: Final = 0.07
"""Of the diameter, by which picture and caliper may differ: crests are blurred, worn, dented."""


@dataclass(frozen=True)
class FamilyShares:
    """How likely each family was held to be beforehand."""

    metric: Annotated[float, Ask("metric", low=0)] = 1.0
    unified: Annotated[float, Ask("unified", low=0)] = 1.0
    Whitworth: Annotated[float, Ask("Whitworth", low=0)] = 1.0
    BA: Annotated[float, Ask("BA", low=0)] = 1.0
    none: Annotated[float, Ask("none", low=0)] = 1.0


@dataclass(frozen=True)
class ScrewCase:
    """What goes with the photograph."""

    caliper_mm: Annotated[float, Ask("Over the thread", unit="mm", low=0.5, high=30.0)]
    axis_above_card_mm: Annotated[float, Ask("Axis above the card", unit="mm", low=0, high=60)]
    caliper_sd_mm: Annotated[float, Ask("its doubt", unit="mm", low=0.001, high=1.0)] = 0.02
    axis_sd_mm: Annotated[float, Ask("its doubt", unit="mm", low=0.0, high=10)] = 0.1
    lens: GivenLens | None = None
    camera_distance_mm: Annotated[
        float | None, Ask("Camera to card", unit="mm", low=20, high=5000)
    ] = None
    shares: FamilyShares | None = None
    lies: Annotated[Literal["", "level"], Ask("How it lies", choices=LIES)] = ""


@dataclass(frozen=True)
class ScrewFound:
    """What a photograph tells of a screw; all lengths at the screw's own axis.

    `why` says why it should not be relied on, `warnings` what weakens it without making it wrong.
    """

    pitch_mm: float
    pitch_sd_mm: float
    angle: FlankAngle
    threads: float
    named: ThreadNamed
    why: str
    warnings: tuple[str, ...]
    edges: ThreadEdges
    comb: ThreadPitch
    placing: Placing
    lie: ScrewLie

    @property
    def reliable(self) -> bool:
        """Whether the pitch may be relied on."""
        return not self.why

    def interval(self, value: float, sd: float) -> tuple[float, float, float]:
        """The middle 90 %: low, value, high."""
        return value - NINETY * sd, value, value + NINETY * sd


def measure_screw(image: NDArray[np.uint8], layout: StripLayout, case: ScrewCase) -> ScrewFound:
    """Measure and name a screw.

    Parameters
    ----------
    image
        Photograph, HxWx3 uint8 sRGB.
    layout
        The card's markers.
    case
        Caliper, height of the axis, lens or distance if known.

    Raises
    ------
    CareError, PhotographsError
        When the card or the screw cannot be read, fewer than five threads are seen, it was taken
        too slantwise, or the caliper does not agree with the picture.
    """
    sighting = find_strip(image, layout)
    placing = _placed(image, sighting, layout, case)
    shrink, _, _ = _shrink(placing, case, None)
    edges, comb = _read(image, placing, layout, case, shrink)
    _check_slant(edges)
    flanks = flanks_seen(edges, comb, shrink)
    lie = screw_lie(edges, comb, flanks, said_level=case.lies == "level")
    _check_lie(edges, comb, lie)
    shrink, shrink_sd, warned = _shrink(placing, case, lie)
    longer = shrink * lie.longer
    pitch = comb.pitch_mm * longer
    by_lie = lie.longer_sd / lie.longer
    sd = pitch * math.hypot(comb.sd_mm / comb.pitch_mm, shrink_sd / shrink, by_lie)
    angle = flank_angle(flanks, lie.oblique_deg, edges.slant_deg)
    caliper, caliper_sd = case.caliper_mm, case.caliper_sd_mm
    readings = ThreadReadings(pitch, sd, caliper, caliper_sd, angle.angle_deg, angle.sd_deg or 2.0)
    shares: dict[str, float] | None = None if case.shares is None else dict(vars(case.shares))
    doubts, told = _lie_told(lie, case)
    if comb.starts > 1:
        told = (*told, _TWO_STARTS)
    return ScrewFound(
        pitch,
        sd,
        angle,
        comb.threads,
        name_thread(readings, shares),
        "; ".join((*comb.doubts, *doubts)),
        (*told, *warned, *([angle.why] if angle.why else [])),
        edges,
        comb,
        placing,
        lie,
    )


def _lie_told(lie: ScrewLie, case: ScrewCase) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Why a pitch is unsure by how the screw lies, and what is to be said of it besides."""
    if lie.longer_sd > DOUBT_SHARE * lie.longer:
        unsure = 165 * lie.longer_sd / lie.longer
        return (
            "how level the screw lies is hardly seen, so that its pitch is known to "
            f"{unsure:.1f} % only: lay its head over the card's edge or on a packing until its "
            "axis is level, and say so",
        ), ()
    raised = abs(lie.raised_deg)
    if raised < _SAID_DEG or abs(lie.longer - 1.0) < _SAID_SHARE:
        return (), ()
    if case.lies == "level":
        return (), (
            f"it was said to lie level and is seen {raised:.0f} degrees aslant: look again",
        )
    way = "longer" if lie.longer > 1.0 else "shorter"
    return (), (
        f"the screw lies {raised:.0f} degrees aslant, so that its pitch is "
        f"{100 * abs(lie.longer - 1):.1f} % {way} than it looks, which is taken into account",
    )


def _placed(
    image: NDArray[np.uint8], sighting: StripSighting, layout: StripLayout, case: ScrewCase
) -> Placing:
    height, width = image.shape[:2]
    if case.lens is not None:
        lens = case.lens.lens
        return place_surface(image, sighting, layout, kind="plane", lens=lens)
    # a focal length to begin from: what shows the card at its size from the distance
    corners = layout.corners_mm[sighting.indices]
    sides_mm = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2)
    sides_px = np.linalg.norm(sighting.corners_px - np.roll(sighting.corners_px, 1, axis=1), axis=2)
    scale = float(np.median(sides_px / sides_mm))
    distance = case.camera_distance_mm or USUAL_DISTANCE_MM
    focal_35mm = 43.27 * scale * distance / math.hypot(width, height)
    return place_surface(image, sighting, layout, kind="plane", focal_35mm=focal_35mm)


def _read(
    image: NDArray[np.uint8], placing: Placing, layout: StripLayout, case: ScrewCase, shrink: float
) -> tuple[ThreadEdges, ThreadPitch]:
    """Edges and pitch: along the long way of what lies there or, for a stubby screw, across it.

    What cannot be read so is read once more with its shadow left out.
    """
    refused: CareError | None = None
    for shadowed in (False, True):
        for across in (False, True):
            try:
                edges = thread_edges(
                    image, placing, layout, case.caliper_mm, across=across, shadowed=shadowed
                )
                comb = thread_pitch(edges, case.caliper_mm)
                _check_caliper(comb, shrink, case)
            except CareError as error:
                refused = refused or error
            else:
                return edges, comb
    assert refused is not None
    raise refused


def _shrink(
    placing: Placing, case: ScrewCase, lie: ScrewLie | None
) -> tuple[float, float, list[str]]:
    """From the card's plane to the axis's: the factor, its standard deviation, and warnings.

    Before it is known how the screw lies, as if it lay level.
    """
    seen = abs(float((-placing.rotation.T @ placing.translation)[2]))
    warned = []
    if case.lens is not None:
        distance, spread = seen, 0.01
        said = case.camera_distance_mm
        if said is not None and abs(seen / said - 1) > 0.15:
            warned.append(
                f"by the lens the camera stood {seen:.0f} mm off and not {said:g}: the lens is used"
            )
    elif case.camera_distance_mm is not None:
        distance, spread = case.camera_distance_mm, _GIVEN_DISTANCE_SD
    else:
        spread = min(_DISTANCE_SPREAD, _distance_spread(placing, seen))
        distance = seen
        if case.axis_above_card_mm > 0:
            warned.append(
                "neither lens nor camera distance is known, so that the pitch is less sure: give "
                "camera_distance_mm, or lay the card on a packing as high as the screw's axis"
            )
    axis, axis_sd = case.axis_above_card_mm, case.axis_sd_mm
    if lie is not None and abs(axis - case.caliper_mm / 2) < 2 * axis_sd:
        # half the diameter is the axis's height at the end that touches the card
        axis, axis_sd = axis + lie.rise_mm, math.hypot(axis_sd, lie.rise_sd_mm)
    if case.axis_above_card_mm > 0.4 * distance:
        raise CareError(
            f"The screw's axis cannot lie {case.axis_above_card_mm:g} mm above the card when the "
            f"camera stands {distance:.0f} mm off: check both figures."
        )
    share = axis / distance
    sd = math.hypot(axis_sd / distance, share * spread)
    return 1.0 - share, sd, warned


def _distance_spread(placing: Placing, seen: float) -> float:
    """How unsure the camera's distance is, as a share, by the adjustment to the markers."""
    at = placing.parameter_names.index("move_z")
    return max(0.02, math.sqrt(float(placing.parameter_covariance[at, at])) / seen)


def _check_slant(edges: ThreadEdges) -> None:
    if edges.slant_deg > MOST_SLANT_DEG:
        raise CareError(
            f"The screw is seen {edges.slant_deg:.0f} degrees slantwise: hold the camera square "
            "above the card."
        )


def _check_lie(edges: ThreadEdges, comb: ThreadPitch, lie: ScrewLie) -> None:
    height = float(edges.eye_mm[2])
    looks = math.degrees(math.atan(comb.widening * height))
    sure = math.hypot(math.degrees(math.atan(comb.widening_sd * height)), lie.raised_sd_deg)
    if abs(looks - lie.raised_deg) > MOST_TAPER_DEG + 3.0 * sure:
        what = (
            "The screw is thinner at one end than at the other: a tapered thread is not measured, "
            "nor one worn away at its end; type the readings of a thread gauge."
            if abs(looks) > _STEEP_DEG
            else f"The screw lies slantwise, one end about {abs(looks):.0f} degrees higher (or it "
            "is tapered): lay it level, its head over the card's edge or on a packing, and "
            "photograph it again."
        )
        raise CareError(what)
    if lie.oblique_deg > MOST_SLANT_DEG:
        raise CareError(
            f"The screw is seen {lie.oblique_deg:.0f} degrees slantwise: lay it level, "
            "its head over the card's edge or on a packing, and photograph it again."
        )


def _check_caliper(comb: ThreadPitch, shrink: float, case: ScrewCase) -> None:
    seen = comb.width_mm * shrink
    allowed = 4 * case.caliper_sd_mm + max(0.12, _AGREES_SHARE * case.caliper_mm)
    if abs(seen - case.caliper_mm) <= allowed:
        return
    inches = " (a card in mm typed as inches, or a caliper in inches?)"
    ratio = seen / case.caliper_mm
    hint = inches if 20 < ratio < 32 or 1 / 32 < ratio < 1 / 20 else ""
    raise CareError(
        f"In the picture the thread is {seen:.2f} mm over its crests and by the caliper "
        f"{case.caliper_mm:g} mm{hint}: measure again, and check the card's printed scale."
    )

"""What is asked for the motion of a head, and the limits that its timing is held against."""

from dataclasses import dataclass
from typing import Annotated, Literal

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Ask, Known, KnownTable

EXAMPLE = """wheel [deg];needle bar [mm]
0;41.2
30;37.8
60;30.5
90;22.3
120;15.4
150;11.5
180;10.4
210;12.2
240;17.4
270;24.7
300;32.4
330;39.2"""
"""Readings of an evening, invented: a crank of 15.5 mm."""

_LENGTHS = "Your own figure; left out, what is said of rotary hooks is shown for comparison only."


@dataclass(frozen=True)
class MotionAsked:
    """What is asked for the motion of needle bar, shuttle, take-up and feed."""

    readings: Annotated[
        KnownTable,
        Ask(
            "Readings by wheel angle",
            "Columns: wheel [deg] and any of needle bar, shuttle, take-up, feed, feed lift [mm]; "
            "opposite [deg] for a second pointer, way (1 as it sews, -1 turned back; a part that "
            "sticks shows by some eight of these alone). Heights grow "
            "as the part rises: one measured from above tells lowest for highest. Read needle bar "
            "and shuttle at the same setting of the wheel. Rows in the order they were taken.",
            long=True,
            example=EXAMPLE,
        ),
    ]
    turning: Annotated[
        Literal["unsaid", "rise", "fall"],
        Ask(
            "As the machine sews, the disc's numbers",
            "At a fixed pointer. A wheel whose top turns towards you may need the disc printed for "
            "that way. Unsaid, they are taken to rise, and what rests on it is conjectured.",
            choices={"unsaid": "not said", "rise": "rise", "fall": "fall"},
        ),
    ] = "unsaid"
    wheel_top: Annotated[
        Literal["unsaid", "away", "towards"],
        Ask(
            "As the machine sews, the top of its wheel turns",
            "Seen from where you sit. Nothing is computed from it: the head is drawn turning so.",
            choices={"unsaid": "not said", "away": "away from you", "towards": "towards you"},
        ),
    ] = "unsaid"
    lowest_seen: Annotated[
        Known | None,
        Ask(
            "What the disc shows with the needle at its lowest, by looking",
            "Turn until the needle is lowest, and read the disc; to 20° is enough. It shows a "
            "needle bar that was measured from above, which otherwise tells its highest point for "
            "its lowest. Half way between two angles at which it stands equally high is good to "
            "3°: written after the ±, that shows angles counted from another mark too.",
            unit="deg",
            low=-360.0,
            high=720.0,
            example="185 deg",
        ),
    ] = None
    meeting: Annotated[
        Known | None,
        Ask(
            "Shuttle's reading when its point stands at the needle",
            "On the same scale as the shuttle's column.",
            unit="mm",
            low=-1000.0,
            high=1000.0,
            example="24.0 ± 0.1 mm",
        ),
    ] = None
    eye_below: Annotated[
        Known | None,
        Ask(
            "Top of the eye below the shuttle point's path, needle at its lowest",
            "With the needle that will be used, pushed fully up.",
            unit="mm",
            low=-10.0,
            high=30.0,
            example="3.2 ± 0.1 mm",
            usual=usual_figures.EYE_BELOW_MM,
        ),
    ] = None
    clearance: Annotated[
        Known | None,
        Ask(
            "Clearance between shuttle point and needle",
            "With feeler leaves, the point just at the needle.",
            unit="mm",
            low=0.0,
            high=5.0,
            example="0.10 ± 0.03 mm",
            usual=usual_figures.CLEARANCE_MM,
        ),
    ] = None
    rise_low: Annotated[
        Known | None,
        Ask(
            "Least needle rise wanted",
            _LENGTHS,
            unit="mm",
            low=0.0,
            high=20.0,
            more=True,
            usual=usual_figures.RISE_MM,
        ),
    ] = None
    rise_high: Annotated[
        Known | None,
        Ask(
            "Greatest needle rise wanted",
            unit="mm",
            low=0.0,
            high=20.0,
            more=True,
            usual=usual_figures.RISE_MM,
        ),
    ] = None
    eye_low: Annotated[
        Known | None,
        Ask("Eye below the point at the meeting, at least", unit="mm", low=-5, high=20, more=True),
    ] = None
    eye_high: Annotated[
        Known | None,
        Ask("Eye below the point at the meeting, at most", unit="mm", low=-5, high=20, more=True),
    ] = None
    clearance_low: Annotated[
        Known | None,
        Ask(
            "Least clearance wanted",
            unit="mm",
            low=0.0,
            high=5.0,
            more=True,
            usual=usual_figures.CLEARANCE_MM,
        ),
    ] = None
    clearance_high: Annotated[
        Known | None,
        Ask(
            "Greatest clearance wanted",
            unit="mm",
            low=0.0,
            high=5.0,
            more=True,
            usual=usual_figures.CLEARANCE_MM,
        ),
    ] = None
    height_error: Annotated[
        Known | None,
        Ask(
            "Error of one height",
            "One standard uncertainty; left out, 0.1 mm is begun with (common practice, no source) "
            "and the readings decide.",
            unit="mm",
            low=0.005,
            high=2.0,
            more=True,
            example="0.1 mm",
        ),
    ] = None
    angle_error: Annotated[
        Known | None,
        Ask(
            "Error of one angle",
            "One standard uncertainty; left out, 2° is begun with (common practice, no source) and "
            "the readings decide.",
            unit="deg",
            low=0.02,
            high=10.0,
            more=True,
            example="2 deg",
        ),
    ] = None
    centring: Annotated[
        Known | None,
        Ask(
            "How far one pointer's angle may be off, the disc not being centred",
            "One standard uncertainty: 1 mm off centre on a disc of 120 mm is 1°. A second pointer "
            "opposite makes it needless.",
            unit="deg",
            low=0.0,
            high=15.0,
            more=True,
            example="1 deg",
        ),
    ] = None


HEIGHT_ERROR_MM = 0.1
"""Standard uncertainty of a height read with a calliper on a rod: common practice, no source."""

ANGLE_ERROR_DEG = 2.0
"""Standard uncertainty of an angle set and read on a paper disc: common practice, no source."""


@dataclass(frozen=True, slots=True)
class Limits:
    """Between what a figure should lie, and whose word that is."""

    low: float | None
    high: float | None
    own: bool

    def in_words(self) -> str:
        """Such as `1.8 to 2.5 mm`."""
        if self.low is None:
            return f"at most {self.high:g} mm"
        if self.high is None:
            return f"at least {self.low:g} mm"
        return f"{self.low:g} to {self.high:g} mm"


OF_ROTARY_HOOKS = {"rise": (1.8, 2.5), "eye": (0.5, 1.5), "clearance": (0.02, 0.3)}
"""Needle rise, eye below the point, clearance, mm, as makers' adjustment manuals of rotary-hook
machines print them; none is of a long or vibrating shuttle, and nothing was found for those."""


def limits_of(asked: MotionAsked, what: str) -> Limits:
    """The limits of `rise`, `eye` or `clearance`: the user's own, else those of rotary hooks."""
    low: Known | None = getattr(asked, f"{what}_low")
    high: Known | None = getattr(asked, f"{what}_high")
    if low is None and high is None:
        return Limits(*OF_ROTARY_HOOKS[what], own=False)
    return Limits(low.value if low else None, high.value if high else None, own=True)

"""What is asked for the needle thread through one turn."""

from dataclasses import dataclass, field
from typing import Annotated, Literal

from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Ask, Known, KnownTable
from ironlace.running.needles.thread_use import COUNTED, FOLDED, STITCH

EXAMPLE = """wheel [deg];needle bar [mm];take-up [mm]
0;11.4;38.9
15;10.4;34.1
30;10.7;29.4
45;11.8;24.5
60;14.1;20.8
75;17.1;19.1
90;20.5;19.1
105;24.2;19.3
120;27.7;19.8
135;30.9;20.2
150;33.6;20.9
165;35.7;22.2
180;36.8;26.5
195;37.6;35.7
210;37.5;46.6
225;36.8;56.1
240;35.0;64.2
255;32.8;71.2
270;29.9;74.1
285;26.6;70.9
300;22.9;64.1
315;19.4;57.1
330;16.1;49.9
345;13.3;44.1"""
"""Readings of an evening, invented: a needle bar that moves 27 mm, a take-up that moves 55 mm."""


@dataclass(frozen=True)
class ThreadAsked:
    """What is asked for the needle thread through one turn."""

    readings: Annotated[
        KnownTable,
        Ask(
            "Readings by wheel angle",
            "Columns: wheel [deg], needle bar [mm] and take-up [mm]; shuttle [mm] and feed [mm] "
            "when you have them. The same table as for the motion. What is not in it is not made "
            "up.",
            long=True,
            example=EXAMPLE,
        ),
    ]
    stitch: Annotated[Known, STITCH]
    thickness: Annotated[
        Known,
        Ask(
            "Thickness of the cloth, all layers",
            "Pressed as the foot presses it.",
            unit="mm",
            low=0.05,
            high=15.0,
            example="0.8 ± 0.05 mm",
            usual=usual_figures.CLOTH_MM,
        ),
    ]
    eye_at_plate: Annotated[
        Known,
        Ask(
            "Needle bar's reading with the top of the eye level with the needle plate",
            "On the scale of the needle bar's column, with the needle you sew with.",
            unit="mm",
            low=-1000.0,
            high=1000.0,
            example="25.0 ± 0.2 mm",
        ),
    ]
    given_out: Annotated[
        Known,
        Ask(
            "Thread the take-up gives out from its highest to its lowest",
            "Hold the thread at the discs and draw it straight below the take-up; mark it with the "
            "take-up highest, turn, draw it straight, measure from mark to mark.",
            unit="mm",
            low=2.0,
            high=400.0,
            example="96 ± 1 mm",
            usual=usual_figures.GIVEN_OUT_MM,
        ),
    ]
    guides: Annotated[
        KnownTable | None,
        Ask(
            "The guides before and after the take-up's eye",
            "They tell how it is shared out over the way, and check it. Two rows: how far each "
            "stands aside of the line the eye moves along, and below the eye's highest place.",
            long=True,
            columns={"aside": "mm", "below": "mm"},
            example="aside [mm];below [mm]\n12;70\n6;64",
        ),
    ] = None
    meeting: Annotated[
        Known | None,
        Ask(
            "Shuttle's reading when its point stands at the needle",
            "On the scale of the shuttle's column.",
            unit="mm",
            low=-1000.0,
            high=1000.0,
            example="24.0 ± 0.1 mm",
        ),
    ] = None
    loop: Annotated[
        KnownTable | None,
        Ask(
            "Thread round the shuttle, by how far its point is past the needle",
            "From the hole of the needle plate round the shuttle and back to the hole, laid with a "
            "thread at five or more places from the point (0 mm past) to where the heel has left "
            "the loop (0 mm of thread).",
            long=True,
            columns={"past": "mm", "loop": "mm"},
            example="past [mm];loop [mm]\n0;0\n10;44\n20;58\n32;58\n42;46\n44;0",
        ),
    ] = None
    taken: Annotated[
        Known | None,
        Ask(
            "Needle thread that one stitch took, measured",
            "Mark the thread behind the discs, sew ten stitches, measure how far the mark came, "
            "divide by ten. It checks the reckoning.",
            unit="mm",
            low=0.2,
            high=60.0,
            example="3.3 ± 0.1 mm",
            more=True,
        ),
    ] = None
    counted: Annotated[float | None, COUNTED] = field(default=None, kw_only=True)
    folded: Annotated[Known | None, FOLDED] = field(default=None, kw_only=True)
    balance: Annotated[
        float,
        Ask(
            "Share of the thickness that the needle thread goes through",
            "0.5 when both lock in the middle.",
            low=0.0,
            high=1.0,
            more=True,
        ),
    ] = 0.5
    turning: Annotated[
        Literal["unsaid", "rise", "fall"],
        Ask(
            "As the machine sews, the disc's numbers",
            "Unsaid, they are taken to rise, and all that is told is conjectured.",
            choices={"unsaid": "not said", "rise": "rise", "fall": "fall"},
        ),
    ] = "unsaid"
    seed: Annotated[
        int,
        Ask("Number that the draws of the doubts begin from", low=0, high=2**31, more=True),
    ] = 1

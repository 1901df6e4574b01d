"""Tables that cannot be used: each refused in one sentence that says what to do."""

import numpy as np
import pytest

from ironlace.evidence.analyses import asked_from
from ironlace.evidence.errors import IronlaceError
from ironlace.running.motion.motion_asked import MotionAsked
from ironlace.running.motion.motion_table import motion_table

ANGLES = range(0, 360, 30)
HEIGHTS = [41.2, 37.8, 30.5, 22.3, 15.4, 11.5, 10.4, 12.2, 17.4, 24.7, 32.4, 39.2]


def text(head="wheel_deg,needle_bar_mm", rows=None):
    rows = rows or [f"{a},{h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]
    return "\n".join([head, *rows])


def read(words, **how):
    asked = asked_from(MotionAsked, {"readings": words})
    how = {"numbers_fall": False, "height_error": 0.1, "angle_error": 0.035} | how
    return motion_table(asked.readings, **how)


@pytest.mark.parametrize(
    "head",
    ["wheel [deg],needle bar [mm]", "wheel_deg,needle_bar_mm", "Wheel (deg),Needle-bar (mm)"],
)
def test_headings_may_be_written_in_several_ways(head):
    found = read(text(head))
    assert found.motions == ("needle bar",)
    assert found.angle[1] == pytest.approx(np.radians(30.0))


def test_inches_are_turned_into_millimetres():
    rows = [f"{a},{h / 25.4:.5f}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]
    assert read(text("wheel [deg],needle bar [in]", rows)).height[0, 0] == pytest.approx(
        41.2, abs=1e-3
    )


def test_angles_run_as_the_machine_sews():
    assert read(text(), numbers_fall=True).angle[1] == pytest.approx(np.radians(-30.0))


RADIANS = [f"{np.radians(a):.4f},{h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]
SAME = [*(f"{a},{h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)), "90,31.9"]
ONCE = [f"{a},{h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (text("wheel_deg,height_mm"), "is not known here"),
        (text("needle bar [mm],shuttle [mm]"), "needs wheel"),
        (text("wheel [deg],opposite [deg]"), "at least one of needle bar"),
        (text(rows=RADIANS), "looks like radians"),
        (text("wheel_rad,needle_bar_mm", RADIANS), "read in degrees"),
        (text("wheel,needle bar [mm]"), "no unit"),
        (text("wheel [deg],needle bar"), "has no unit"),
        (text("wheel [deg],needle bar [g]"), "no length"),
        (text(rows=["nan,41.2", *ONCE[1:]]), "is not a figure"),
        (text(rows=["0,nan", *ONCE[1:]]), "is not a figure"),
        (text(rows=[",41.2", *ONCE[1:]]), "no angle"),
        (text(rows=["4000,41.2", *ONCE[1:]]), "no reading of a disc"),
        (text(rows=SAME), "read that setting a third time"),
        (text(rows=ONCE[:5]), "at least 6"),
        (text(rows=[f"{a},20" for a in ANGLES]), "in every row"),
        (
            text(rows=[f"{a},{40 * h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]),
            "check its unit",
        ),
        (text("wheel [deg],needle bar [mm],needle [mm]", [f"{r},1" for r in ONCE]), "Two columns"),
        (text("wheel [deg],needle bar [mm],way", [f"{r},2" for r in ONCE]), "1 for turned"),
        ("", "missing"),
    ],
)
def test_a_table_that_cannot_be_used_is_refused_in_a_sentence(words, says):
    with pytest.raises(IronlaceError) as caught:
        read(words)
    said = str(caught.value)
    assert says in said
    assert said.endswith(".")
    assert "\n" not in said


def test_two_pointers_give_their_mean_and_name_a_row_that_contradicts():
    rows = [f"{a},{(a + 184) % 360},{h}" for a, h in zip(ANGLES, HEIGHTS, strict=True)]
    rows[3] = "90,334,22.3"
    found = read(text("wheel [deg],opposite [deg],needle bar [mm]", rows))
    assert found.pointers_misread == (3,)
    assert np.isnan(found.height[3, 0])
    assert found.off_centre == pytest.approx(0.0, abs=1e-6)


def test_a_gap_under_the_second_pointer_is_filled_from_the_disc_as_the_others_show_it():
    turned = np.arange(0.0, 360.0, 20.0)
    tilt = 1.5 * np.sin(np.radians(turned))
    rows = [
        f"{a + t:.3f},{'' if row == 4 else f'{a - t:.3f}'},{10 + row}"
        for row, (a, t) in enumerate(zip(turned, tilt, strict=True))
    ]
    found = read(text("wheel [deg],opposite [deg],needle bar [mm]", rows))
    assert np.degrees(found.angle) == pytest.approx(turned, abs=0.1)
    assert np.degrees(found.off_centre) == pytest.approx(1.5, abs=0.1)


def test_one_angle_for_all_rows_is_not_called_radians():
    rows = "\n".join(f"90;{n}" for n in range(14))
    with pytest.raises(IronlaceError, match="Every angle of 'wheel' is 90"):
        read(f"wheel [deg];needle bar [mm]\n{rows}")

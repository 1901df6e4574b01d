"""A base as a whole: heights, what sets them, leans, and what is refused."""

from dataclasses import replace

import numpy as np
import pytest

from ironlace.stand.base import (
    BaseCase,
    BaseMeasures,
    Bed,
    CrankOnBase,
    OutlinePoint,
    base_in_words,
    base_told,
    work_out_base,
)
from ironlace.stand.base_holes import BedHole
from ironlace.stand.errors import StandError
from ironlace.stand.weighing import Weighing
from ironlace.stand.works import WorksReading

OUTLINE = tuple(OutlinePoint(x, y) for x, y in ((-110, -70), (110, -70), (110, 70), (-110, 70)))
WORKS = tuple(
    WorksReading("lever", float(a), 40.0, 10.0, -35.0 - 6.0 * np.cos(np.deg2rad(a)))
    for a in range(0, 360, 30)
)
CASE = BaseCase(
    Bed(OUTLINE, WORKS),
    BaseMeasures(
        8.0, 14.0, 10.0, 6.0, 650.0, 8.0, 5.0, ((-120, -80), (120, -80), (120, 80), (-120, 80))
    ),
    Weighing(mass_g=12_000, centre_mm=(10, -4, 120), mass_sd_g=30, centre_sd_mm=(0.5, 0.5, 3)),
    CrankOnBase(55.0, 119.0, 150.0, -1.0, 11.0, 25.0, 14.0, "top away from the sewer"),
)


def worked(case=CASE):
    return work_out_base(case, np.random.default_rng(1))


def test_the_works_set_the_height():
    told = base_told(worked())
    assert told["works_depth_mm"][1] == pytest.approx(41.0, abs=0.2)
    assert told["inner_depth_mm"] == pytest.approx(told["works_depth_mm"][1] + 8.0)
    assert told["height_mm"] == pytest.approx(told["inner_depth_mm"] + 6.0)
    assert (told["height_set_by"], told["deepest_point"]) == ("works", "lever")
    assert told["deepest_wheel_deg"] % 360 == pytest.approx(0.0, abs=4.0)


def test_a_low_crank_sets_the_height():
    low = replace(CASE, crank=replace(CASE.crank, axis_above_seat_mm=20.0))
    told = base_told(worked(low))
    assert told["height_set_by"] == "crank"
    assert told["height_mm"] == pytest.approx(55 + 11 + 25 - 20)


def test_leans_follow_the_whole():
    found = worked()
    told = base_told(found)
    behind = next(e for e in told["edges"] if e["outward"][1] > 0.9)
    height, own = told["height_mm"], told["base_mass_g"]
    z = (12_000 * (120 + height) + own * found.base_centre_mm[2]) / (12_000 + own)
    y = 12_000 * -4 / (12_000 + own)
    assert behind["free_deg"][1] == pytest.approx(np.rad2deg(np.arctan2(80 - y, z)), abs=0.01)
    assert behind["left_deg"][2] < behind["free_deg"][0]
    assert behind["slides_first"] is None
    assert all(e["free_deg"] == sorted(e["free_deg"]) for e in told["edges"])


def test_a_slippery_foot_slides_first():
    slippery = replace(CASE, base=replace(CASE.base, feet_friction=0.2))
    assert all(e["slides_first"] for e in base_told(worked(slippery))["edges"])


def test_a_strong_hand_tips_it_alone():
    strong = replace(CASE, crank=replace(CASE.crank, hand_force_N=500.0))
    found = worked(strong)
    assert min(e.left_deg.value for e in found.edges) == -90.0
    assert "hand alone" in base_in_words(found)[0]


def test_wider_feet_help_where_they_stand_wider():
    told = base_told(worked())["ready_answers"]
    assert told[0]["change"] == "as it is"
    behind = next(one for one in told if one["change"].endswith("out behind"))
    assert behind["left_deg"] > told[0]["left_deg"] + 1.0


def test_without_a_crank_there_is_no_hand():
    told = base_told(worked(replace(CASE, crank=None)))
    assert all(e["free_deg"] == e["left_deg"] for e in told["edges"])


def test_works_too_near_the_opening_are_told_first():
    near = tuple(replace(one, x_mm=98.0) for one in WORKS)
    found = worked(replace(CASE, bed=Bed(OUTLINE, near)))
    told = base_told(found)
    assert told["side_least_mm"] == pytest.approx(4.0, abs=0.3)
    assert told["side_too_near"] and "Too near" in told["warnings"][0]


REFUSED = {
    "falls over by itself": {
        "base": replace(CASE.base, feet=((20, -80), (120, -80), (120, 80), (20, 80)))
    },
    "There is no .weighing.": {"weighing": None},
    "keep one of the two": {"mass_g": 11_000.0},
}


@pytest.mark.parametrize("says", REFUSED)
def test_what_cannot_be_is_refused(says):
    with pytest.raises(StandError, match=says):
        worked(replace(CASE, **REFUSED[says]))


def test_mass_and_centre_may_stand_at_the_head_of_the_case():
    typed = replace(CASE, weighing=None, mass_g=12_000.0, centre_mm=(10.0, -4.0, 120.0))
    assert base_told(worked(typed))["mass_g"] == [12_000.0] * 3


def test_holes_of_the_bed_are_used_only_where_wood_lies_under_them():
    # the wood runs from 14 mm outside the bed to its ledge, 8 mm inside
    holes = (
        BedHole("on the ledge", -105.0, 0.0, 5.0),
        BedHole("at its edge", -103.5, 40.0, 5.0),
        BedHole("over the works", 40.0, 10.0, 5.0),
    )
    found = worked(replace(CASE, bed=replace(CASE.bed, holes=holes)))
    told = {one["name"]: one for one in base_told(found)["holes"]}
    assert told["on the ledge"]["wood_mm"] == pytest.approx(3.0 - 2.5)
    assert [one["usable"] for one in told.values()] == [False, False, False]
    assert told["over the works"]["over"] == "the opening"
    assert "None of the bed's holes" in " ".join(base_in_words(found))
    wide = worked(
        replace(
            CASE,
            bed=replace(CASE.bed, holes=holes),
            base=replace(CASE.base, ledge_mm=15.0, clearance_side_mm=1.0),
        )
    )
    told = {one["name"]: one for one in base_told(wide)["holes"]}
    assert told["on the ledge"]["wood_mm"] == pytest.approx(10.0 - 2.5)
    assert [one["usable"] for one in told.values()] == [True, True, False]
    assert "'on the ledge' and 'at its edge' may be used" in " ".join(base_in_words(wide))
    away = (BedHole("beside it", 140.0, 0.0, 5.0),)
    with pytest.raises(StandError, match="outside the bed's outline"):
        worked(replace(CASE, bed=replace(CASE.bed, holes=away)))
    with pytest.raises(StandError, match="Two holes are called"):
        worked(replace(CASE, bed=replace(CASE.bed, holes=(holes[0], holes[0]))))

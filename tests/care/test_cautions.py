"""Cautions: each says what it rests on, and stands where the step calls for it."""

import pytest

from ironlace.care import Hazard, called_for, caution_for
from ironlace.care.cautions import GENERAL, open_list


@pytest.mark.parametrize("hazard", Hazard)
def test_every_hazard_has_a_caution_that_names_a_text_or_says_it_is_general(hazard):
    caution = caution_for(hazard)
    assert caution.says.endswith(".")
    assert "memory" not in caution.founded_on
    assert "no source" not in caution.founded_on
    named = ("data sheet", "CFR", "publication", "Regulations", "L132", "guidance")
    assert caution.founded_on.startswith(GENERAL) or any(
        words in caution.founded_on for words in named
    )


def test_pvc_is_never_lasered():
    assert "hydrogen chloride" in caution_for(Hazard.LASER).says


@pytest.mark.parametrize(
    "materials",
    [
        ["light mineral oil", "cotton"],
        ["light machine oil"],
        ["Penetrating oil, drops"],
        ["sewing machine oil", "clock oil"],
    ],
)
def test_an_oil_that_does_not_dry_calls_for_no_caution_on_rags(materials):
    assert called_for([Hazard.OILY_RAGS, Hazard.RUNNING], materials) == (Hazard.RUNNING,)


@pytest.mark.parametrize(
    "materials",
    [[], ["oil"], ["cotton"], ["mineral oil", "linseed oil"], ["machine oil", "an old oil"]],
)
def test_a_caution_that_was_named_stays_unless_every_oil_is_known_not_to_dry(materials):
    assert Hazard.OILY_RAGS in called_for([Hazard.OILY_RAGS], materials)


@pytest.mark.parametrize(
    ("materials", "hazard"),
    [
        (["boiled linseed oil"], Hazard.OILY_RAGS),
        (["Tung oil"], Hazard.OILY_RAGS),
        (["gold size"], Hazard.OILY_RAGS),
        (["white spirit"], Hazard.SOLVENTS),
        (["shellac varnish"], Hazard.SOLVENTS),
    ],
)
def test_a_material_brings_its_caution_although_nobody_named_it(materials, hazard):
    assert hazard in called_for([], materials)


def test_unknown_materials_change_nothing_and_the_order_stays():
    named = (Hazard.RUNNING, Hazard.LIFTING)
    assert called_for(named, ["a stick of bamboo"]) == named


def test_the_open_list_names_every_hazard_once_with_source_and_grade():
    listed = open_list()["caution"]
    assert [Hazard(one["hazard"]) for one in listed] == sorted(
        Hazard, key=[one["hazard"] for one in listed].index
    )
    assert {one["name"] for one in listed} == {hazard.short for hazard in Hazard}
    grades = {"published", "published, secondary", "common practice", "from memory"}
    for one in listed:
        assert Hazard(one["hazard"]).short == one["name"]
        for sentence in caution_for(Hazard(one["hazard"])).sentences:
            assert sentence.says.endswith(".")
            assert sentence.source
            assert sentence.grade in grades

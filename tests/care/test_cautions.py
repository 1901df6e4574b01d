from ironlace.care import Hazard, caution_for


def test_every_hazard_has_a_caution_that_says_how_well_it_is_founded():
    for hazard in Hazard:
        caution = caution_for(hazard)
        assert caution.says.endswith(".")
        assert caution.founded_on


def test_pvc_is_never_lasered():
    assert "hydrogen chloride" in caution_for(Hazard.LASER).says

"""The centre's height by lifting, against the form published for vehicles."""

import numpy as np
import pytest

from ironlace.stand.weighing import LevelWeighing, TiltedWeighing, Weighing, balance_of


def test_the_height_is_base_by_cot_tilt_by_change_of_load_by_weight():
    # h = b cot(tilt) (W' - W) / M: Reimpell, Stoll and Betzler, The Automotive Chassis, 2nd ed.
    # 2001
    mass, base, tilt = 12_000.0, 150.0, 18.0
    level, lifted = (6500.0, 5500.0), 2300.0
    weighing = Weighing(
        0.0,
        0.0,
        0.0,
        0.0,
        0.0,
        LevelWeighing((-100.0, 100.0), (5000.0, 7000.0)),
        LevelWeighing((-75.0, 75.0), level),
        TiltedWeighing(tilt, lifted),
    )
    found = balance_of(weighing).mean
    height = base / np.tan(np.deg2rad(tilt)) * (level[1] - lifted) / mass
    assert found[3] == pytest.approx(height, rel=1e-4)
    assert found[:3] == pytest.approx([mass, 200 * 7000 / mass - 100, 150 * 5500 / mass - 75])

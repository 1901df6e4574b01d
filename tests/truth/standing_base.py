"""A base worked out from one invented case, for tests of what is made of it."""

import numpy as np

from ironlace.stand.base import BaseCase, BaseMeasures, Bed, OutlinePoint, work_out_base
from ironlace.stand.weighing import Weighing
from ironlace.stand.works import WorksReading


def worked():
    turned = np.linspace(0, 2 * np.pi, 200, endpoint=False)
    rim = [(110 * np.cos(t) ** 3 + 60 * np.cos(t), 90 * np.sin(t)) for t in turned]
    lever = [
        WorksReading("lever", float(a), 40.0, 10.0, -35.0 - 6.0 * np.cos(np.deg2rad(a)))
        for a in range(0, 360, 30)
    ]
    feet = ((-120, -80), (120, -80), (120, 80), (-120, 80))
    case = BaseCase(
        Bed(tuple(OutlinePoint(float(x), float(y)) for x, y in rim), tuple(lever)),
        BaseMeasures(8.0, 14.0, 10.0, 6.0, 650.0, 8.0, 5.0, feet),
        Weighing(mass_g=12_000, centre_mm=(10, -4, 120)),
    )
    return work_out_base(case, np.random.default_rng(1))

import numpy as np
import pytest

from ironlace.survey.errors import SurveyError
from ironlace.survey.time.months import MonthDensity, mixture


def test_month_densities():
    flat = MonthDensity.flat(1890, 1891)
    assert flat.edtf(1.0).text == "1890/1891"
    one = np.zeros(24)
    one[5] = 1.0
    spike = MonthDensity(1890, one)
    assert spike.edtf().text == "1890-06"
    mixed = mixture([(3.0, spike), (1.0, flat)])
    assert mixed.mass[5] == pytest.approx(0.75 + 0.25 / 24)
    assert sum(mixed.years().values()) == pytest.approx(1.0)
    with pytest.raises(SurveyError):
        mixture([(0.0, flat)])
    with pytest.raises(SurveyError):
        MonthDensity(1890, np.ones(5))

from dataclasses import replace

import pytest

from ironlace.survey.errors import SurveyError
from ironlace.survey.likelihood.assumptions import Assumptions


def test_they_are_told_by_name():
    given = Assumptions(misread_rate=0.1)
    assert Assumptions(**given.as_dict()) == given
    assert tuple(given.as_dict()) == Assumptions.names()


@pytest.mark.parametrize(
    ("moved", "says"),
    [
        ({"misread_rate": 0.5}, "misread rate is 0.5"),
        ({"wrong_date_rate": 0.0}, "wrong date rate is 0"),
        ({"confusable_share": 1.1}, "confusable share is 1.1"),
        ({"hindsight_factor": float("nan")}, "hindsight factor is nan"),
        ({"first_year": 1931}, "1931 to 1930"),
        ({"highest_number": 99}, "highest number is 99"),
        ({"uneven_output": 3.0}, "Uneven output is 3"),
    ],
)
def test_what_cannot_be_reckoned_with_is_refused(moved, says):
    with pytest.raises(SurveyError, match=says):
        replace(Assumptions(), **moved)

"""The reading of a plate as an analysis."""

import pytest

from ironlace.evidence.findings import Finding, Method, Result
from ironlace.evidence.grades import Grade
from ironlace.marks.reading_analysis import same_reading


def finding(row: str, **chances: str) -> Finding:
    results = tuple(
        Result(name=f"{row}, {name.replace('_', ' ')}", value=value, grade=Grade.INFERRED)
        for name, value in chances.items()
    )
    return Finding(
        about="reading of a struck plate",
        value="78",
        grade=Grade.INFERRED,
        version="0",
        method=Method(name="likelihood of strikes"),
        results=results,
    )


NOW = finding("row 1 from the top", digit_1="7 0.95", gap_after_digit_1="dot 0.02: no dot")


@pytest.mark.parametrize(
    ("kept", "says"),
    [
        (NOW, ""),
        (finding("row 0", digit_0="7 0.95", gap_after_digit_0="dot 0.02: no dot"), ""),
        (
            finding("row 0", digit_0="7 0.35", gap_after_digit_0="dot 0.02: no dot"),
            "'row 1 from the top, digit 1' comes out as 7 0.95, not 7 0.35",
        ),
        (
            finding("row 1", digit_0="7 0.95", gap_after_digit_0="dot 0.02: no dot"),
            "comes out with other places",
        ),
    ],
)
def test_a_reading_kept_when_places_were_counted_from_nought_is_compared(kept, says):
    assert same_reading(kept, NOW) == says

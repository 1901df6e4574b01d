"""Which photograph stands for the machine."""

import pytest

from ironlace.record import Photograph, PhotographRole, heading_photograph

WHOLE, FOUND, MARK = PhotographRole.WHOLE, PhotographRole.AS_FOUND, PhotographRole.MARK


@pytest.mark.parametrize(
    ("roles", "chosen"),
    [
        ([MARK, FOUND, FOUND], 1),
        ([FOUND, WHOLE, MARK], 1),
        ([WHOLE, FOUND, WHOLE], 2),
        ([MARK], None),
        ([], None),
    ],
)
def test_the_latest_of_the_whole_else_the_first_as_found(roles, chosen):
    taken = [(f"photograph {n}", Photograph(sha256="0" * 64, role=r)) for n, r in enumerate(roles)]
    assert heading_photograph(taken) == (None if chosen is None else taken[chosen])

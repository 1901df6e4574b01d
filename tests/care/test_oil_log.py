"""Another book of the same oilings: what it contradicts is named, what agrees is not."""

import pytest

from ironlace.care.errors import CareError
from ironlace.care.oil_log import days_of_log
from ironlace.care.oiling_analysis import OILING, OilingAsked
from ironlace.evidence.progress import Steps

PLACES = (
    "place,every_months,last\nneedle bar,1,1894-03-01\nshuttle race,6,1894-02-10\n"
    "arm shaft,3,1894-01-20"
)
LOG = (
    "place,day\nNeedle bar,1894-01-28\nneedle bar,1894-03-01\nshuttle race,1893-08-12\n"
    "shuttle race,1894-02-10\narm shaft,1894-01-20"
)


def said(places, log=LOG):
    asked = OilingAsked(places, log=log)
    return OILING.answer(OILING.work(None, asked, Steps())).sentences


def test_a_book_that_agrees_changes_nothing():
    assert said(PLACES) == said(PLACES, "")


def test_rows_that_stand_elsewhere_are_named_first():
    turned = (
        "place,every_months,last\nneedle bar,6,1894-02-10\nshuttle race,1,1894-03-01\n"
        "arm shaft,3,1894-01-20"
    )
    last, often = said(turned)[:2]
    assert "place 1 (needle bar) on 1894-03-01, by its row on 1894-02-10" in last
    assert "place 2 (shuttle race)" in last
    assert "place 3" not in last
    assert "place 1 (needle bar) every 32 days, by its row every 181" in often


def test_a_book_of_other_places_is_said_and_one_that_cannot_be_read_is_refused():
    assert "names none of the 3 places" in said(PLACES, "place,day\ntreadle,1894-01-01")[0]
    with pytest.raises(CareError, match="first line must be headings"):
        said(PLACES, "spot,day\nneedle bar,1894-01-01")
    with pytest.raises(CareError, match="give the day"):
        days_of_log("place,day\nneedle bar,about 1894")

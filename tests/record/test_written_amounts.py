"""Hours and money as people write them."""

from decimal import Decimal

import pytest

from ironlace.record.written_amounts import AmountError, read_hours, read_money


@pytest.mark.parametrize(
    ("written", "minutes"),
    [
        ("2.5", 150),
        ("2,5", 150),
        ("2,5 h", 150),
        ("1h30", 90),
        ("1 h 30 min", 90),
        ("1 hour and 30 minutes", 90),
        ("1:30", 90),
        ("0:45", 45),
        ("90 min", 90),
        ("90min.", 90),
        ("3", 180),
        ("3 hours", 180),
        ("1 1/2 h", 90),
        ("½", 30),
        ("1½", 90),
        ("1 ¾ h", 105),
        ("0.25", 15),
        (".5", 30),
    ],
)
def test_hours(written, minutes):
    assert read_hours(written) * 60 == minutes


def test_minutes_that_are_no_hundredth_are_told_to_two_places():
    told = [str(read_hours(text)) for text in ("20 min", "0:40", "1h05")]
    assert told == ["0.33", "0.67", "1.08"]


@pytest.mark.parametrize(
    ("written", "cents"),
    [
        ("12,50", 1250),
        ("12.50", 1250),
        ("12", 1200),
        ("12,-", 1200),
        ("1 234,50", 123450),
        ("1'234.50", 123450),
        ("1.234,50", 123450),
        ("1,234.50", 123450),
        ("1.234.567", 123456700),
        ("0,05", 5),
    ],
)
def test_money(written, cents):
    assert read_money(written) == Decimal(cents) / 100


@pytest.mark.parametrize("figure", ["1,234", "1.234", "12,500"])
def test_a_figure_that_could_be_two_amounts_is_asked_about(figure):
    with pytest.raises(AmountError, match="could be two amounts"):
        read_money(figure)
    with pytest.raises(AmountError, match="could be two amounts"):
        read_hours(figure)


def test_what_cannot_be_thousands_is_no_doubt():
    assert read_hours("0.125") == Decimal("0.125")


@pytest.mark.parametrize("text", ["many", "-1", "1h75", "1:60", "h", "min", "1 2", "1.2.3", "two"])
def test_what_does_not_tell_hours_is_refused(text):
    with pytest.raises(AmountError):
        read_hours(text)


@pytest.mark.parametrize("text", ["", "12 €", "EUR 12", "-3", "1,2,3", "12.5.", "1e3", "free"])
def test_what_is_no_amount_is_refused(text):
    with pytest.raises(AmountError):
        read_money(text)

import pytest

from ironlace.marks.errors import MarksError
from ironlace.marks.reading.agreement import agreement


def _reader(text):
    return {("serial", 0, i): glyph for i, glyph in enumerate(text)}


def test_readers_that_agree_throughout_have_kappa_one():
    found = agreement(_reader("496217"), _reader("496217"))
    assert (found.n, found.agree, found.kappa, found.high) == (6, 1.0, 1.0, 1.0)
    many = agreement(_reader("496217" * 20), _reader("496217" * 20))
    assert found.low < 0.6  # six places prove little
    assert 0.95 < many.low < 1


def test_chance_alone_has_kappa_nought():
    found = agreement(_reader("1122"), _reader("1212"))
    assert found.kappa == pytest.approx(0.0)
    assert found.low < 0 < found.high


def test_one_glyph_only_has_no_kappa():
    found = agreement(_reader("111"), _reader("111"))
    assert (found.agree, found.kappa, found.low) == (1.0, None, None)


def test_only_places_that_both_read_count():
    found = agreement(_reader("4962"), _reader("49"))
    assert found.n == 2


def test_strangers_are_refused():
    with pytest.raises(MarksError, match="0 places in common"):
        agreement({("a", 0, 0): "1"}, {("b", 0, 0): "1"})

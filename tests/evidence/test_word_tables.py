"""Tables of words: read as written, written so that they are read again, refused in a sentence."""

import pytest

from ironlace.evidence.word_tables import WordTableError, rows_of_words, words_of_rows

COLUMNS = ("place", "last")
CALLED = ("place", "places")


def test_what_is_written_is_read_again():
    rows = [{"place": "bush, upper", "last": "1894"}, {"place": 'the "cup"', "last": ""}]
    assert rows_of_words(words_of_rows(rows, COLUMNS), COLUMNS, ["place"], CALLED) == rows


def test_tabs_serve_as_well():
    assert rows_of_words("place\tlast\na, b\t1\n", COLUMNS, ["place"], CALLED) == [
        {"place": "a, b", "last": "1"}
    ]


@pytest.mark.parametrize(
    ("table", "says"),
    [
        ("", "begins with ''"),
        ("place,colour\na,b\n", "headings"),
        ("last\n1894\n", "headings"),
        ("place,last\na,b,c\n", "Place 1 has 3 cells"),
    ],
)
def test_what_cannot_be_is_refused(table, says):
    with pytest.raises(WordTableError, match=says):
        rows_of_words(table, COLUMNS, ["place"], CALLED)

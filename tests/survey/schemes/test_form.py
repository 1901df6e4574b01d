import pytest

from ironlace.survey.errors import SchemeError
from ironlace.survey.schemes.form import ROW, WHAT, SchemeForm, as_form, from_form
from ironlace.survey.schemes.library import known_patterns
from ironlace.survey.schemes.scheme import Scheme

MORE = (
    "letter A B, ring, year counted from 1880, number in year of 4 figures from 1001",
    "month as letter, year as letter from 1885, dot sometimes, code near one value of 3 figures",
    "constant 7B, space, week of 2 figures, year of 4 figures, batch; dots without meaning",
)


@pytest.mark.parametrize(
    "scheme", [*(c.scheme for c in known_patterns()), *map(Scheme.parse, MORE)]
)
def test_a_scheme_goes_through_the_form_unchanged(scheme):
    form = as_form(scheme)
    assert from_form(form) == scheme
    assert all(set(row) == set(ROW) for row in form.rows)
    assert {row["what"] for row in form.rows} <= {word for word, _ in WHAT}


def test_empty_rows_are_passed_over():
    form = SchemeForm(({"what": "month"}, {"what": ""}, {"what": "dot"}, {"what": "year"}))
    assert str(from_form(form)) == "month, dot, year"


@pytest.mark.parametrize(
    ("rows", "says"),
    [
        ((), "no row"),
        (({"what": "moon"},), "Row 1: 'moon'"),
        (({"what": "number", "counted": "moon"},), "Row 1: a number runs"),
        (({"what": "constant"},), "is no part of a mark"),
        (({"what": "code", "figures": "x"},), "is no part of a mark"),
    ],
)
def test_what_a_form_cannot_say_is_told(rows, says):
    with pytest.raises(SchemeError, match=says):
        from_form(SchemeForm(rows))

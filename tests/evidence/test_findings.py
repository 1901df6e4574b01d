import pytest
from pydantic import ValidationError

from ironlace.evidence.findings import Finding, Interval, Method, checksum_of
from ironlace.evidence.grades import Grade, weakest

SHA = "a" * 64


def finding(**changes):
    values = {
        "about": "date of making",
        "value": "1893",
        "inputs": {"reports": SHA},
        "method": Method(name="comparison", parameters={"error_rate": 0.02}),
        "version": "0.1.0",
    }
    return Finding(**(values | changes))


def test_the_fingerprint_changes_with_whatever_could_change_the_value():
    first = finding()
    assert first.fingerprint() == finding().fingerprint()
    changed = [
        finding(value="1894"),
        finding(inputs={"reports": "b" * 64}),
        finding(method=Method(name="comparison", parameters={"error_rate": 0.03})),
        finding(version="0.1.1"),
        finding(grade=Grade.CONJECTURED),
    ]
    assert len({first.fingerprint(), *(other.fingerprint() for other in changed)}) == 6


def test_the_fingerprint_does_not_hang_on_wording():
    assert finding(sentence="made in 1893").fingerprint() == finding().fingerprint()


def test_a_finding_goes_to_json_and_back():
    first = finding(interval=Interval(low="1893-01", high="1893-12", coverage=0.9))
    assert Finding.model_validate_json(first.model_dump_json()) == first


def test_an_interval_has_its_ends_in_order():
    with pytest.raises(ValidationError):
        Interval(low=3.0, high=2.0, coverage=0.9)


@pytest.mark.parametrize(
    ("low", "high", "words"),
    [
        (3.0, 5.0, "between 3 and 5 (90 %)"),
        (None, 5.0, "up to 5 (90 %)"),
        (3.0, None, "from 3 (90 %)"),
    ],
)
def test_interval_in_words(low, high, words):
    assert Interval(low=low, high=high, coverage=0.9).in_words() == words


def test_the_checksum_is_of_the_value_not_of_its_spelling():
    assert checksum_of({"a": [1, 2.5], "b": "·"}) == checksum_of({"b": "·", "a": [1, 2.5]})
    assert checksum_of({"a": 1}) != checksum_of({"a": "1"})


def test_a_chain_is_as_strong_as_its_weakest_grade():
    assert weakest(Grade) is Grade.CONJECTURED
    with pytest.raises(ValueError, match="at least one"):
        weakest([])


def test_grades_differ_in_pattern_as_well_as_in_word():
    assert len({grade.dash_mm for grade in Grade}) == len({g.meaning for g in Grade}) == len(Grade)


def test_an_interval_whose_ends_are_one_is_told_once():
    assert Interval(low="1888-02", high="1888-02", coverage=0.9).in_words() == ("1888-02 (90 %)")
    assert Interval(low=3, high=3, coverage=0.9).in_words("mm") == "3 mm (90 %)"
    assert Interval(low=3, high=4, coverage=0.9).in_words("mm") == "between 3 and 4 mm (90 %)"

import pytest

from ironlace.evidence.markings import parse_marking
from ironlace.survey import Report, compare
from ironlace.survey.answers.other_readings import other_reading

TWELVE = (
    "6.80.217 11.81.30 7.82.412 2.83.118 12.84.77 9.85.301 1.80.140 6.81.255 3.83.9 10.85.188 "
    "5.84.33 4.81.45"
)


@pytest.fixture(scope="module")
def lead():
    reports = [Report(f"R{i}", parse_marking(m)) for i, m in enumerate(TWELVE.split())]
    found = compare(reports)
    return found, found.best


@pytest.mark.parametrize(
    ("read", "struck", "slip"),
    [
        ("2.18.45", "2·81·45", "changed round"),
        ("13.82.20", "1[012]·82·20", "taken for"),
        ("2.3345", "2·33·45|2·83·345|2·83·45", ""),
        ("4.8.2.17", "4·82·17", "pit"),
    ],
)
def test_the_likeliest_slip_is_offered(lead, read, struck, slip):
    found, best = lead
    other = other_reading(
        "R1", parse_marking(read), best.candidate.scheme, best.state, found.assumptions
    )
    assert other is not None and other.times > 1
    if slip:
        assert slip in other.sentence("it")
        said = str(other.mark)
        assert said == struck or said in [struck.replace("[012]", n) for n in "012"]


@pytest.mark.parametrize("read", ["6.82.20", "11.85.300"])
def test_a_mark_that_fits_is_left_alone(lead, read):
    found, best = lead
    mark = parse_marking(read)
    assert not other_reading("R", mark, best.candidate.scheme, best.state, found.assumptions)


def test_an_ill_fitting_report_is_named_with_its_other_reading():
    text = f"{TWELVE} 2.18.45"
    found = compare([Report(f"R{i}", parse_marking(m)) for i, m in enumerate(text.split())])
    assert found.badly_fitting == ("R12",)
    assert [str(o.mark) for o in found.other_readings] == ["2·81·45"]
    assert found.as_dict()["other_readings"][0]["mark"] == "2·81·45"
    assert any("R12 would fit" in said for said in found.sentences())

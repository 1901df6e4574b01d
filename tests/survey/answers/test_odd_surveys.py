"""Surveys as they come: odd files and odd marks give an answer or one sentence, never a fault."""

import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.survey import COMPARE, COUNT, DATE, NEXT, SURVIVORS

ODD = {
    "byte order mark and semicolons": (
        "\ufeffid;mark;dated;dated_kind\r\nA;4.96.217;1896-07;sold\r\n"
    ),
    "tabs and strokes": "id\tmark\r\nA\t4/96/217\r\nB\t11/95/30\r\n",
    "columns without a heading": "id,mark,,\nA,4.96.217,,\nB,5.96.3,x,\n",
    "one report": "id,mark\nA,4.96.217\n",
    "unread glyphs": "id,mark\nA,?.9?.217\nB,[13]1.95.30\nC,???\n",
    "one machine over and over": "id,mark\n" + "".join(f"r{i},4.96.217\n" for i in range(6)),
    "dots alone": "id,mark\nA,···\nB,4.9\nC,°\n",
    "letters apart": "id,mark\nA,K 12345\nB,K 13001\nC,L 2001\nD,M-301\n",
    "lots": "id,mark\nA,12-44\nB,12-71\nC,13-2\n",
    "huge and naught": "id,mark\nA,123456789012345\nB,4\nC,0\nD,007\n",
    "figures of other scripts": "id,mark\nA,４.９６.２１７\nB,٤.٩٦.٢١٨\n",
    "far off dates": "id,mark,dated,dated_kind\nA,4.96.217,1650,at\nB,5.96.9,2020,not before\n",
    "open dates": "id,mark,dated,dated_kind\nA,4.96.217,1893/..,at\nB,5.96.9,../1900,sold\n",
}


@pytest.mark.parametrize("text", list(ODD.values()), ids=list(ODD))
def test_every_question_is_answered(ask, text):
    told = ask(COMPARE, text)[1]
    assert sum(s["posterior"] for s in told["schemes"]) == pytest.approx(1.0)
    assert ask(DATE, text, of="4.96.217")[1]["edtf"]
    assert ask(SURVIVORS, text)[1]["sentences"]
    try:
        assert ask(COUNT, text)[1]["sentences"]
    except IronlaceError as error:
        assert str(error).endswith(".")


@pytest.mark.parametrize("name", ["dots alone", "letters apart", "far off dates"])
def test_what_to_ask_for_next_is_answered(ask, name):
    assert ask(NEXT, ODD[name])[1]["kinds"][0]["bits"] >= 0


def test_figures_of_any_script_are_the_same(ask):
    found = ask(COMPARE, ODD["figures of other scripts"])[0].comparison
    assert [str(r.mark) for r in found.reports] == ["4·96·217", "4·96·218"]
    dated = ask(DATE, ODD["one report"], of="４．９６．２１７")[0].dating
    assert dated.mark == found.reports[0].mark


@pytest.mark.parametrize("text", ["", "id,mark\n", "4.96.217\n11.95.30\n", 'id,mark\nA,"4.9\n'])
def test_what_is_no_survey_is_told(ask, text):
    for question in (COMPARE, COUNT, SURVIVORS):
        with pytest.raises(IronlaceError):
            ask(question, text)


def test_anchors_that_contradict_each_other_are_told(ask):
    numbers = "id,mark\nA,1000\nB,1500\nC,2000\n"
    falling = "serial,kind,date\n1000,at,1890\n2000,at,1880\n3000,at,1870\n"
    rising = "serial,kind,date\n1000,at,1870\n2000,at,1880\n3000,at,1890\n"

    def said(anchors):
        return " ".join(ask(DATE, numbers, of="1700", anchors=anchors)[1]["sentences"])

    assert "do not rise with the numbers" in said(falling)
    assert "do not rise" not in said(rising)


def test_a_letter_parted_from_a_running_number_is_tried_so(ask):
    found = ask(COMPARE, ODD["letters apart"])[0].comparison
    assert str(found.of("letter-running").candidate.scheme) == "letter, space, number overall"

"""Surveys as they come: odd files and odd marks give an answer or one sentence, never a fault."""

import numpy as np
import pytest

from ironlace.evidence.errors import IronlaceError
from ironlace.survey.answers.studies import (
    compare_study,
    count_study,
    date_study,
    next_study,
    survivors_study,
)

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
def test_every_question_is_answered(text):
    found = compare_study(text).as_dict()
    assert sum(s["posterior"] for s in found["schemes"]) == pytest.approx(1.0)
    assert date_study(text, "4.96.217").as_dict()["edtf"]
    assert survivors_study(text).sentences()
    try:
        assert count_study(text).sentences()
    except IronlaceError as error:
        assert str(error).endswith(".")


@pytest.mark.parametrize("name", ["dots alone", "letters apart", "far off dates"])
def test_what_to_ask_for_next_is_answered(name):
    assert next_study(ODD[name], np.random.default_rng(1)).sentences()


def test_figures_of_any_script_are_the_same():
    found = compare_study(ODD["figures of other scripts"]).comparison
    assert [str(r.mark) for r in found.reports] == ["4·96·217", "4·96·218"]
    assert date_study(ODD["one report"], "４．９６．２１７").dating.mark == found.reports[0].mark


@pytest.mark.parametrize("text", ["", "id,mark\n", "4.96.217\n11.95.30\n", 'id,mark\nA,"4.9\n'])
def test_what_is_no_survey_is_told(text):
    for study in (compare_study, count_study, survivors_study):
        with pytest.raises(IronlaceError):
            study(text)


def test_anchors_that_contradict_each_other_are_told():
    numbers = "id,mark\nA,1000\nB,1500\nC,2000\n"
    falling = "serial,kind,date\n1000,at,1890\n2000,at,1880\n3000,at,1870\n"
    rising = "serial,kind,date\n1000,at,1870\n2000,at,1880\n3000,at,1890\n"
    said = " ".join(date_study(numbers, "1700", falling).sentences())
    assert "do not rise with the numbers" in said
    assert "do not rise" not in " ".join(date_study(numbers, "1700", rising).sentences())


def test_a_letter_parted_from_a_running_number_is_tried_so():
    found = compare_study(ODD["letters apart"]).comparison
    assert str(found.of("letter-running").candidate.scheme) == "letter, space, number overall"

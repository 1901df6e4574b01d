import pytest

from ironlace.survey.errors import RowError
from ironlace.survey.reports.as_struck import as_struck, read_mark, struck_mark
from ironlace.survey.reports.table import read_reports


@pytest.mark.parametrize(
    ("cell", "mark", "left_out"),
    [
        ("Nr. 4·96·217", "4·96·217", "Nr."),
        ("No. 217", "217", "No."),
        ("no.217", "217", "no."),
        ("#217", "217", "#"),
        ("S/N: B93.4", "B93·4", "S/N:"),
        ("Serial number 4.96.2?7", "4·96·2?7", "Serial number"),
        ("№ 44", "44", "№"),
    ],
)
def test_words_for_number_are_left_out_and_said(cell, mark, left_out):
    found = as_struck(cell)
    assert (str(found.mark), found.left_out) == (mark, left_out)
    table = read_reports(f"id,mark\nA,{cell}\n")
    assert f"'{left_out}' stands before the number" in " ".join(table.remarks)


@pytest.mark.parametrize(
    "cell", ["4.96.217", "C.217", "N 217", "NO217", "G.86 214", "b93.4", "sm 1204", "{star}4.96"]
)
def test_what_may_be_struck_stays(cell):
    found = as_struck(cell)
    assert found.mark == read_mark(cell) and not found.left_out


@pytest.mark.parametrize("cell", ["NO217", "NR4.96.217", "SN?17", "No. NO217"])
def test_letters_that_may_mean_number_count_as_struck_and_are_asked_about(cell):
    table = read_reports(f"id,mark\nA,{cell}\nB,N217\nC,SNK 217\n")
    assert len(table.reports) == 3
    asked = [remark for remark in table.remarks if "is taken as struck" in remark]
    assert len(asked) == 1 and asked[0].startswith("Line 2:")


@pytest.mark.parametrize(
    "cell",
    ["n/a", "N.A.", "unknown", "Illegible", "?", "??", "-", "—", "#", "s/n", "none", "no number",
     "can't read", "not legible", "missing", "worn off", "No. ?"],
)  # fmt: skip
def test_what_says_that_nothing_is_known_is_no_letter_code(cell):
    with pytest.raises(RowError, match="no number is known") as refused:
        struck_mark(cell)
    assert refused.value.brief == "no number known"


@pytest.mark.parametrize(
    ("cell", "brief"),
    [
        ("ca. 217", "guess"),
        ("c. 217", "guess"),
        ("approx 300", "guess"),
        ("217 or 271", "words"),
        ("217 (worn)", "words"),
        ("illegible, 3 figures", "words"),
        ("Nov-86", "date made"),
        ("1896-04-01 00:00:00", "date made"),
        ("04/12/1896", "date made"),
        ("4. Okt", "date made"),
        ("04:21:07", "date made"),
        ("4.96E+11", "shortened"),
        ("#REF!", "fault"),
    ],
)
def test_guesses_words_and_what_a_spreadsheet_made_are_set_aside(cell, brief):
    with pytest.raises(RowError) as refused:
        struck_mark(cell)
    assert brief in refused.value.brief


def test_a_year_written_out_among_years_of_two_figures_is_asked_about():
    rows = ["A,4.1896.217", "B,5.95.3", "C,7.93.30", "D,1.97.412"]
    table = read_reports("\n".join(["id,mark", *rows]))
    assert [r.id for r in table.reports] == ["B", "C", "D"]
    assert "written out (1896)" in table.set_aside[0].reason
    assert len(read_reports("id,mark\nA,4.1896.217\nB,5.1895.3\n").reports) == 2

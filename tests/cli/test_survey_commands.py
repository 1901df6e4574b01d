import json
import zipfile

import pytest
from openpyxl import Workbook

from ironlace.cli import main

ROWS = [
    ("A", "C°92·38", "2019-11"),
    ("B", "C°93·94", "2021"),
    ("C", "C°94·183", "2023-06"),
    ("D", "C°95·1164", "2024-03"),
    ("E", "C°95·7", "2024"),
]
SCHEMES = "by year: letter, ring, year, dot, number in year\n"


@pytest.fixture
def run(capsys):
    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
        out, err = capsys.readouterr()
        return end.value.code or 0, out, err

    return run


@pytest.fixture
def reports(tmp_path):
    path = tmp_path / "reports.csv"
    path.write_text("id,mark,sighted\n" + "".join(f"{','.join(row)}\n" for row in ROWS))
    return path


@pytest.fixture
def schemes(tmp_path):
    path = tmp_path / "schemes.txt"
    path.write_text(SCHEMES)
    return path


def as_json(answer):
    code, out, err = answer
    assert code == 0, err
    return json.loads(out)


def test_a_date_with_anchors(run, reports, schemes, tmp_path):
    anchors = tmp_path / "anchors.csv"
    anchors.write_text("serial,kind,date\nC°94·183,sold,1894-06-02\n")
    words = ["survey", "date", reports, "--anchors", anchors, "--schemes", schemes]
    told = as_json(run(*words, "--of", "C°94·100", "--json"))
    assert told["edtf"].startswith("1894")


def test_counts_survivors_and_the_next_report(run, reports, schemes):
    assert run("survey", "count", reports, "--json")[0] == 0
    assert run("survey", "survivors", reports, "--json")[0] == 0
    first = as_json(run("survey", "next", reports, "--schemes", schemes, "--seed", "3", "--json"))
    again = as_json(run("survey", "next", reports, "--schemes", schemes, "--seed", "3", "--json"))
    assert first == again


def test_a_sheet_with_other_headers(run, tmp_path, schemes):
    book = Workbook()
    book.active.append(["Report", "Serial as read"])
    for name, mark, _ in ROWS:
        book.active.append([name, mark])
    book.save(tmp_path / "reports.xlsx")
    words = ["survey", "compare", tmp_path / "reports.xlsx", "--schemes", schemes]
    renamed = ["--column", "id=Report", "--column", "mark=Serial as read"]
    told = as_json(run(*words, *renamed, "--json"))
    assert told["reports"][0]["mark"] == "C°92·38"
    code, _, err = run(*words, "--column", "mark=Number")
    assert code == 2
    assert "no column 'Number'" in err
    assert run(*words, "--column", "mark")[0] == 2


def test_numbers_are_found_in_a_pasted_text(run, tmp_path):
    text = tmp_path / "thread.txt"
    text.write_text("Mine has C°96·412 on the plate, bought in 1987 for 20.\n")
    told = as_json(run("survey", "find", text, "--json"))
    assert "C°96·412" in [one["mark"] for one in told["found"]]


def test_a_survey_is_published_and_nothing_overwritten(run, reports, tmp_path):
    out = tmp_path / "open.csv"
    words = ["survey", "publish", reports, "--out", out, "--title", "Works C"]
    words += ["--compiled-by", "A club", "--issued", "2025-06-01"]
    told = as_json(run(*words, "--json"))
    assert told["reports"] == len(ROWS)
    metadata = json.loads((tmp_path / "open.csv-metadata.json").read_text())
    assert metadata["@context"]
    assert metadata["url"] == "open.csv"
    assert run(*words)[0] == 2


def test_a_survey_goes_out_as_one_zip_and_comes_in_again(run, tmp_path):
    source = tmp_path / "s.csv"
    source.write_text(
        'id,mark,place,note,Owner\nA,C°92.38,"Mill Lane, Coastland",from X,Mrs Unnamed\n'
    )
    out = tmp_path / "s.zip"
    words = ["survey", "publish", source, "--title", "T", "--compiled-by", "C"]
    code, _, err = run(*words, "--out", out, "--issued", "yesterday")
    assert code == 2
    assert "is not a date: write it like" in err
    assert not out.exists()
    code, told, _ = run(
        *words, "--out", out, "--issued", "2031-05-04", "--places", "last part", "--json"
    )
    assert code == 0
    assert json.loads(told)["cite_as"].startswith("C. T. 1 report, issued 2031-05-04.")
    with zipfile.ZipFile(out) as packed:
        text = packed.read("survey.csv").decode()
    assert "Coastland" in text
    for private in ("Mill Lane", "from X", "Owner", "Unnamed"):
        assert private not in text
    other = tmp_path / "other.csv"
    other.write_text("id,mark\nB,C°93.94\nC,\n")
    code, told, _ = run("survey", "merge", out, other, "--out", tmp_path / "m.csv", "--json")
    assert code == 0
    assert json.loads(told)["reports"] == 2
    assert json.loads(told)["set_aside"][0]["line"] == 3


def test_conflicts_end_a_merge_with_1(run, reports, tmp_path):
    other = tmp_path / "other.csv"
    other.write_text("id,mark,sighted\nA,C°92·39,2019-11\nZ,C°97·2,2025\n")
    code, out, _ = run("survey", "merge", reports, other, "--out", tmp_path / "m.csv", "--json")
    told = json.loads(out)
    assert (tmp_path / "m.csv").exists()
    assert code == (1 if told["conflicts"] else 0)
    assert told["reports"] >= len(ROWS) + 1


@pytest.mark.parametrize("name", ["none.csv", "binary.csv"])
def test_a_table_that_cannot_be_read_is_told(run, tmp_path, name):
    (tmp_path / "binary.csv").write_bytes(b"\xff\xfe\x00")
    code, _, err = run("survey", "compare", tmp_path / name)
    assert code == 2
    assert len(err.strip().splitlines()) == 1

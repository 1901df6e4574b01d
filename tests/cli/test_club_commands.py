"""A club's survey by commands: made, joined, exchanged with, reviewed, read by studies."""

import json

import pytest

from ironlace.cli import main
from ironlace.record import Mark, ReportEntry
from ironlace.workshop import Workshop


@pytest.fixture
def run(capsys, tmp_path):
    for folder, number in (("a", "4·92·117"), ("b", "6·93·431")):
        with Workshop.create(tmp_path / folder) as workshop:
            workshop.records.create("Test head")
            workshop.records.add("test-head", Mark(reads=number, where="bed", grade="seen"))
            report = ReportEntry(name="mill", reads=f"{number}2", grade="seen")
            workshop.records.add("test-head", report)

    def run(*words, at=None):
        capsys.readouterr()
        more = ["-w", str(tmp_path / at)] if at else []
        with pytest.raises(SystemExit) as end:
            main([*(str(word) for word in words), *more])
        out, err = capsys.readouterr()
        return end.value.code or 0, out, err

    return run


def test_a_club_is_made_joined_exchanged_with_and_read(run, tmp_path):
    club = f"sqlite:///{tmp_path / 'club.sqlite'}"
    assert run("survey", "club", "make", club)[0] == 2
    assert (
        "Treadle Circle is there, with 0 reports."
        in run("survey", "club", "make", club, "--title", "Treadle Circle")[1]
    )
    for at in "ab":
        code, out, _ = run("survey", "club", "join", "test-head", club, at=at)
        assert code == 0
        assert "2 reports go with the next exchange" in out
    code, out, _ = run("survey", "club", "exchange", "test-head", "--dry-run", at="a")
    assert out.count("\n") == 2
    assert "report 1 (new): 4·92·1172" in out
    assert "Treadle Circle: 2 sent." in run("survey", "club", "exchange", "test-head", at="a")[1]
    told = json.loads(run("survey", "club", "exchange", "test-head", "--json", at="b")[1])
    assert (len(told["sent"]), len(told["came"])) == (2, 2)
    told = json.loads(run("survey", "club", "show", "test-head", "--json", at="b")[1])
    assert (told["known"], told["goes"], told["waits"]) == (4, [], 0)
    code, out, _ = run("survey", "club", "history", club, 1)
    assert "4·92·117" in out
    assert run("survey", "club", "history", club, 9)[0] == 2
    assert "Nothing waits." in run("survey", "club", "waiting", club)[1]
    assert run("survey", "club", "decide", club, 1)[0] == 2
    assert run("survey", "club", "decide", club, 1, "--keep")[0] == 2
    out_csv = tmp_path / "reports.csv"
    assert (
        json.loads(run("survey", "club", "table", club, "--out", out_csv, "--json")[1])["rows"] == 4
    )
    assert run("survey", "club", "table", club, "--out", out_csv)[0] == 2
    by_file = json.loads(run("survey", "compare", out_csv, "--json")[1])
    by_address = json.loads(run("survey", "compare", club, "--json")[1])
    assert by_file == by_address
    assert run("survey", "club", "leave", "test-head", at="a")[0] == 0
    code, _, err = run("survey", "club", "exchange", "test-head", at="a")
    assert code == 2
    assert "kept with no club" in err


@pytest.mark.parametrize("address", ["club.example", "sqlite:////nowhere/club.sqlite"])
def test_a_way_that_leads_nowhere_is_one_sentence(run, address):
    for words in (("join", "test-head", address), ("waiting", address)):
        code, _, err = run("survey", "club", *words, at="a" if words[0] == "join" else None)
        assert code == 2
        assert err.count("\n") == 1


def test_a_file_that_is_no_clubs_is_one_sentence(run, tmp_path):
    (tmp_path / "noise").write_bytes(bytes(range(1, 256)) * 20)
    (tmp_path / "empty").write_bytes(b"")
    for file in (tmp_path / "noise", tmp_path / "empty", tmp_path / "a" / "ironlace.sqlite"):
        for words in (("survey", "club", "waiting"), ("survey", "compare")):
            code, _, err = run(*words, f"sqlite:///{file}")
            assert code == 2
            assert "no database" in err or "no club's survey" in err
            assert err.count("\n") == 1

import json

import pytest

from ironlace.cli import main
from ironlace.record import Mark, ReportEntry
from ironlace.survey.sharing.survey_zip import unzipped
from ironlace.workshop import Workshop

SLUG = "test-head"


@pytest.fixture
def run(capsys, tmp_path):
    with Workshop.create(tmp_path / "w") as workshop:
        for title, number in (("Test head", "B°92·117"), ("Wick head", "B°93·431")):
            slug = workshop.records.create(title)
            workshop.records.add(slug, Mark(reads=number, where="bed", grade="seen"))
        workshop.records.add(SLUG, ReportEntry(name="mill", reads="C°95·7", grade="seen"))

    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([*(str(word) for word in words), "-w", str(tmp_path / "w")])
        out, err = capsys.readouterr()
        return end.value.code or 0, out, err

    return run


def test_surveys_are_listed_shared_and_shown(run):
    told = json.loads(run("survey", "list", "--json")[1])["surveys"]
    assert [(one["survey"], one["reports"]) for one in told] == [("test-head-survey", 1)]
    code, out, _ = run("survey", "share", "wick-head", SLUG)
    assert code == 0
    assert "wick-head has the survey Survey of Test head now, with test-head." in out
    told = json.loads(run("survey", "show", "wick-head", "--json")[1])
    assert [one["machine"] for one in told["machines"]] == ["test-head", "wick-head"]
    assert [one["reads"] for one in told["entries"].values()] == ["C°95·7", "B°92·117", "B°93·431"]
    assert json.loads(run("survey", "show", SLUG, "--as-of", "2020", "--json")[1])["reports"] == 0
    code, _, err = run("survey", "share", "wick-head", SLUG)
    assert code == 2
    assert "already" in err
    assert "Made: river-heads." in run("survey", "new", "River heads")[1]
    assert "is called Mill heads now." in run("survey", "rename", SLUG, "Mill heads")[1]
    assert run("survey", "rename", SLUG, " ")[0] == 2


def test_an_analysis_reads_the_record_as_it_stood(run):
    code, _, err = run("work-out", "compare", SLUG, "--as-of", "2020")
    assert code == 2
    assert "no mark and no report" in err
    assert run("work-out", "compare", SLUG, "--as-of", "2099-01-01", "--json")[0] == 0
    code, _, err = run("work-out", "compare", SLUG, "--as-of", "2099", "--keep")
    assert code == 2
    assert "leave out --keep or --as-of" in err
    code, _, err = run("work-out", "compare", SLUG, "--as-of", "2020/..")
    assert code == 2
    assert "has no last day" in err


def test_a_release_is_made_and_written_out(run, tmp_path):
    told = json.loads(
        run("survey", "release", SLUG, "--compiled-by", "A Club", "--dry-run", "--json")[1]
    )
    assert (told["number"], told["kept"]) == (1, False)
    assert run("survey", "releases", SLUG)[1].strip() == "None was made yet."
    code, out, _ = run("survey", "release", SLUG, "--compiled-by", "A Club")
    assert code == 0
    assert "Released: A Club. Survey of Test head, release 1. 2 reports" in out
    out = tmp_path / "one.zip"
    assert run("survey", "releases", SLUG, "--number", 1, "--out", out)[0] == 0
    assert unzipped(out.read_bytes())[2] == 2
    assert run("survey", "releases", SLUG, "--number", 1, "--out", out)[0] == 2
    assert run("survey", "releases", SLUG, "--out", tmp_path / "two.zip")[0] == 2
    assert run("survey", "release", SLUG, "--compiled-by", "A Club")[0] == 2


def test_the_database_is_written_as_before(run, tmp_path):
    assert run("survey", "as-before", tmp_path / "old.sqlite")[0] == 0
    assert (tmp_path / "old.sqlite").is_file()
    assert run("survey", "as-before", tmp_path / "old.sqlite")[0] == 2

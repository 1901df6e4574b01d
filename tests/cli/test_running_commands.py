import json

import pytest

from ironlace.cli.program import main
from ironlace.running.motion.motion_asked import EXAMPLE as MOTION
from ironlace.running.tension.tension_told import EXAMPLE as TENSION


def run(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code


def test_motion_from_a_file_as_json(tmp_path, capsys):
    file = tmp_path / "readings.csv"
    file.write_text(MOTION, encoding="utf-8")
    assert run("running", "motion", file, "--json") in (0, None)
    told = json.loads(capsys.readouterr().out)
    assert told["motions"]["needle bar"]["stroke_mm"]["low"] < 31.1
    assert told["sentences"]
    out = tmp_path / "told.json"
    assert run("running", "motion", file, "--json", out) in (0, None)
    assert json.loads(out.read_text(encoding="utf-8")) == told
    assert told["sentences"][0] in capsys.readouterr().out


def test_tension_from_a_file_with_its_path(tmp_path, capsys):
    file, path = tmp_path / "pulls.csv", tmp_path / "path.toml"
    file.write_text(TENSION, encoding="utf-8")
    path.write_text('[[point]]\nkind = "discs"\n', encoding="utf-8")
    assert run("running", "tension", file, "--path", path, "--json") in (0, None)
    told = json.loads(capsys.readouterr().out)
    assert told["slope_gf_per_eighth"]["low"] < 3.6 < told["slope_gf_per_eighth"]["high"]
    assert told["path"]["wrap_after_deg"] == 0.0


@pytest.mark.parametrize(
    ("command", "text"),
    [
        ("motion", "wheel_deg,needle_bar_mm\n0.1,1\n1.2,2\n2.2,3\n3.3,4\n4.4,5\n5.5,6\n6.1,7\n"),
        ("motion", "angle_deg\n1\n2\n"),
        ("motion", "wheel_deg,needle_bar_mm\n10,NaN\n20,3\n"),
        ("motion", ""),
        ("tension", "turns,tension_gf\n0,0.1\n1,0.2\n2,0.4\n3,0.5\n4,0.6\n"),
        ("tension", "turns\n1\n"),
    ],
)
def test_a_bad_file_ends_with_two_one_sentence_and_nothing_written(command, text, tmp_path, capsys):
    file, out = tmp_path / "bad.csv", tmp_path / "told.json"
    file.write_text(text, encoding="utf-8")
    assert run("running", command, file, "--json", out) == 2
    said = capsys.readouterr()
    assert said.err.startswith("ironlace: ")
    assert said.err.count("\n") == 1
    assert said.out == ""
    assert not out.exists()


def test_a_file_that_is_not_there_is_said_to_be_missing(tmp_path, capsys):
    assert run("running", "motion", tmp_path / "none.csv") == 2
    assert "There is no file" in capsys.readouterr().err


def test_the_disc_is_written_once(tmp_path, capsys):
    out = tmp_path / "disc.svg"
    assert run("running", "disc", "--out", out, "--numbered", "anticlockwise") in (0, None)
    assert out.read_text(encoding="utf-8").startswith("<svg")
    assert run("running", "disc", "--out", out) == 2
    assert run("running", "disc", "--out", tmp_path / "disc.gif") == 2
    assert "end it in .svg" in capsys.readouterr().err
    assert run("running", "disc", "--out", tmp_path / "disc.pdf") in (0, None)
    assert (tmp_path / "disc.pdf").read_bytes().startswith(b"%PDF")

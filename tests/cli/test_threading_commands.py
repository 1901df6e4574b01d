"""The threading plan's commands as they are typed."""

import json

import numpy as np
import pytest
from PIL import Image

from ironlace.cli.program import main

PLAN = """
title = "Head"
[[picture]]
name = "front"
file = "front.png"
[[point]]
number = 1
at = [80, 10]
does = "spool"
known = "seen"
[[point]]
number = 2
at = [20, 50]
does = "needle eye"
side = "left"
known = "old manual"
source = "p. 3"
"""


def typed(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code or 0


@pytest.fixture
def plan(tmp_path):
    Image.fromarray(np.full((60, 90, 3), 128, np.uint8)).save(tmp_path / "front.png")
    file = tmp_path / "plan.toml"
    file.write_text(PLAN, encoding="utf-8")
    return file


def test_a_plan_gives_its_diagram_its_steps_and_its_card(plan, tmp_path, capsys):
    out = tmp_path / "out"
    assert typed("running", "threading", plan, "--out", out, "--json", tmp_path / "told.json") == 0
    assert {one.name for one in out.iterdir()} == {"threading.svg", "steps.txt", "card.pdf"}
    assert "data:image/jpeg" in (out / "threading.svg").read_text(encoding="utf-8")
    steps = (out / "steps.txt").read_text(encoding="utf-8")
    assert "  2. Through the eye of the needle from the left. [an old manual: p. 3]" in steps
    assert (out / "card.pdf").read_bytes().startswith(b"%PDF")
    told = json.loads((tmp_path / "told.json").read_text(encoding="utf-8"))
    assert told["grade"] == "inferred"
    assert [one["number"] for one in told["steps"]] == [1, 2]
    assert told["steps"][0]["side"] is None
    assert capsys.readouterr().out.startswith("The plan is inferred, as its weakest step is")
    assert typed("running", "threading", plan, "--out", out) == 2  # nothing is written over
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("was", "becomes", "says"),
    [
        ("number = 2", "number = 1", "Two points have the number 1"),
        ("at = [20, 50]", "at = [20, 61]", "lies out of its picture"),
        ('does = "spool"', 'does = "spoon"', "did you mean 'spool'"),
        ("number = 2", "number = 2\ncolour = 3", "'colour'"),
        ('file = "front.png"', 'file = "back.png"', "There is no file"),
        ('file = "front.png"', 'file = "front.png"\nwidth_px = 900', "is stated as 900 x 60"),
        ('"spool"', '"spool"\nside = 3', "which is something else"),
    ],
)
def test_bad_plans_end_with_2_one_sentence_and_nothing_written(
    plan, tmp_path, capsys, was, becomes, says
):
    plan.write_text(PLAN.replace(was, becomes, 1), encoding="utf-8")
    assert typed("running", "threading", plan, "--out", tmp_path / "out") == 2
    error = capsys.readouterr().err
    assert says in error
    assert error.count("\n") == 1
    assert not (tmp_path / "out").exists()


def seam(file, lengths):
    stitches = [
        {"length_mm": [n - 0.02, n, n + 0.02], "skipped": False, "doubtful": False} for n in lengths
    ]
    told = {
        "stitches": stitches,
        "measuring_error_mm": 0.01,
        "scale": "dpi",
        "count": len(stitches),
        "skipped": 0,
        "reliable": True,
    }
    file.write_text(json.dumps(told), encoding="utf-8")


def test_two_plans_are_compared_step_by_step_and_by_their_seams(plan, tmp_path, capsys):
    other = tmp_path / "other.toml"
    other.write_text(PLAN.replace('side = "left"', 'side = "right"'), encoding="utf-8")
    rng = np.random.default_rng(4)
    files = [tmp_path / "one.json", tmp_path / "two.json"]
    for file, spread in zip(files, (0.03, 0.3), strict=True):
        seam(file, 2.5 + spread * rng.normal(size=60))
    assert typed("running", "threadings", plan, other, "--seams", *files, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["how"] for one in told["differences"]] == ["otherwise"]
    assert told["differences"][0]["second"]["side"] == "right"
    assert told["seams"]["evenness_chance"] < 0.05
    assert typed("running", "threadings", plan, plan) == 0
    assert capsys.readouterr().out == "Both plans thread alike: no step differs.\n"

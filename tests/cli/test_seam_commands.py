"""The seam's commands as they are typed: scans, photographs, refusals, two seams."""

import json

import numpy as np
import pytest
from PIL import Image

from ironlace.cli.program import main
from ironlace.running.seam import two_seams_analysis
from sewn_seams import Case, sewn
from sewn_seams_drawn import drawn


def typed(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code or 0


@pytest.fixture(scope="module")
def scan(tmp_path_factory):
    """A sewn seam, its file, and what the command told of it."""
    folder = tmp_path_factory.mktemp("scan")
    made = sewn(np.random.default_rng(2), Case("twill", length=2.4, cv=0.03, long_mm=40.0))
    file, out, shown = (folder / name for name in ("seam.png", "seam.json", "shown.png"))
    Image.fromarray(made.picture).save(file, dpi=(600, 600))
    assert typed("running", "seam", file, "--dpi", 600, "--json", out, "--picture", shown) == 0
    return made, file, out, shown


def test_a_scan_gives_its_figures_and_a_picture(scan):
    made, _, out, shown = scan
    told = json.loads(out.read_text(encoding="utf-8"))
    assert told["reliable"] is True
    assert told["why"] == []
    low, mean, high = told["mean_length_mm"]
    assert low < mean < high
    assert mean == pytest.approx(made.lengths_mm[~made.skipped].mean(), rel=0.006)
    assert len(told["stitches"]) == len(told["ends"]) - 1
    with Image.open(shown) as marked:
        assert marked.size == made.picture.shape[1::-1]


def test_two_seams_are_compared(scan, tmp_path, capsys):
    out, told = scan[2], tmp_path / "two.json"
    assert typed("running", "seams", out, out, "--json", told) == 0
    assert "No difference in length beyond chance" in capsys.readouterr().out
    told = json.loads(told.read_text(encoding="utf-8"))
    assert told["results"][0]["name"] == two_seams_analysis.DIFFERENCE
    assert told["results"][0]["grade"] == "measured"


def test_a_resolution_against_the_files_own_is_told_first(scan, capsys):
    assert typed("running", "seam", scan[1], "--dpi", 500) == 0
    said = capsys.readouterr().out
    assert "to the inch" in said
    assert said.startswith("Not reliable: 500 dots to the inch were stated and the file says 600")


def test_a_photograph_is_laid_flat_by_its_strip_and_a_mirrored_one_refused(tmp_path, capsys):
    case = Case("flannel", "phone", length=2.5, cv=0.03, skip_share=0.0)
    made = drawn(np.random.default_rng(5), case)
    layout = tmp_path / "layout.csv"
    layout.write_text(made.layout.to_csv(), encoding="utf-8")
    file, turned, out = (tmp_path / name for name in ("seam.png", "turned.png", "seam.json"))
    Image.fromarray(made.picture).save(file)
    # half as large: enough for the markers, and a quarter of the work
    Image.fromarray(made.picture[:, ::-1]).reduce(2).save(turned)
    assert typed("running", "seam", file, "--strip", layout, "--json", out) == 0
    told = json.loads(out.read_text(encoding="utf-8"))
    assert told["mean_length_mm"][1] == pytest.approx(made.lengths_mm.mean(), rel=0.01)
    assert typed("running", "seam", turned, "--strip", layout) == 2
    assert "mirrored" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ((), "--dpi for a scan"),
        (("--dpi", 600, "--strip", "x.csv"), "--dpi for a scan"),
        (("--dpi", 600, "--picture", "x.jpg"), "does not end in .png"),
        (("--dpi", 30), "dots to the inch"),
        (("--dpi", "nan"), "dots to the inch"),
        (("--dpi", 0), "dots to the inch"),
        (("--dpi=-600",), "dots to the inch"),
    ],
)
def test_what_cannot_be_used_ends_with_one_sentence(scan, tmp_path, capsys, words, said):
    out = tmp_path / "never.json"
    assert typed("running", "seam", scan[1], *words, "--json", out) == 2
    refusal = capsys.readouterr().err
    assert refusal.count("\n") == 1
    assert said in refusal
    assert not out.exists()

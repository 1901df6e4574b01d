import csv
import io
import json

import numpy as np
import pytest
from PIL import Image, ImageOps

import struck_plates
from eaten_plates import eaten_plate
from ironlace.cli import main
from ironlace.survey.reports.table import read_reports
from struck_plates import Asked, photographs, struck_plate


def run(capsys, *words):
    """Exit code, output and errors of a command."""
    try:
        main([str(word) for word in words])
    except SystemExit as ended:
        code = ended.code or 0
    else:
        code = 0
    said = capsys.readouterr()
    return code, said.out, said.err


@pytest.fixture(scope="module")
def plate(tmp_path_factory):
    """A clear plate, its relief, places and shapes in a folder."""
    rng = np.random.default_rng(4)
    with pytest.MonkeyPatch.context() as smaller:
        smaller.setattr(struck_plates, "PLATE_MM", (26.0, 14.0))
        made = struck_plate(rng, Asked(wear=0.1, face="grotesque", per_row=5, pits_per_mm2=0.3))
    folder = tmp_path_factory.mktemp("plate")
    np.save(folder / "normals.npy", made.normals())
    told = {
        "mm_per_px": 0.025,
        "scale_known": True,
        "slope_gain": {"value": 1.0, "low": 0.8, "high": 1.3},
    }
    (folder / "relief.json").write_text(json.dumps(told))
    (folder / "places.csv").write_text(made.places(rng))
    made.write_shapes(folder / "shapes")
    light = photographs(rng, made, 2)
    Image.fromarray(light.frames[0]).save(folder / "raking.png")
    x, y, z = light.light_mm[0]
    angles = np.degrees([np.arctan2(y, x), np.arctan2(z, np.hypot(x, y))])
    return folder, made, ",".join(f"{a:.1f}" for a in angles)


def test_a_clear_plate_is_read_with_its_shapes(plate, capsys, tmp_path):
    folder, made, _ = plate
    out, row = tmp_path / "marks.json", tmp_path / "row.csv"
    code, said, _ = run(
        capsys, "marks", "read", folder, "--json", out, "--places", folder / "places.csv",
        "--shapes", folder / "shapes", "--base-rate", "0.4", "--report", row,
    )  # fmt: skip
    assert code == 0
    assert "Row 1 from the top: " in said
    marks = json.loads(out.read_text())
    assert set(marks) >= {"digits", "gaps", "strings", "plate"}
    for digit, truth in zip(marks["digits"], made.digits, strict=True):
        assert max(digit["p"], key=digit["p"].get) == truth.glyph
        assert sum(digit["p"].values()) == pytest.approx(1, abs=1e-4)
        assert digit["height_mm"] == pytest.approx(2.4, abs=0.05)
    struck = [g["p_struck"] for g, t in zip(marks["gaps"], made.gaps, strict=True) if t.struck]
    bare = [g["p_struck"] for g, t in zip(marks["gaps"], made.gaps, strict=True) if not t.struck]
    assert np.mean(struck) > np.mean(bare) + 0.3
    assert all(g["depth_mm"]["low"] <= g["depth_mm"]["value"] for g in marks["gaps"])
    assert marks["plate"]["base_rate"] == 0.4
    assert marks["plate"]["base_rate_given"] is True
    for line in marks["strings"]:
        held = sum(h["p"] for h in line["hypotheses"])
        assert held + line["rest_p"] == pytest.approx(1)
        assert held >= 0.95
    # the survey takes it as it is
    reports = read_reports(row.read_text())
    assert len(reports.reports) == 2
    assert not reports.set_aside
    assert reports.reports[0].strings


def test_without_shapes_the_period_cuts_serve(plate, capsys):
    folder, made, _ = plate
    code, said, _ = run(
        capsys, "marks", "read", folder, "--places", folder / "places.csv", "--json"
    )
    marks = json.loads(said)
    right = [
        max(d["p"], key=d["p"].get) == t.glyph
        for d, t in zip(marks["digits"], made.digits, strict=True)
    ]
    assert code == 0
    assert sum(right) >= len(right) - 1
    assert marks["plate"]["base_rate_given"] is False


def test_one_photograph_is_read_and_says_so(plate, capsys):
    folder, made, light = plate
    code, said, _ = run(
        capsys, "marks", "photo", folder / "raking.png", "--light", light, "--places",
        folder / "places.csv", "--shapes", folder / "shapes", "--json",
    )  # fmt: skip
    marks = json.loads(said)
    right = [
        max(d["p"], key=d["p"].get) == t.glyph
        for d, t in zip(marks["digits"], made.digits, strict=True)
    ]
    assert code == 0
    assert np.mean(right) >= 0.8
    assert marks["source"] == "one raking photograph"
    assert marks["scale_known"] is False


def test_what_nobody_struck_is_told_and_places_off_alike_are_moved(capsys, tmp_path):
    """A letter, a bare place, and a table of another spreadsheet 0.5 mm off."""
    rng = np.random.default_rng(3)
    cells = [["4", "B", "7", "", "1", "5", "9", "0"]]
    made = eaten_plate(rng, Asked(wear=0.2, face="bold book"), cells, plate_mm=(28, 9))
    np.save(tmp_path / "normals.npy", made.normals())
    (tmp_path / "relief.json").write_text(json.dumps({"mm_per_px": 0.025}))
    off = made.places(rng, off_mm=0.0).splitlines()
    rows = [line.split(",") for line in off]
    rows[1:] = [[*r[:3], f"{float(r[3]) + 20:.1f}", *r[4:]] for r in rows[1:]]
    places = tmp_path / "places.csv"
    places.write_text("\n".join(";".join(r).replace(".", ",") for r in rows), encoding="utf-8-sig")
    made.write_shapes(tmp_path / "shapes")
    code, said, _ = run(
        capsys, "marks", "read", tmp_path, "--places", places, "--shapes", tmp_path / "shapes",
        "--json",
    )  # fmt: skip
    marks = json.loads(said)
    best = [max(d["p"], key=d["p"].get) for d in marks["digits"]]
    sure = [max(d["p"].values()) for d in marks["digits"]]
    assert code == 0
    assert "0.5 too far right" in marks["remarks"][0]
    assert "digit 2: a letter of ours fits better" in marks["remarks"][1]
    assert "digit 4: the metal is as bare" in marks["remarks"][2]
    assert max(sure[1], sure[3]) < 0.5
    assert [best[k] for k in (0, 2, 4, 5, 6, 7)] == list("471590")


def test_two_readers_are_compared(capsys, tmp_path):
    for name, text in (("a", "49621"), ("b", "49627")):
        out = io.StringIO()
        table = csv.writer(out)
        table.writerow(["mark", "row", "index", "glyph"])
        table.writerows(["serial", 0, i, g] for i, g in enumerate(text))
        (tmp_path / f"{name}.csv").write_text(out.getvalue())
    code, said, _ = run(capsys, "marks", "agree", tmp_path / "a.csv", tmp_path / "b.csv", "--json")
    found = json.loads(said)
    assert code == 0
    assert set(found) == {"n", "agree", "kappa", "low", "high"}
    assert found["agree"] == pytest.approx(0.8)


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["read", "nowhere"], "There is no relief"),
        (["read", "{plate}", "--base-rate", "1.5"], "base rate is 1.5"),
        (["read", "{plate}", "--base-rate", "0"], "base rate is 0"),
        (["read", "{plate}", "--base-rate", "nan"], "base rate is nan"),
        (["read", "{plate}", "--places", "nothing.csv"], "There is no file"),
        (["read", "{plate}", "--shapes", "{empty}"], "There are no shapes"),
        (["read", "{plate}", "--shapes", "nothing"], "There is no folder"),
        (["read", "{plate}", "--shapes", "{white}"], "are white on black"),
        (["read", "{plate}", "--places", "{low}"], "times as high as the table"),
        (["read", "{plate}", "--glyphs", "12A"], "no shape of A"),
        (["read", "{plate}", "--glyphs", "1"], "name two at least"),
        (["photo", "nothing.jpg", "--light", "90,20", "--places", "{csv}"], "There is no picture"),
        (["photo", "{plate}/raking.png", "--light", "90", "--places", "{csv}"], "not AZIMUTH"),
        (["photo", "{plate}/raking.png", "--light", "90,95", "--places", "{csv}"], "stood 95"),
        (["photo", "{plate}/raking.png", "--light", "nan,nan", "--places", "{csv}"], "stood nan"),
        (["photo", "{plate}/raking.png", "--light", "90,20"], "give their places"),
        (["agree", "{csv}", "{csv}"], "has no column mark, glyph"),
        (["agree", "nothing.csv", "{csv}"], "There is no file"),
    ],
)
def test_bad_input_ends_with_2_and_one_sentence(plate, capsys, tmp_path, words, says):
    folder = plate[0]
    known = {"plate": str(folder), "csv": str(folder / "places.csv"), "empty": str(tmp_path)}
    known |= {name: str(tmp_path / name) for name in ("white", "low")}
    if "{white}" in words:
        (tmp_path / "white").mkdir()
        for file in (folder / "shapes").iterdir():
            with Image.open(file) as picture:
                ImageOps.invert(picture).save(tmp_path / "white" / file.name)
    if "{low}" in words:
        told = (folder / "places.csv").read_text()
        (tmp_path / "low").write_text(told.replace(",96.0", ",67.0"))
    if words[0] == "read" and "--places" not in words:
        words = [*words, "--places", "{csv}"]
    code, _, said = run(capsys, "marks", *(word.format(**known) for word in words))
    assert code == 2
    assert says in said
    assert said.count("\n") == 1


def test_a_report_is_not_written_over(plate, capsys, tmp_path):
    folder = plate[0]
    (tmp_path / "row.csv").write_text("mine")
    code, _, said = run(capsys, "marks", "read", folder, "--report", tmp_path / "row.csv")
    assert code == 2
    assert "is there already" in said
    assert (tmp_path / "row.csv").read_text() == "mine"

"""Commands of the bench say what they took for granted of a drawing that came from elsewhere."""

import json

import numpy as np
import pytest
from PIL import Image

from ironlace.cli.program import main
from ironlace.record.entries import Photograph
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.ornament.drawings import drawing_svg

PX = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="400px" height="300px" viewBox="0 0 400 300">'
    '<rect x="50" y="50" width="300" height="200"/></svg>'
)


def run(*words):
    with pytest.raises(SystemExit) as ended:
        main([str(word) for word in words])
    return ended.value.code


@pytest.mark.parametrize("command", ["film", "dxf"])
def test_a_drawing_in_px_comes_out_at_its_true_size_and_is_said(command, tmp_path):
    drawing, out = tmp_path / "px.svg", tmp_path / ("a.png" if command == "film" else "a.dxf")
    drawing.write_text(PX, encoding="utf-8")
    report = tmp_path / "report.json"
    assert run("ornament", command, drawing, "--out", out, "--json", report) in (0, None)
    (notice,) = json.loads(report.read_text(encoding="utf-8"))["notices"]
    assert "96 px were taken as one inch" in notice
    if command == "film":
        with Image.open(out) as film:
            # 5 mm of clear film around a page of 400 px
            assert film.size[0] == pytest.approx((400 * 25.4 / 96 + 10) / 25.4 * 1200, abs=2)
            black = np.flatnonzero(~np.asarray(film)[2000, 20:-20])
        assert np.ptp(black) / 1200 * 25.4 == pytest.approx(300 * 25.4 / 96, abs=0.1)
    else:
        drawn = out.read_text(encoding="utf-8").partition("ENTITIES\n")[2]
        lines = drawn.splitlines()
        x = [float(b) for a, b in zip(lines[::2], lines[1::2], strict=False) if a.strip() == "10"]
        assert max(x) == pytest.approx(350 * 25.4 / 96, abs=1e-6)


@pytest.mark.parametrize("option", ["--axis", "--turn", "--radius", "--half-angle"])
def test_what_is_no_number_wraps_nothing(option, tmp_path, capsys):
    drawing, out = tmp_path / "px.svg", tmp_path / "round.svg"
    drawing.write_text(PX, encoding="utf-8")
    words = ("--radius", 40, option, "nan")
    assert run("ornament", "wrapped", drawing, "--out", out, *words) == 2
    assert "is needed" in (said := capsys.readouterr().err) or "in degrees" in said
    assert not out.exists()


RED_AND_GOLD = (
    '<svg xmlns="http://www.w3.org/2000/svg" width="40mm" height="30mm" viewBox="0 0 40 30">'
    '<g fill="#b89040"><rect x="2" y="2" width="10" height="10"/></g>'
    '<g fill="#a01010"><rect x="22" y="2" width="10" height="10"/></g></svg>'
)


def test_earlier_names_of_commands_and_options_still_work(tmp_path):
    drawing = tmp_path / "a.svg"
    drawing.write_text(RED_AND_GOLD, encoding="utf-8")
    films = []
    for option in ("--colour", "--layer"):
        out, report = tmp_path / f"a{option}.png", tmp_path / "report.json"
        words = ("ornament", "film", drawing, "--out", out, "--dpi", "300", "--json", report)
        assert run(*words) in (0, None)
        assert json.loads(report.read_text(encoding="utf-8"))["layer"] is None
        assert run(*words, option, "no such") == 2
        films.append(out.read_bytes())
    assert films[0] == films[1]
    for name in ("print", "sheet"):
        out = tmp_path / f"{name}.pdf"
        assert run("ornament", name, drawing, "--out", out) in (0, None)
        assert out.read_bytes().startswith(b"%PDF")
    for name in ("stencil", "sheets"):
        out = tmp_path / name
        words = ("ornament", name, drawing, "--process", "card-hand", "--out", out)
        assert run(*words) in (0, None)
        assert (out / "sheet-1.svg").is_file()


def test_what_was_traced_by_command_is_kept_and_comes_out_so_again(tmp_path, plane_case):
    photograph, lens = tmp_path / "arm.png", tmp_path / "lens.json"
    Image.fromarray(plane_case.image).save(photograph)
    lens.write_text(plane_case.lens.to_json(), encoding="utf-8")
    shop, out, report = tmp_path / "shop", tmp_path / "a.svg", tmp_path / "report.json"
    assert run("new", shop) in (0, None)
    assert run("machine", "new", "Head from the attic", "--workshop", shop) in (0, None)
    words = ["ornament", "trace", photograph, "--piece", "wrap", "--lens", lens, "--out", out]
    keep = ["--machine", "head-from-the-attic", "--workshop", shop, "--json", report]
    assert run(*words, "--machine", "none-such", "--workshop", shop) == 2
    assert not out.exists()
    assert run(*words, *keep) in (0, None)
    assert json.loads(report.read_text(encoding="utf-8"))["kept"] == "drawing 1"
    with Workshop.open(shop) as workshop:
        record = workshop.records.read("head-from-the-attic")
        drawing = record.named("drawing 1")
        assert drawing.photographs == ("photograph 1",)
        assert "traced from photograph 1" in drawing.finding.sentence
        kept = drawing_svg(workshop, "head-from-the-attic", "drawing 1")
        assert kept == out.read_text(encoding="utf-8")
        (told,) = [v for v in verify_record(workshop, "head-from-the-attic") if v.name[0] == "d"]
        assert told.same is True, told.says


def test_a_rubbing_traced_by_command_is_kept_with_its_scan(tmp_path, darkroom):
    ornament = darkroom.scrollwork(np.random.default_rng(3), (6, 6, 64, 40), scrolls=3)
    paint = darkroom.painted(ornament, (70.0, 46.0), 300 / 25.4)
    grey = np.clip(225 - 0.75 * paint, 0, 255).astype(np.uint8)
    Image.fromarray(np.dstack([grey] * 3)).save(tmp_path / "r.png")
    shop, out = tmp_path / "shop", tmp_path / "r.svg"
    assert run("new", shop) in (0, None)
    assert run("machine", "new", "Head from the attic", "--workshop", shop) in (0, None)
    words = ("ornament", "trace", tmp_path / "r.png", "--out", out, "--dpi", "300", "--rubbing")
    for _ in range(2):  # the second time the scan is known
        keep = ("--machine", "head-from-the-attic", "--workshop", shop)
        assert run(*words, *keep) in (0, None)
    with Workshop.open(shop) as workshop:
        record = workshop.records.read("head-from-the-attic")
        assert [name for name, _ in record.of(Photograph)] == ["photograph 1"]
        assert record.named("drawing 2").photographs == ("photograph 1",)
        told = {v.name: v for v in verify_record(workshop, "head-from-the-attic")}
        assert told["drawing 1"].same is True, told["drawing 1"].says

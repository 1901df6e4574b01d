"""Commands of the bench say what they took for granted of a drawing that came from elsewhere."""

import json

import numpy as np
import pytest
from PIL import Image

from ironlace.cli.program import main

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

"""Page, worker and command trace by one pipeline: the same drawing from the same request."""

import json
import threading

import numpy as np
import pytest
from PIL import Image

from bench_visitor import Person
from ironlace.cli.program import main
from ironlace.photographs import strip_sheet
from ironlace.record import PhotographRole
from ironlace.web import create_app
from ironlace.workshop.ornament.drawings import drawing_svg
from ironlace.workshop.work import foreman
from ironlace.workshop.work.jobs import Jobs

REGION = [[380, 300], [900, 700]]
GROUND = [[590, 310]]


@pytest.fixture
def file(tmp_path, darkroom):
    rng = np.random.default_rng(5)
    ornament = darkroom.scrollwork(rng, (40, 30, 120, 90), scrolls=4)
    shot = darkroom.Shot(
        width=1500, height=1050, focal_px=1650, aim_mm=(100.0, 65.0), distance_mm=260.0
    )
    path = tmp_path / "ornament.png"
    Image.fromarray(darkroom.photograph(ornament, strip_sheet("wrap"), shot, rng)).save(path)
    return path


def worked_off(workshop, number):
    foreman.work_off(workshop, "w", threading.Event(), once=True)
    job = Jobs(workshop.database).get(number)
    assert job.error == ""
    return job.result["drawing"]


def by_worker(workshop, slug, photograph):
    asked = {
        "photograph": photograph,
        "strip": "wrap",
        "region": REGION,
        "ground": GROUND,
        "tolerance_mm": 0.06,
    }
    name = worked_off(workshop, Jobs(workshop.database).ask("trace", asked, slug))
    return drawing_svg(workshop, slug, name)


def by_page(workshop, slug, photograph):
    app = create_app(workshop.folder, foreman=False)
    fields = {
        "strip": "wrap",
        "region": "\n".join(f"{x}, {y}" for x, y in REGION),
        "ground": "; ".join(f"{x} {y}" for x, y in GROUND),
        "tolerance_mm": "0.06",
    }
    key = photograph.split()[1]
    answer = Person(app).post(f"/machine/{slug}/ornament/trace/{key}", fields, follow=False)
    number = int(answer.headers["location"].rpartition("/")[2])
    name = worked_off(app.state.bench.workshop, number)
    app.state.bench.workshop.close()
    return drawing_svg(workshop, slug, name)


def by_command(folder, file):
    asked = folder / "asked.json"
    asked.write_text(json.dumps({"region": REGION, "ground": GROUND}), encoding="utf-8")
    out = folder / "drawing.svg"
    words = ["ornament", "trace", file, "--piece", "wrap", "--asked", asked, "--tolerance", "0.06"]
    with pytest.raises(SystemExit) as ended:
        main([*map(str, words), "--out", str(out)])
    assert ended.value.code in (0, None)
    return out.read_text(encoding="utf-8")


def test_page_worker_and_command_give_the_same_drawing(workshop, slug, file, tmp_path):
    photograph = workshop.photographs.take_in_file(slug, file, PhotographRole.ORNAMENT).name
    worker = by_worker(workshop, slug, photograph)
    assert by_page(workshop, slug, photograph) == worker
    assert by_command(tmp_path, file) == worker

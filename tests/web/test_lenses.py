"""Lenses: the chart handed over, photographs of it taken in, the lens offered where it fits."""

import json
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from ironlace.photographs import strip_sheet
from ironlace.web import create_app
from ironlace.web.bench import Limits
from ironlace.workshop.ornament.lenses import kept_lenses

from .conftest import Person, jpeg, words

VIEWS = [(4, 0), (26, 10), (28, 130), (26, 250), (30, 60), (24, 310)]


@pytest.fixture(scope="module")
def chart_photographs(darkroom):
    rng = np.random.default_rng(6)
    blank = np.zeros((8, 8), np.uint8)
    files = []
    for n, (tilt, way) in enumerate(VIEWS):
        shot = darkroom.Shot(
            width=1200,
            height=900,
            focal_px=1300,
            tilt_deg=tilt,
            tilt_way_deg=way,
            roll_deg=float(rng.uniform(-15, 15)),
            aim_mm=(128.0, 93.0),
            distance_mm=330.0,
            glare=False,
            reflections=0.0,
            scratches=0,
        )
        image = darkroom.photograph(
            None, strip_sheet("chart"), shot, rng, coverage=(blank, 1.0, (-900.0, -900.0))
        )
        out = BytesIO()
        exif = Image.Exif()
        exif.get_ifd(0x8769)[0xA405] = 39
        Image.fromarray(image).save(out, "JPEG", quality=94, exif=exif)
        files.append(("files", (f"chart{n}.jpg", out.getvalue())))
    return files


@pytest.fixture
def roomy(folder):
    made = create_app(folder, foreman=False, limits=Limits(photograph=4_000_000))
    yield Person(made)
    made.state.bench.workshop.close()


def test_a_lens_is_measured_kept_offered_and_forgotten(roomy, chart_photographs):
    assert roomy.get("/strip/chart-a4.pdf").content.startswith(b"%PDF")
    answer = roomy.post("/lenses", {"name": "The old camera, 50 mm"}, files=chart_photographs)
    assert "The old camera, 50 mm" in words(answer)
    assert "39 mm for 35 mm film" in words(answer)
    bench = roomy.app.state.bench
    roomy.post("/machines", {"title": "Test head no. 1"})
    # a photograph of the same shape and focal length is offered it first
    roomy.post(
        "/machine/test-head-no-1/photographs",
        {"role": "ornament"},
        files=[("files", ("a.jpg", chart_photographs[0][1][1]))],
    )
    page = roomy.get("/machine/test-head-no-1/ornament/trace/1")
    assert '<option value="1" selected>' in page.text
    roomy.post(
        "/machine/test-head-no-1/ornament/trace/1", {"strip": "frame", "lens": "1"}, follow=False
    )
    assert bench.jobs.get(1).asked["lens"]["matrix"][0][0] == pytest.approx(1300, rel=0.02)
    bad = roomy.post(
        "/machine/test-head-no-1/ornament/trace/1", {"strip": "frame", "lens": "7"}, follow=False
    )
    assert bad.status_code == 404
    assert "None yet" in words(roomy.post("/lenses/1/forget"))


def test_what_cannot_be_measured_is_said(roomy, chart_photographs):
    for fields, files, says in (
        ({"name": "A"}, chart_photographs[:3], "5 are needed"),
        ({"name": " "}, chart_photographs, "needs a name"),
        ({"name": "A"}, [("files", ("x.jpg", jpeg()))], "0 of 1"),
        ({"name": "A"}, [("files", ("x.jpg", b"no picture"))], "x.jpg"),
    ):
        answer = roomy.post("/lenses", fields, files=files)
        assert answer.status_code == 422
        assert says in words(answer)
    assert "None yet" in words(roomy.get("/lenses"))


def test_a_lens_file_is_taken_in_as_it_is_and_one_without_a_size_is_refused(roomy):
    lens = {
        "matrix": [[1300.0, 0, 600.0], [0, 1300.0, 450.0], [0, 0, 1]],
        "distortion": [-0.03, 0.01, 0.0, 0.0, 0.0],
        "image_size": [1200, 900],
    }

    def sent(content, name="Another camera"):
        file = ("files", ("lens.json", content.encode("utf-8", "surrogateescape")))
        return words(roomy.post("/lenses", {"name": name}, files=[file]))

    assert "lens file does not say how large" in sent(json.dumps({**lens, "image_size": None}))
    assert "cannot be read" in sent("no lens")
    assert "is no lens file" in sent("\udcff\udcfe")
    assert "needs a name" in sent(json.dumps(lens), "  ")
    assert not kept_lenses(roomy.app.state.bench.workshop)
    answer = sent(json.dumps(lens))
    assert "Another camera" in answer and "Taken in from a file" in answer
    (kept,) = kept_lenses(roomy.app.state.bench.workshop)
    assert kept.told["matrix"] == lens["matrix"] and kept.size == (1200, 900)
    assert kept.focal_35mm == pytest.approx(37.5, abs=0.1)

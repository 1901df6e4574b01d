import shutil
import threading
from dataclasses import replace

import cv2
import numpy as np
import pytest
from PIL import Image
from shapely import box

from ironlace.dossier.account.drawing_in_words import standing
from ironlace.evidence.grades import Grade
from ironlace.ornament import TRACE, drawing_from_svg
from ironlace.photographs import strip_sheet
from ironlace.record import DrawingEntry, PhotographRole
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.ornament.drawings import drawing_pdf, drawing_svg, flat_view, proof_of
from ironlace.workshop.ornament.rework import keep_rework, make_change, on_the_bench
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.work import foreman
from ironlace.workshop.work.jobs import Jobs, JobState


@pytest.fixture(scope="module")
def photograph_file(tmp_path_factory, darkroom):
    """A small photograph of scrollwork with the wrap strip round it."""
    rng = np.random.default_rng(5)
    ornament = darkroom.scrollwork(rng, (40, 30, 120, 90), scrolls=4)
    shot = darkroom.Shot(
        width=1500, height=1050, focal_px=1650, aim_mm=(100.0, 65.0), distance_mm=260.0
    )
    image = darkroom.photograph(ornament, strip_sheet("wrap"), shot, rng)
    path = tmp_path_factory.mktemp("photographs") / "ornament.png"
    Image.fromarray(image).save(path)
    return path


@pytest.fixture
def photograph(workshop, slug, photograph_file):
    role = PhotographRole.ORNAMENT
    return workshop.photographs.take_in_file(slug, photograph_file, role).name


def traced(workshop, slug, **asked):
    jobs = Jobs(workshop.database)
    number = jobs.ask("trace", asked, slug)
    foreman.work_off(workshop, "w", threading.Event(), once=True)
    return jobs.get(number)


@pytest.fixture(scope="module")
def traced_once(tmp_path_factory, photograph_file):
    """A workshop in which that photograph was traced; each test has a copy of it."""
    folder = tmp_path_factory.mktemp("traced") / "workshop"
    with Workshop.create(folder) as workshop:
        slug = workshop.records.create("Test head no. 1")
        role = PhotographRole.ORNAMENT
        photograph = workshop.photographs.take_in_file(slug, photograph_file, role).name
        job = traced(workshop, slug, photograph=photograph, strip="wrap")
        assert (job.state, job.error) == (JobState.DONE, "")
    return folder, photograph, job.result["drawing"]


@pytest.fixture
def with_drawing(traced_once, tmp_path):
    folder, photograph, name = traced_once
    shutil.copytree(folder, tmp_path / "traced")
    with Workshop.open(tmp_path / "traced") as workshop:
        (one,) = workshop.records.all()
        yield workshop, one.slug, photograph, name


def test_a_photograph_becomes_a_drawing_in_the_record(with_drawing):
    workshop, slug, photograph, drawing_name = with_drawing
    entry = workshop.records.read(slug).named(drawing_name)
    assert isinstance(entry, DrawingEntry)
    assert entry.photographs == (photograph,)
    assert entry.finding.value["outline_mm"] > 100
    assert drawing_svg(workshop, slug, drawing_name).startswith("<")
    assert check_workshop(workshop).sound


def test_the_flattened_photograph_lies_in_the_drawings_window(with_drawing):
    workshop, slug, _, drawing_name = with_drawing
    entry = workshop.records.read(slug).named(drawing_name)
    drawing = drawing_from_svg(drawing_svg(workshop, slug, drawing_name))
    left, top, right, bottom = drawing.bounds_mm
    with Image.open(flat_view(workshop, slug, drawing_name)) as flat:
        assert flat.width / flat.height == pytest.approx((right - left) / (bottom - top), rel=0.02)
    # what is told as its size is that of the paint, which has air around it in the window
    assert right - left - 12 < entry.width_mm < right - left
    assert (entry.width_mm, entry.height_mm) == pytest.approx(drawing.painted_mm, abs=0.01)


def test_a_drawing_is_laid_back_on_its_photograph(with_drawing):
    workshop, slug, _, drawing_name = with_drawing
    entry = workshop.records.read(slug).named(drawing_name)
    found, picture = proof_of(workshop, slug, drawing_name)
    assert found["with_a_trace"] > 0.9
    assert found["mean_mm"] < 0.06
    assert entry.finding.method.parameters["report"]["proof"]["mean_mm"] == pytest.approx(
        found["mean_mm"], abs=0.005
    )
    with Image.open(picture) as shown:
        assert shown.format == "JPEG"


def test_a_drawing_changed_by_hand_is_laid_on_the_same_photograph(with_drawing):
    workshop, slug, _, drawing_name = with_drawing
    before, _ = proof_of(workshop, slug, drawing_name)
    stands = on_the_bench(workshop, slug, drawing_name)
    order = {"do": "stroke", "places": [[60, 96], [90, 97]], "widths": [1.0]}
    _, stands = make_change(workshop, slug, drawing_name, order, stands.serial)
    kept = keep_rework(workshop, slug, drawing_name, stands.serial)
    after, _ = proof_of(workshop, slug, kept)
    assert after["with_a_trace"] < before["with_a_trace"] - 0.02
    found = {one.name: one for one in verify_record(workshop, slug)}
    assert found[kept].same is True, found[kept].says


def test_a_region_and_touches_are_given_in_pixels_of_the_photograph(with_drawing):
    workshop, slug, photograph, whole = with_drawing
    part = traced(
        workshop,
        slug,
        photograph=photograph,
        strip="wrap",
        region=[[380, 300], [600, 700]],
        ground=[[590, 310]],
    )
    assert part.error == ""
    record = workshop.records.read(slug)
    assert record.named(part.result["drawing"]).width_mm < 0.8 * record.named(whole).width_mm


@pytest.mark.parametrize(
    ("asked", "says"),
    [
        ({"strip": "frame"}, "marker"),
        ({"strip": "ladder"}, "use one of"),
        ({"strip": "wrap", "region": [[1, 2]]}, "two corners"),
        ({"strip": "wrap", "gilt": "here"}, "is not a point"),
        ({"strip": "wrap", "gilt": [[1, 2, 3]]}, "list of points"),
        ({"strip": "wrap", "gilt": [[1, 20000]]}, "lies outside the photograph"),
        ({"strip": "wrap", "tolerance_mm": 3}, "0.001 to 1 mm"),
        ({"strip": "wrap", "lens": {"matrix": 3}}, "lens"),
        ({"photograph": "photograph 99"}, "no photograph 99"),
    ],
)
def test_what_cannot_be_traced_says_why(workshop, slug, photograph, asked, says):
    job = traced(workshop, slug, **({"photograph": photograph} | asked))
    assert job.state is JobState.FAILED
    assert says in job.error.lower()
    assert "fault in the program" not in job.error


def test_a_trace_cut_short_goes_on_after_its_last_stage(workshop, slug, photograph, monkeypatch):
    jobs = Jobs(workshop.database)
    number = jobs.ask("trace", {"photograph": photograph, "strip": "wrap"}, slug)
    from ironlace.ornament import trace_stages

    calls = []
    finding, flattening = trace_stages.find_gilt, trace_stages.flatten

    def counted(*args, **kwargs):
        calls.append("flat")
        return flattening(*args, **kwargs)

    def cut_short(*args, **kwargs):
        raise KeyboardInterrupt

    monkeypatch.setattr(trace_stages, "flatten", counted)
    monkeypatch.setattr(trace_stages, "find_gilt", cut_short)
    with pytest.raises(KeyboardInterrupt):
        foreman.work_off(workshop, "w", threading.Event(), once=True)
    jobs.crashed("w")
    monkeypatch.setattr(trace_stages, "find_gilt", finding)
    foreman.work_off(workshop, "w2", threading.Event(), once=True)
    assert jobs.get(number).state is JobState.DONE
    assert calls == ["flat"]


def test_drawings_come_out_the_same_again_that_of_the_version_before_too(with_drawing):
    """It kept only what was not left out, one photograph's figures by themselves, gilt as one."""
    workshop, slug, photograph, drawing_name = with_drawing
    record = workshop.records.read(slug)
    entry = record.named(drawing_name)
    report = dict(entry.finding.method.parameters["report"])
    old = {
        "photograph": report["photographs"][0],
        **report,
        "gilt": report["gilt"][0],
    }
    asked = {
        "photograph": photograph,
        "strip": "wrap",
        "gilt": [],
        "ground": [],
        "region": None,
        "surface": "plane",
        "mirror": False,
        "lens": None,
    }
    method = entry.finding.method.model_copy(update={"parameters": {"asked": asked, "report": old}})
    before = entry.model_copy(
        update={"finding": entry.finding.model_copy(update={"method": method, "version": "0.1.0"})}
    )
    name = workshop.records.add(slug, before)
    kept = workshop.records.changes(slug)
    found = {one.name: one for one in verify_record(workshop, slug)}
    assert workshop.records.changes(slug) == kept
    for one in (name, drawing_name):
        assert found[one].same is True, found[one].says
    assert proof_of(workshop, slug, name)[0]["with_a_trace"] > 0.9
    assert any(said.startswith("laid back") for said, _ in standing(before.finding))
    stands = on_the_bench(workshop, slug, name)
    order = {"do": "stroke", "places": [[60, 96], [90, 97]], "widths": [1.0]}
    _, stands = make_change(workshop, slug, name, order, stands.serial)
    assert keep_rework(workshop, slug, name, stands.serial)
    assert drawing_pdf(workshop, slug, name, "a4").startswith(b"%PDF")


def test_other_photographs_fill_what_is_worn_here(workshop, slug, darkroom, tmp_path):
    """Two machines with one ornament, worn in different halves; one of them photographed twice."""
    rng = np.random.default_rng(8)
    sheet = strip_sheet("wrap")
    ornament = darkroom.scrollwork(rng, (40, 30, 120, 90), scrolls=5)
    paint = darkroom.painted(ornament, (200.0, 130.0), 24.0)
    left, right = paint.copy(), paint.copy()
    left[:, : 75 * 24] = 0
    stands = ornament.gilt.intersection(box(75, 0, 200, 130)).length
    right[:, 85 * 24 :] = 0
    names = []
    for n, (worn, turn) in enumerate(((left, 8), (left, 200), (right, 30))):
        shot = darkroom.Shot(
            width=1200,
            height=840,
            focal_px=1320,
            aim_mm=(100.0, 65.0),
            distance_mm=260.0,
            tilt_way_deg=turn,
            reflections=0.0,
            glare=False,
            exposure=1.0 - 0.15 * n,
        )
        image = darkroom.photograph(None, sheet, shot, rng, coverage=(worn, 24.0, (0.0, 0.0)))
        Image.fromarray(image).save(tmp_path / f"{n}.png")
        role = PhotographRole.ORNAMENT
        names.append(workshop.photographs.take_in_file(slug, tmp_path / f"{n}.png", role).name)
    job = traced(
        workshop,
        slug,
        photograph=names[0],
        strip="wrap",
        others=[
            {"photograph": names[1], "shows": "machine"},
            {"photograph": names[2], "shows": "example", "called": "the mill's machine"},
        ],
    )
    assert job.error == ""
    record = workshop.records.read(slug)
    entry = record.named(job.result["drawing"])
    assert entry.photographs == tuple(names)
    drawing = drawing_from_svg(drawing_svg(workshop, slug, job.result["drawing"]))
    by_source = drawing.length_by_source()
    assert by_source["the mill's machine"] > 0.2 * drawing.length_mm
    assert drawing.length_mm > 1.3 * stands
    assert drawing.length_by_grade()[Grade.SEEN] == pytest.approx(stands, rel=0.1)
    assert flat_view(workshop, slug, job.result["drawing"]).is_file()
    told = {v.name: v for v in verify_record(workshop, slug)}
    assert told[job.result["drawing"]].same is True


@pytest.mark.parametrize(
    ("others", "says"),
    [
        ("photograph 1", "a list"),
        ([{"photograph": "photograph 7"}], "photograph 7"),
        ([{"photograph": "photograph 1"}], "named twice"),
        ([3], "not a photograph"),
    ],
)
def test_other_photographs_that_cannot_be_used_are_said(workshop, slug, photograph, others, says):
    job = traced(workshop, slug, photograph=photograph, strip="wrap", others=others)
    assert job.state is JobState.FAILED
    assert says in job.error


def test_a_rubbing_is_traced_at_its_dots_to_the_inch(workshop, slug, darkroom, tmp_path):
    rng = np.random.default_rng(3)
    ornament = darkroom.scrollwork(rng, (6, 6, 84, 50), scrolls=4)
    paint = darkroom.painted(ornament, (90.0, 56.0), 300 / 25.4)
    grey = np.clip(225 - 0.75 * paint + rng.normal(0, 3, paint.shape), 0, 255).astype(np.uint8)
    Image.fromarray(np.dstack([grey] * 3)).save(tmp_path / "rubbing.png")
    role = PhotographRole.ORNAMENT
    name = workshop.photographs.take_in_file(slug, tmp_path / "rubbing.png", role).name
    job = traced(workshop, slug, photograph=name, how="rubbing", dpi=300)
    assert job.error == ""
    drawing = drawing_from_svg(drawing_svg(workshop, slug, job.result["drawing"]))
    truth = ornament.gilt.length
    assert drawing.length_mm == pytest.approx(truth, rel=0.03)
    assert "300 dpi" in workshop.records.read(slug).named(job.result["drawing"]).finding.sentence
    without = traced(workshop, slug, photograph=name, how="scan")
    assert "say its dpi" in without.error


def test_measured_places_stand_in_for_a_strip(workshop, slug, photograph):
    """The strip's own corners, pointed at and measured, as if it were any rectangle."""
    from ironlace.photographs import find_strip
    from ironlace.workshop.store.intake import pixels

    original = workshop.photographs.original(workshop.records.read(slug).named(photograph).sha256)
    sighting = find_strip(pixels(original.path), strip_sheet("wrap").layout)
    places = [
        [*map(float, px), *map(float, mm)]
        for px, mm in zip(
            sighting.corners_px[::2, 0],
            strip_sheet("wrap").layout.corners_mm[sighting.indices][::2, 0],
            strict=True,
        )
    ]
    job = traced(workshop, slug, photograph=photograph, how="points", measured=places)
    assert job.error == ""
    entry = workshop.records.read(slug).named(job.result["drawing"])
    assert "measured places agree" in entry.finding.sentence
    few = traced(workshop, slug, photograph=photograph, how="points", measured=places[:3])
    assert "at least 4" in few.error


def test_colours_are_layers(workshop, slug, darkroom, tmp_path):
    rng = np.random.default_rng(11)
    sheet = strip_sheet("wrap")
    gold = darkroom.scrollwork(rng, (40, 30, 120, 60), scrolls=3)
    red = darkroom.scrollwork(rng, (40, 68, 120, 95), scrolls=3)
    shot = darkroom.Shot(
        width=1500,
        height=1050,
        focal_px=1650,
        aim_mm=(100.0, 65.0),
        distance_mm=260.0,
        reflections=0.0,
        glare=False,
        scratches=0,
    )
    images = []
    for ornament, colour in ((gold, shot.gold), (red, (0.42, 0.05, 0.04))):
        paint = darkroom.painted(ornament, (200.0, 130.0), 24.0)
        images.append(
            darkroom.photograph(
                None,
                sheet,
                replace(shot, gold=colour),
                np.random.default_rng(1),
                coverage=(paint, 24.0, (0.0, 0.0)),
            )
        )
    # both were taken under the same light: the upper half of one, the lower half of the other
    image = images[0].copy()
    row = 540
    image[row:] = images[1][row:]
    Image.fromarray(image).save(tmp_path / "two.png")
    role = PhotographRole.ORNAMENT
    name = workshop.photographs.take_in_file(slug, tmp_path / "two.png", role).name
    blurred = cv2.GaussianBlur(image.astype(np.float32), (0, 0), 2.5)
    warm = blurred[..., 0] - blurred[..., 2]
    inside = np.s_[300:500, 400:1000], np.s_[580:760, 400:1000]
    touches = []
    for part in inside:
        y, x = np.unravel_index(int(np.argmax(warm[part])), warm[part].shape)
        touches.append([float(x + part[1].start), float(y + part[0].start)])
    job = traced(
        workshop,
        slug,
        photograph=name,
        strip="wrap",
        gilt=[touches[0]],
        colours={"red": [touches[1]]},
    )
    assert job.error == ""
    drawing = drawing_from_svg(drawing_svg(workshop, slug, job.result["drawing"]))
    assert set(drawing.layers) == {"gold", "red"}
    told = workshop.records.read(slug).named(job.result["drawing"]).finding.method.parameters
    lab = told["report"]["colours"]
    assert lab["red"]["lab"][1] > lab["gold"]["lab"][1] + 15
    gone = traced(workshop, slug, photograph=name, strip="wrap", colours={"red": [[20, 20]]})
    assert gone.state is JobState.FAILED


def test_an_axis_that_is_pointed_at_is_used(workshop, slug, darkroom, tmp_path):
    rng = np.random.default_rng(21)
    ornament = darkroom.scrollwork(rng, (40, 30, 160, 100), scrolls=4, mirror=True)
    paint = darkroom.painted(ornament, (200.0, 130.0), 24.0)
    paint[:, (112 * 24) : (125 * 24)] = 0  # a band is gone on one side of x = 100
    shot = darkroom.Shot(
        width=1500,
        height=1050,
        focal_px=1650,
        aim_mm=(100.0, 65.0),
        distance_mm=260.0,
        tilt_deg=0.0,
        roll_deg=0.0,
        glare=False,
        reflections=0.0,
    )
    image = darkroom.photograph(
        None, strip_sheet("wrap"), shot, rng, coverage=(paint, 24.0, (0.0, 0.0))
    )
    Image.fromarray(image).save(tmp_path / "m.png")
    role = PhotographRole.ORNAMENT
    name = workshop.photographs.take_in_file(slug, tmp_path / "m.png", role).name
    # the axis stands in the middle of this picture, which looks straight at x = 100
    job = traced(workshop, slug, photograph=name, strip="wrap", axis=[[750, 200], [750, 850]])
    assert job.error == ""
    drawing = drawing_from_svg(drawing_svg(workshop, slug, job.result["drawing"]))
    assert drawing.length_by_source().get("mirror", 0.0) > 5.0
    for axis, says in (([[750, 200]], "two places"), ([[750, 200], [752, 201]], "lie together")):
        failed = traced(workshop, slug, photograph=name, strip="wrap", axis=axis)
        assert says in failed.error


def test_a_trace_worked_out_like_any_analysis_is_kept_as_a_drawing(workshop, slug, photograph):
    record = workshop.records.read(slug)
    given = {"photograph": photograph, "strip": "wrap"}
    asked = analyses.asked_for(TRACE, record, given)
    worked = analyses.work_out(workshop, record, TRACE, asked)
    name = analyses.keep(workshop, slug, worked, "a hand")
    entry = workshop.records.read(slug).named(name)
    assert isinstance(entry, DrawingEntry)
    assert worked.inputs["photograph"] == record.named(photograph).sha256
    assert entry.finding.inputs["photograph"] == record.named(photograph).sha256
    assert flat_view(workshop, slug, name).is_file()
    assert workshop.records.changes(slug, name)[-1].made_by == "a hand"

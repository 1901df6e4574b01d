"""A worn plate from its photographs to its reading, by pages without script."""

import threading
from io import BytesIO

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence import Grade
from ironlace.marks.seeing.relighting import Torch
from ironlace.record import FindingEntry, Mark, PhotographRole
from ironlace.web import create_app
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.marks.plate_views import View, view_of
from ironlace.workshop.work.foreman import work_off
from struck_plates import small_plate

from .conftest import Person, words

PLATES = "/machine/lapwing-head/plates"


def work(bench):
    work_off(bench.workshop, "test", threading.Event(), once=True)


@pytest.fixture(scope="module")
def struck(tmp_path_factory):
    """A workshop with a plate whose relief was asked for by the page, and the truth of it."""
    base = tmp_path_factory.mktemp("plate")
    plate = small_plate(base / "shots")
    with Workshop.create(base / "workshop") as workshop:
        slug = workshop.records.create("Lapwing head")
        for file in sorted((base / "shots").glob("*.jpg")):
            workshop.photographs.take_in_file(slug, file, PhotographRole.MARK)
    app = create_app(base / "workshop", foreman=False)
    app.plate = plate
    app.places = (base / "shots" / "places.csv").read_text(encoding="utf-8")
    yield app
    app.state.bench.workshop.close()


@pytest.fixture(scope="module")
def visitor(struck):
    person = Person(struck)
    chosen = [("photograph", f"photograph {n}") for n in range(1, 9)]
    fields = {"token": person.token, "name": "slide plate", "ball": "6 mm", "do": "relief"}
    answer = person.client.post(
        PLATES, data={**fields, "photograph": [name for _, name in chosen]}, headers=HEADERS
    )
    assert answer.status_code == 303
    work(struck.state.bench)
    return person


HEADERS = {"origin": "http://127.0.0.1:8765", "sec-fetch-site": "same-origin"}


def send(person, address, **fields):
    data = {"token": person.token, **fields}
    return person.client.post(address, data=data, headers=HEADERS)


def test_photographs_are_looked_over_with_a_plan_of_the_sky(struck, visitor):
    names = [f"photograph {n}" for n in (1, 2, 8)]
    answer = send(visitor, PLATES, photograph=names, do="check")
    page = visitor.get(answer.headers["location"])
    assert "They will not do yet" in words(page)
    assert page.text.count('class="torch"') == 3
    assert 'class="missing"' in page.text
    assert "No torch shone from the" in words(page)
    assert page.text.count("checked") >= 3


def test_two_photographs_or_a_ball_of_a_metre_are_refused_with_what_was_chosen(visitor):
    answer = send(visitor, PLATES, photograph=["photograph 1", "photograph 2"], do="relief")
    assert answer.status_code == 422
    assert "2 photographs were chosen" in words(answer)
    assert answer.text.count("checked") == 2
    names = [f"photograph {n}" for n in (1, 2, 3)]
    answer = send(visitor, PLATES, photograph=names, ball="1 m", do="relief")
    assert "'Diameter of the balls' of 1000 mm cannot be" in words(answer)


def test_the_relief_is_a_finding_bound_to_its_photographs(struck, visitor):
    record = struck.state.bench.records.read("lapwing-head")
    finding = record.named("finding 1").finding
    assert set(finding.inputs) == {f"photograph {n}" for n in range(1, 9)}
    assert finding.results[1].grade is Grade.CONJECTURED  # the balls' size was typed, not measured
    assert "slide plate, not read yet" in words(visitor.get(PLATES))


def test_page_and_command_give_the_same_picture(struck, visitor):
    (told,) = (struck.state.bench.workshop.derived / "reliefs").glob("??/*/relief.json")
    for look in ("raking", "depth"):
        shown = visitor.get(f"{PLATES}/1/view.png?look={look}&azimuth=90&elevation=20&save=yes")
        assert "attachment" in shown.headers["content-disposition"]
        assert shown.content == view_of(told.parent, View(look, Torch(90, 20))).png
    with Image.open(BytesIO(shown.content)) as picture:
        assert "Ironlace view" in picture.text
    assert visitor.get(f"{PLATES}/1/view.png?look=upside").status_code == 422
    assert visitor.get(f"{PLATES}/1/view.png?elevation=1").status_code == 422


def test_without_script_a_form_moves_the_torch(visitor):
    page = visitor.get(f"{PLATES}/1?azimuth=0&elevation=30&look=relief")
    assert "azimuth 0, elevation 30" in words(page) + page.text
    assert "azimuth=0.0&amp;elevation=30.0" in page.text
    planes = visitor.get(f"{PLATES}/1/surface.bin").content
    assert len(planes) == 400 * 240 * 8
    x = np.frombuffer(planes[: 400 * 240 * 4], ">u2").reshape(240, 400, 2)[..., 0] / 32767.5 - 1
    assert abs(np.median(x)) < 0.02


def test_no_answer_before_an_own_reading_then_both_beside_each_other(struck, visitor):
    page = visitor.get(f"{PLATES}/1")
    assert "Read it yourself first" in words(page)
    assert "Place by place" not in page.text
    refused = send(visitor, f"{PLATES}/1/read", places=struck.places)
    assert refused.status_code == 422
    assert "Write your own reading first" in words(refused)
    refused = send(visitor, f"{PLATES}/1/read", rows="78$", places=struck.places)
    assert "is not part of the notation" in words(refused)
    bench = struck.state.bench
    assert not list(bench.records.read("lapwing-head").of(Mark))  # nothing half kept
    (text,) = struck.plate.texts()
    send(visitor, f"{PLATES}/1/read", rows=text, read_by="R. Bell", places=struck.places)
    assert "Place by place" not in visitor.get(f"{PLATES}/1").text  # not before it is worked out
    work(bench)
    record = bench.records.read("lapwing-head")
    mark = record.named("mark 1")
    assert (mark.reads, mark.read_by, mark.grade) == (text.replace(".", "·"), "R. Bell", Grade.SEEN)
    said = words(visitor.get(f"{PLATES}/1"))
    assert "Place by place" in said
    assert "Read by eye, before this answer was shown" in said
    finding = record.named("finding 2").finding
    assert finding.value not in ("", text)  # a mark with its doubts, no single string
    assert {"mark 1", "photograph 1"} <= set(finding.inputs)
    alike = next(r for r in finding.results if r.name.startswith("read alike"))
    assert alike.value > 60
    job = bench.jobs.of_record("lapwing-head")[0]
    assert visitor.get(f"/job/{job.id}/progress.json").json()["outcome"] == f"{PLATES}/1#reading"


def test_a_reading_mended_after_the_answer_is_no_independent_one(struck, visitor):
    bench = struck.state.bench
    record = bench.records.read("lapwing-head")
    mark = record.named("mark 1")
    verified = {one.name: one for one in verify_record(bench.workshop, "lapwing-head")}
    assert verified["finding 2"].same is True, verified["finding 2"].says
    changed = mark.model_copy(update={"reads": "1" + mark.reads[1:]})
    bench.records.change("lapwing-head", "mark 1", changed)
    assert "Since this was worked out, mark 1 changed" in words(visitor.get(f"{PLATES}/1"))
    send(visitor, f"{PLATES}/1/read", own="mark 1", places=struck.places)
    work(bench)
    record = bench.records.read("lapwing-head")
    said = record.named("finding 2").finding.sentence
    assert "changed or made after this answer was shown" in said
    assert len(list(record.of(FindingEntry))) == 2


def test_a_relief_that_was_thrown_away_is_made_again(struck, visitor):
    bench = struck.state.bench
    for file in (bench.workshop.derived / "reliefs").glob("??/*/*"):
        file.unlink()
    assert "The relief is not at hand" in words(visitor.get(f"{PLATES}/1"))
    assert visitor.get(f"{PLATES}/1/view.png").status_code == 404
    send(visitor, f"{PLATES}/1/again")
    work(bench)
    assert visitor.get(f"{PLATES}/1/view.png").status_code == 200
    assert len(list(bench.records.read("lapwing-head").of(FindingEntry))) == 2

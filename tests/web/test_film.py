"""Film notes on their page: the same as by command, and only what may leave."""

import json
import zipfile
from io import BytesIO

import pytest

from ironlace.cli import main

from .conftest import words

TYPED = "0:00 marks\r\n1:00 end"


@pytest.fixture
def page(person, slug):
    mark = {"reads": "93·217", "where": "bed", "grade": "seen"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who <made> it?"})
    step = {"event": "bought of Quill", "private": "yes", "grade": "seen"}
    person.post(f"/machine/{slug}/entries/provenance", step)
    return f"/machine/{slug}/film"


def test_the_page_tells_what_to_film_and_what_to_say(person, page):
    told = words(person.get(page))
    assert "The mark 93·217 on the bed" in told and "no photograph shows it" in told
    assert "Who <made> it?" in told and "Quill" not in told
    assert "0:00 marks" in told


def test_chapters_make_captions_by_the_same_route_as_the_command(
    person, page, slug, folder, tmp_path
):
    told = person.get(page, params={"chapters": TYPED})
    assert "Every sentence has its time." in words(told)
    answer = person.get(f"{page}/captions.vtt", params={"chapters": TYPED})
    assert answer.headers["content-type"] == "text/vtt; charset=utf-8"
    typed = tmp_path / "chapters.txt"
    typed.write_text(TYPED, encoding="utf-8")
    command = ["film", slug, "--workshop", str(folder), "--chapters", str(typed)]
    with pytest.raises(SystemExit) as ended:
        main([*command, "--out", str(tmp_path / "film"), "--json", str(tmp_path / "out.json")])
    assert ended.value.code == 0
    assert (tmp_path / "film" / "captions.vtt").read_bytes() == answer.content
    archive = person.get(f"{page}/film-notes.zip", params={"chapters": TYPED}).content
    with zipfile.ZipFile(BytesIO(archive)) as packed:
        names = {name.partition("/")[2] for name in packed.namelist()}
        written = {p.relative_to(tmp_path / "film").as_posix() for p in
                   (tmp_path / "film").rglob("*") if p.is_file()}  # fmt: skip
        assert names == written
        notes = packed.read(f"{slug}-film/film.json")
    assert json.loads(notes) == json.loads((tmp_path / "out.json").read_text("utf-8"))


def test_chapters_that_cannot_be_read_are_refused_and_stay_as_typed(person, page):
    answer = person.get(page, params={"chapters": "soon marks"})
    assert answer.status_code == 422
    assert "The chapters could not be read." in words(answer) and ">soon marks<" in answer.text
    assert person.get(f"{page}/captions.vtt").status_code == 404
    assert person.get(f"{page}/captions.vtt", params={"chapters": "soon"}).status_code == 422
    assert person.get(page, params={"chapters": "x" * 6001}).status_code == 422


def test_what_was_chosen_to_stay_is_in_no_note(person, page, slug):
    form = {"whom": "strangers", "shown": ["question 1"], "leaves": []}
    person.post(f"/machine/{slug}/leaving", form)
    assert "Who <made> it?" not in words(person.get(page))

"""The pack: made by a worker, looked at under a policy of its own, taken along."""

import threading
import zipfile
from io import BytesIO

import pytest

from ironlace.workshop.work import foreman

from .conftest import jpeg, words


@pytest.fixture
def pack(person, slug, bench):
    files = {"files": ("a.jpg", jpeg(1, (400, 300)))}
    person.post(f"/machine/{slug}/photographs", files=files)
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who <made> it?"})
    followed = person.post(f"/machine/{slug}/pack", {"private": "yes"})
    assert "Making the pack" in words(followed)
    assert bench.jobs.get(1).asked == {"private": True, "hours_and_costs": False}
    foreman.work_off(bench.workshop, "w", threading.Event(), once=True)
    assert bench.jobs.get(1).error == ""
    return f"/machine/{slug}/pack"


def test_the_dossier_is_handed_over(person, pack):
    page = person.get(pack)
    assert "with what is private" in words(page)
    link = page.text.split("Dossier, A4")[0].rpartition('href="')[2].split('"')[0]
    answer = person.get(link.replace("&amp;", "&"))
    assert answer.content.startswith(b"%PDF")
    assert "attachment" in answer.headers["content-disposition"]
    again = person.get(link, headers={"if-none-match": answer.headers["etag"]})
    assert again.status_code == 304


def test_the_site_is_looked_at_without_script(person, pack):
    answer = person.get(f"{pack}/1/file/site/index.html")
    assert answer.status_code == 200
    policy = answer.headers["content-security-policy"]
    assert "default-src 'none'" in policy
    assert "script-src" not in policy
    assert "Who <made> it?" in words(answer)


def test_all_of_it_comes_in_one_archive(person, pack, slug):
    for _ in range(2):
        answer = person.get(f"{pack}/1/pack.zip")
        with zipfile.ZipFile(BytesIO(answer.content)) as packed:
            assert packed.testzip() is None
            assert f"{slug}/site/index.html" in packed.namelist()


@pytest.mark.parametrize(
    "file",
    ["../../../../ironlace.sqlite", "..%2f..%2f..%2f..%2fironlace.sqlite", "site", "none.pdf", ""],
)
def test_nothing_outside_a_pack_is_served(person, pack, file):
    assert person.get(f"{pack}/1/file/{file}").status_code == 404


def test_a_pack_belongs_to_its_machine(person, pack):
    person.post("/machines", {"title": "Another"})
    assert person.get("/machine/another/pack/1/file/site/index.html").status_code == 404
    assert person.get("/machine/another/pack/1/pack.zip").status_code == 404


def test_the_page_says_when_the_record_has_changed_since(person, pack, slug):
    assert "changed since" not in words(person.get(pack))
    person.post(f"/machine/{slug}/entries/question", {"asks": "When?"})
    assert "The record has changed since." in words(person.get(pack))


def test_a_drawing_is_left_out_by_taking_its_tick_away(person, slug, bench, add_drawing):
    for _ in range(2):
        add_drawing(bench.workshop, slug)
    page = person.get(f"/machine/{slug}/pack").text
    assert page.count('name="drawing"') == page.count(" checked") == 2
    person.post(f"/machine/{slug}/pack", {"choose": "drawings", "drawing": "drawing 2"})
    assert bench.jobs.get(1).asked["without"] == ["drawing 1"]
    foreman.work_off(bench.workshop, "w", threading.Event(), once=True)
    told = person.get(f"/machine/{slug}/pack")
    assert "without drawing 1" in words(told)
    # the same choice is offered again
    assert told.text.count(" checked") == 1
    assert person.get(f"/machine/{slug}/pack/1/file/README.txt").text.count("drawing 1") == 1


def test_what_will_be_left_out_is_told_before_anything_is_made(person, slug):
    person.post(
        f"/machine/{slug}/entries/provenance",
        {"event": "bought of a neighbour", "private": "yes", "grade": "seen"},
    )
    page = person.get(f"/machine/{slug}/pack")
    told = words(page)
    assert "What will be left out" in told
    assert told.index("What will be left out") < told.index("Make the pack")
    assert "1 step of provenance: marked as private" in told
    assert "history of changes: it tells who wrote what" in told
    assert f'href="/machine/{slug}/entry/provenance/1"' in page.text or "provenance 1" in told
    # the page is the restorer's own and names entries; what they say stays where it is
    assert "bought of a neighbour" not in told

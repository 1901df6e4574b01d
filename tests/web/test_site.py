"""The public site, of a machine and of the whole workshop, as it is asked for at the bench."""

import threading
import zipfile
from io import BytesIO

from ironlace.workshop.work import foreman

from .conftest import words


def test_the_public_site_is_written_looked_at_and_taken_along(person, slug, bench):
    page = f"/machine/{slug}/site"
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who made it?"})
    refused = person.post(page, {"base": "nowhere", "mail": "a@b.example"})
    assert refused.status_code == 422 and "no address of a folder" in refused.text
    assert 'value="a@b.example"' in refused.text and bench.jobs.of_record(slug, 9) == []
    person.post(
        page, {"base": "https://iron.example/x", "mail": "a@b.example", "keeper": "R. Bell"}
    )
    foreman.work_off(bench.workshop, "w", threading.Event(), once=True)
    (job,) = bench.jobs.of_record(slug, 9)
    assert job.error == ""
    told = person.get(f"/machine/{slug}/pack")
    assert "files are new" in told.text and 'value="R. Bell"' in told.text
    first = person.get(f"{page}/file/index.html")
    assert "kept by R. Bell" in first.text
    assert "script-src" not in first.headers["content-security-policy"]
    assert person.get(f"{page}/file/../../workshop.db").status_code == 404
    assert person.get(f"{page}/file/feed.atom").headers["content-type"] == "application/atom+xml"
    whole = person.get(f"{page}/{job.id}/site.zip")
    with zipfile.ZipFile(BytesIO(whole.content)) as packed:
        assert f"{slug}-site/sitemap.xml" in packed.namelist()


def test_the_whole_workshops_site_is_asked_for_on_a_page_of_its_own(person, slug, bench):
    assert "Write the site" in words(person.get("/site"))
    person.post("/machines", {"title": "The second head"})
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who made it?"})
    refused = person.post("/site", {"mail": "no mailbox", "title": "Two heads"})
    assert refused.status_code == 422 and 'value="Two heads"' in refused.text
    assert bench.jobs.of_record(None, 9) == []
    person.post("/site", {"title": "Two heads of a mill", "keeper": "R. Bell"})
    foreman.work_off(bench.workshop, "w", threading.Event(), once=True)
    (job,) = bench.jobs.of_record(None, 9)
    assert job.error == "" and bench.jobs.of_record(slug, 9) == []
    assert 'href="/site"' in person.get(f"/job/{job.id}").text
    told = person.get("/site").text
    assert "files are new" in told and 'value="Two heads of a mill"' in told
    first = words(person.get("/site/file/index.html"))
    assert "Two heads of a mill" in first and "The second head" in first
    assert "Who made it?" in words(person.get(f"/site/file/{slug}/index.html"))
    assert person.get("/site/file/../ironlace.sqlite").status_code == 404
    # it is another folder than that of one machine's site, and neither takes the other's files
    assert person.get(f"/machine/{slug}/site/file/index.html").status_code == 404
    with zipfile.ZipFile(BytesIO(person.get(f"/site/{job.id}/site.zip").content)) as packed:
        assert {"workshop-site/index.html", f"workshop-site/{slug}/index.html"} <= set(
            packed.namelist()
        )


def test_a_workshop_without_a_machine_has_no_site(person, bench):
    assert "begin its record first" in person.post("/site", {}).text
    assert bench.jobs.of_record(None, 9) == []

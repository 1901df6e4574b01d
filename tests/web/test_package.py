"""The package for the next owner, made by a button; and one taken in, whole or not at all."""

import threading
import zipfile
from io import BytesIO

import pytest

from ironlace.record import Provenance
from ironlace.workshop.work import foreman

from .conftest import jpeg, words

PAGE = "/machine/test-head-no-1/package"


def worked_off(bench):
    foreman.work_off(bench.workshop, "w", threading.Event(), once=True)


@pytest.fixture
def unpacked(person, slug, bench, tmp_path):
    """A package made on the page, carried off as a zip and unpacked."""
    person.post(f"/machine/{slug}/photographs", files={"files": ("a.jpg", jpeg(1, (400, 300)))})
    person.post(f"/machine/{slug}/entries/question", {"asks": "Who made it?"})
    asked = {"whom": "next owner", "packed_by": " A.  Club "}
    assert "Making the package" in words(person.post(PAGE, asked))
    worked_off(bench)
    assert bench.jobs.get(1).error == ""
    assert bench.jobs.get(1).asked["packed_by"] == "A. Club"
    told = person.get(PAGE)
    assert "for the next owner, with what is private" in words(told)
    with zipfile.ZipFile(BytesIO(person.get(f"{PAGE}/1/package.zip").content)) as packed:
        assert packed.testzip() is None
        packed.extractall(tmp_path)
    return tmp_path / f"{slug}-package"


def test_it_is_proved_then_taken_in_with_the_change_of_owner_or_refused_with_its_reason(
    person, unpacked, bench
):
    page = unpacked / "data" / "account.html"
    whole = page.read_bytes()
    page.write_bytes(whole + b" ")
    person.post("/take-in", {"folder": str(unpacked)})
    worked_off(bench)
    assert "account.html" in bench.jobs.get(2).error
    assert "nothing of it was taken in" in words(person.get("/job/2"))
    assert [one.slug for one in bench.records.all()] == ["test-head-no-1"]
    assert list((bench.workshop.folder / "incoming").iterdir()) == []

    page.write_bytes(whole)
    form = {"folder": str(unpacked), "happened": "bought", "owner": "R. Bell", "grade": "seen"}
    assert "Taking a package in" in words(person.post("/take-in", form))
    worked_off(bench)
    job = bench.jobs.get(3)
    assert job.error == ""
    assert job.result == {"machine": "test-head-no-1-2", "different": [], "step": "provenance 1"}
    assert "Open its record" in words(person.get("/job/3"))
    record = bench.records.read("test-head-no-1-2")
    assert [e.who for _, e in record.of(Provenance)] == ["R. Bell"]
    assert len(record.entries) == 3
    assert list((bench.workshop.folder / "incoming").iterdir()) == []


@pytest.mark.parametrize(
    ("form", "says"),
    [
        ({"folder": ""}, "no whole path"),
        ({"folder": "packages/one"}, "no whole path"),
        ({"folder": "/no/such/one.zip"}, "unpack it first"),
        ({"folder": "/no/such/folder"}, "holds no package"),
        ({"folder": "{bag}", "happened": "bought"}, "how you know it"),
        ({"folder": "{bag}", "happened": "bought", "grade": "sure"}, "grade"),
        ({"folder": "{bag}", "happened": "bought", "grade": "seen", "when": "soonish"}, "date"),
    ],
)
def test_what_cannot_be_taken_in_is_refused_at_once_and_what_was_typed_stays(
    person, bench, tmp_path, form, says
):
    (tmp_path / "bagit.txt").write_text("BagIt-Version: 1.0\n", encoding="utf-8")
    form = {key: value.replace("{bag}", str(tmp_path)) for key, value in form.items()}
    answer = person.post("/take-in", form)
    assert answer.status_code == 422 and "Nothing was taken in." in words(answer)
    assert says in words(answer).lower()
    assert f'value="{form["folder"]}"' in answer.text
    assert bench.jobs.claim("w") is None


def test_a_package_is_public_only_when_asked_for_and_belongs_to_its_machine(person, slug, bench):
    person.post(PAGE, {"whom": "strangers"})
    person.post(PAGE, {})
    asked = [bench.jobs.get(number).asked for number in (1, 2)]
    assert [one["private"] for one in asked] == [False, True]
    assert not any(one["hours_and_costs"] for one in asked)
    assert person.get("/machine/another/package/1/package.zip").status_code == 404


def test_the_door_stands_open_and_empty(person):
    answer = person.get("/take-in")
    assert answer.status_code == 200 and 'name="folder" required value=""' in answer.text
    assert "Take a package in" in words(person.get("/"))

"""The reports as open data by browser: what goes out, and what never does."""

import io
import json
import zipfile

import pytest

from ironlace.record import Allowed
from ironlace.survey.sharing.survey_zip import unzipped

from .conftest import typed, words

SECRET = "Mrs Unnamed"

ALLOWED = "may be published with its place"


@pytest.fixture
def surveyed(person, slug):
    mark = {"reads": "C°94.118", "where": "bed", "grade": "seen", "purpose": "serial number"}
    person.post(f"/machine/{slug}/entries/mark", mark)
    for reads, more in (
        (
            "C°92.38",
            {
                "place": "Mill Lane, Northport, Coastland",
                "allowed": ALLOWED,
                "note": f"from {SECRET}",
            },
        ),
        ("C°93.94", {"reporter": SECRET, "dated": "1894", "dated_is": "sold"}),
        ("C°93.94", {"same_as": SECRET, "sighted": "2021"}),
        ("999", {}),
    ):
        fields = {"name": SECRET, "reads": reads, "how": "handled", "grade": "seen", **more}
        if reads != "999" and "same_as" not in more:
            fields["counts"] = "yes"
        person.post(f"/machine/{slug}/entries/report", fields)
    return slug


def about(**more):
    return {"title": "Numbers", "compiled_by": "A Club", "issued": "2031-05-04", **more}


def taken(person, slug, **more):
    answer = person.get(f"/machine/{slug}/dating/survey.zip", params=about(**more))
    assert answer.status_code == 200
    assert answer.headers["content-type"] == "application/zip"
    assert "attachment" in answer.headers["content-disposition"]
    return answer.content


def test_the_zip_holds_table_metadata_licence_and_citation(person, surveyed):
    data = taken(person, surveyed)
    with zipfile.ZipFile(io.BytesIO(data)) as packed:
        names = packed.namelist()
        read_me = packed.read("README.txt").decode()
        metadata = json.loads(packed.read("survey.csv-metadata.json"))
    assert names == ["README.txt", "survey.csv", "survey.csv-metadata.json"]
    assert "Cite as: A Club. Numbers. 4 reports, issued 2031-05-04." in read_me
    assert metadata["dc:license"]["@id"].startswith("https://creativecommons.org/")
    text, said, count = unzipped(data)
    assert (said.title, count) == ("Numbers", 4)
    assert [line.split(",")[:2] for line in text.split("\r\n")[1:-1]] == [
        [surveyed, "C°94·118"],
        ["report 1", "C°92·38"],
        ["report 2", "C°93·94"],
        ["report 3", "C°93·94"],
    ]
    assert data == taken(person, surveyed)


@pytest.mark.parametrize("places", ["none", "last part", "as written", "nonsense"])
def test_nobody_is_named_and_places_are_as_coarse_as_chosen(person, surveyed, places):
    text, _, _ = unzipped(taken(person, surveyed, places=places))
    assert SECRET not in text
    assert ("Coastland" in text) == (places in ("last part", "as written"))
    assert ("Mill Lane" in text) == (places == "as written")


def test_a_place_stays_here_when_nobody_said_that_it_may_go(person, surveyed, bench):
    report = bench.records.read(surveyed).named("report 1")
    unsaid = report.model_copy(update={"allowed": Allowed.UNSAID})
    bench.records.change(surveyed, "report 1", unsaid)
    text, _, _ = unzipped(taken(person, surveyed, places="as written"))
    assert "Coastland" not in text
    assert report.reads in text


def test_remarks_go_out_only_when_asked(person, surveyed):
    assert SECRET in unzipped(taken(person, surveyed, notes="yes"))[0]


def test_the_page_shows_what_would_go_out(person, surveyed):
    page = person.get(f"/machine/{surveyed}/dating/publish", params=about())
    said = words(page)
    assert page.status_code == 200
    assert "4 reports, each called by its number" in said
    assert "C°92·38" in said
    assert SECRET not in said
    assert "A Club. Numbers. 4 reports" in said


@pytest.mark.parametrize(
    ("wrong", "says"),
    [
        ({"title": ""}, "give both"),
        ({"compiled_by": " "}, "give both"),
        ({"issued": "yesterday"}, "is not a date: write it like"),
        ({"issued": "2031-02-30"}, "does not exist"),
        ({"licence": "https://elsewhere.example/"}, "not offered here"),
    ],
)
def test_what_is_wrong_is_told_and_stays_typed(person, surveyed, wrong, says):
    answer = person.get(f"/machine/{surveyed}/dating/survey.zip", params=about(**wrong))
    assert answer.status_code == 422
    assert says in words(answer)
    assert typed(answer, "issued") == about(**wrong)["issued"]


def test_nothing_to_publish_is_told(person, slug):
    answer = person.get(f"/machine/{slug}/dating/survey.zip", params=about())
    assert answer.status_code == 422
    assert "no report to publish" in words(answer)


def test_a_published_survey_comes_in_again_as_known(person, surveyed):
    files = {"file": ("survey.zip", taken(person, surveyed))}
    page = person.post(f"/machine/{surveyed}/dating/table", files=files)
    said = words(page)
    for name in ("report 1", "report 2", "report 3"):
        assert f"kept already as {name}" in said
    assert "says something else" not in said

"""The package for the next owner: whole, careful about what is private, read by others."""

import json
import subprocess
import sys
from datetime import UTC, datetime

import bagit
import html5lib
import jsonschema
import numpy as np
import pytest
from csvw import CSVW
from PIL import Image
from rocrate.rocrate import ROCrate

from ironlace.dossier.bag.checking import check_bag
from ironlace.dossier.errors import BagRefusedError, FolderTakenError
from ironlace.record import PhotographRole, parse_entry
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over.bag_computed import verify_bag
from ironlace.workshop.hand_over.bagging import make_bag
from pdf_kept_long import faults_of

MADE = datetime(2031, 5, 4, 12, tzinfo=UTC)
SECRETS = [f"Quillfeather{n:02d}" for n in range(14)]
"""Each is planted at one place."""


def _file(folder, name, seed, **options):
    rows = np.random.default_rng(seed).integers(0, 255, (48, 64, 3), dtype=np.uint8)
    Image.fromarray(rows).save(folder / name, **options)
    return folder / name


def _photographs(workshop, slug, folder):
    """A bare picture, three that say more than they show, and one that is not for others."""
    told = Image.Exif()
    told[0x013B] = SECRETS[0]  # who took it
    told.get_ifd(0x8825).update({29: SECRETS[1]})  # of the place
    told.get_ifd(0x8769)[0xA431] = SECRETS[2]  # the camera's serial number
    files = [
        _file(folder, "bare.jpg", 1),
        _file(folder, "exif.jpg", 2, exif=told),
        _file(folder, "words.jpg", 3, comment=SECRETS[3].encode()),
        _file(folder, "longer.jpg", 4),
    ]
    files[3].write_bytes(files[3].read_bytes() + SECRETS[4].encode())
    for file in files:
        workshop.photographs.take_in_file(slug, file, PhotographRole.PART, file.stem)
    hidden = _file(folder, "letter.jpg", 5)
    workshop.photographs.take_in_file(
        slug, hidden, PhotographRole.DOCUMENT, SECRETS[5], published=False
    )


def _entries(workshop, slug):
    for payload in (
        {"kind": "mark", "reads": "93·217", "where": "bed", "grade": "seen",
         "sources": [{"kind": "person", "says": SECRETS[6]}]},
        {"kind": "provenance", "event": "sold", "who": SECRETS[7], "grade": "seen"},
        {"kind": "source", "title": SECRETS[8], "sort": "letter", "private": True},
        {"kind": "outlay", "what": SECRETS[9], "cost": "77", "currency": "EUR"},
        {"kind": "measurement", "what": "centres", "reads": "500 ± 2 mm", "grade": "measured"},
        {"kind": "treatment", "what": "Wiped", "done": "Wiped.", "aim": "remedial conservation",
         "undoing": "cannot be undone",
         "hazards": ["solvents and varnish"]},
        *[{"kind": "report", "name": f"{SECRETS[10]} {n}", "reads": reads, "grade": "seen",
           "how": "handled", "place": SECRETS[11], "reporter": SECRETS[12], "note": SECRETS[13]}
          for n, reads in enumerate(("91·044", "92·103", "93·188", "94·61"), 1)],
    ):  # fmt: skip
        workshop.records.add(slug, parse_entry(payload), by=SECRETS[12])


def _findings(workshop, slug):
    belt = {"driver": "280 ± 1 mm", "driven": "70 ± 0.5 mm", "centres": "measurement 1",
            "thickness": "5 mm", "way": "open"}  # fmt: skip
    for key, given in (("date", {}), ("belt-length", belt)):
        analysis, record = analyses.analysis_named(key), workshop.records.read(slug)
        asked = analyses.asked_for(analysis, record, given)
        analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))


@pytest.fixture(scope="module")
def bench(tmp_path_factory, add_drawing):
    """A workshop with a secret in every drawer, a drawing and two findings."""
    folder = tmp_path_factory.mktemp("bench")
    with Workshop.create(folder / "workshop") as workshop:
        slug = workshop.records.create("Plover head no. 2")
        _photographs(workshop, slug, folder)
        _entries(workshop, slug)
        _findings(workshop, slug)
        add_drawing(workshop, slug)
        yield workshop, slug


@pytest.fixture(scope="module")
def public(bench, tmp_path_factory):
    return make_bag(*bench, tmp_path_factory.mktemp("bags") / "public", made=MADE)


@pytest.fixture(scope="module")
def private(bench, tmp_path_factory):
    folder = tmp_path_factory.mktemp("bags") / "private"
    return make_bag(
        *bench, folder, private=True, hours_and_costs=True, packed_by="A. Club", made=MADE
    )


def names_in(folder):
    return {p.relative_to(folder).as_posix() for p in folder.rglob("*") if p.is_file()}


def test_a_public_bag_says_which_originals_it_holds_back(public):
    assert {n for n in names_in(public / "data") if n.startswith("originals/")} == {
        "originals/photograph-1-bare.jpg",
        "originals/drawing-1-filigree-of-the-bed.svg",
    }
    readme = (public / "data" / "README.txt").read_text(encoding="utf-8")
    assert "photograph 2, photograph 3, photograph 4" in " ".join(readme.split())
    assert "photograph 5" not in readme


def test_both_bags_are_whole_to_us_and_to_others(public, private):
    for bag in (public, private):
        assert check_bag(bag).faults == ()
        outside = bagit.Bag(str(bag))
        outside.validate()
        assert outside.info["External-Identifier"] == "plover-head-no-2"
        assert outside.info["Bagging-Date"] == "2031-05-04"
        assert ("Source-Organization" in outside.info) is (bag is private)


def test_what_was_not_said_stands_there_as_unsaid(public, private):
    unsaid = (public / "data" / "CITATION.cff").read_text(encoding="utf-8")
    assert "not named by whoever packed it" in unsaid and "A. Club" not in unsaid
    said = (private / "data" / "CITATION.cff").read_text(encoding="utf-8")
    assert 'name: "A. Club"' in said and 'date-released: "2031-05-04"' in said
    table = (public / "data" / "survey" / "reports.csv-metadata.json").read_text(encoding="utf-8")
    assert "dc:license" not in table and "dc:creator" not in table


def test_each_finding_is_computed_again_from_the_bag_alone(public, private):
    for bag in (public, private):
        told = {one.name: one for one in verify_bag(bag).findings}
        assert set(told) == {"finding 1", "finding 2", "drawing 1"}
        assert told["finding 1"].same and told["finding 2"].same
        assert told["drawing 1"].same is None  # it was never traced here
        assert not any(one.stale for one in told.values())
    date = json.loads((public / "data" / "findings" / "finding-1.json").read_text(encoding="utf-8"))
    assert {one["name"]: one["held_back"] for one in date["inputs"]}["sightings"] is True


def test_the_record_is_as_its_schema_says(public, private):
    for bag in (public, private):
        schema = json.loads((bag / "data" / "record.schema.json").read_text(encoding="utf-8"))
        record = json.loads((bag / "data" / "record.json").read_text(encoding="utf-8"))
        jsonschema.Draft202012Validator.check_schema(schema)
        jsonschema.Draft202012Validator(schema).validate(record)
        record["entries"]["mark 1"]["grade"] = "certain"
        with pytest.raises(jsonschema.ValidationError):
            jsonschema.Draft202012Validator(schema).validate(record)


def test_the_crate_describes_every_file(public, private):
    for bag in (public, private):
        crate = json.loads((bag / "data" / "ro-crate-metadata.json").read_text(encoding="utf-8"))
        by_id = {one["@id"]: one for one in crate["@graph"]}
        assert by_id["ro-crate-metadata.json"]["about"] == {"@id": "./"}
        parts = {part["@id"] for part in by_id["./"]["hasPart"]}
        assert parts == names_in(bag / "data") - {"ro-crate-metadata.json"}
        assert parts <= by_id.keys()
        assert by_id["./"]["datePublished"] == "2031-05-04"
        assert ("publisher" in by_id["./"]) is (bag is private)


def test_the_crate_and_the_survey_are_read_by_the_libraries_of_their_standards(public, private):
    for bag in (public, private):
        crate = ROCrate(str(bag / "data"))
        assert crate.name == "Record of Plover head no. 2"
        assert {e.id for e in crate.get_entities()} >= names_in(bag / "data")
        survey = CSVW(str(bag / "data" / "survey" / "reports.csv-metadata.json"), validate=True)
        assert survey.is_valid
        (table,) = survey.tables
        rows = list(table.iterdicts())
        assert [row["mark"] for row in rows] == ["93·217", "91·044", "92·103", "93·188", "94·61"]
        assert list(rows[0]) == [column.name for column in table.tableSchema.columns]


def test_every_page_is_html_without_a_fault(public, private):
    for bag in (public, private):
        pages = sorted(bag.rglob("*.html"))
        assert len(pages) > 5
        for page in pages:
            html5lib.HTMLParser(strict=True).parse(page.read_bytes())


def test_every_printed_file_is_made_to_be_kept(public, private):
    for bag in (public, private):
        printed = sorted(bag.rglob("*.pdf"))
        assert {path.name for path in printed} >= {"dossier-a4.pdf", "dossier-letter.pdf"}
        for path in printed:
            assert faults_of(path) == [], path


def test_cautions_stand_in_a_file_of_their_own(public):
    said = (public / "data" / "cautions.txt").read_text(encoding="utf-8")
    assert "Solvents and varnish" in said


def test_a_spoilt_original_is_never_packed(workshop, slug, tmp_path):
    taken = workshop.photographs.take_in_file(
        slug, _file(tmp_path, "a.jpg", 1), PhotographRole.PART, "a"
    )
    place = workshop.photographs.original(taken.sha256).path
    workshop.photographs.view(taken.sha256, 1600)
    place.chmod(0o644)
    place.write_bytes(place.read_bytes()[:-2] + b"\0\0")
    with pytest.raises(BagRefusedError, match="not what it was"):
        make_bag(workshop, slug, tmp_path / "bag", private=True)
    assert {p.name for p in tmp_path.iterdir()} == {"a.jpg", "workshop"}


KILLED = """
import os, sys
from pathlib import Path
from ironlace.workshop import Workshop
from ironlace.workshop.hand_over.bagging import make_bag
def stop(stage, done):
    if stage == "taking checksums" and done > 0.9:
        os._exit(9)
with Workshop.open(Path(sys.argv[1])) as workshop:
    make_bag(workshop, sys.argv[2], Path(sys.argv[3]), progress=stop)
"""


def test_killed_in_the_middle_leaves_nothing_half_there(workshop, slug, tmp_path):
    out = tmp_path / "bags" / "bag"
    words = [sys.executable, "-c", KILLED, str(workshop.folder), slug, str(out)]
    assert subprocess.run(words, check=False).returncode == 9
    assert not out.exists()
    assert make_bag(workshop, slug, out) == out
    assert check_bag(out).faults == ()
    (out / "mine.txt").write_text("not yours", encoding="utf-8")
    with pytest.raises(FolderTakenError):
        make_bag(workshop, slug, out)
    assert (out / "mine.txt").is_file()

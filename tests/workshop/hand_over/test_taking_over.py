"""A package taken in by another workshop: all of it or nothing, and out again the same."""

import json
import shutil
from datetime import UTC, datetime

import numpy as np
import pytest
from PIL import Image

from ironlace.dossier.bag.checking import check_bag
from ironlace.dossier.bag.writing import close_bag
from ironlace.dossier.errors import BagRefusedError
from ironlace.record import PhotographRole, Provenance, parse_entry
from ironlace.workshop import Workshop, analyses
from ironlace.workshop.hand_over import taking_over
from ironlace.workshop.hand_over.bag_computed import BagVerified, verify_bag
from ironlace.workshop.hand_over.bagging import make_bag
from ironlace.workshop.hand_over.taking_over import take_over
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.store.check import check_workshop
from ironlace.workshop.survey.reports_of_record import reports_of
from ironlace.workshop.survey.surveys import share

MADE = datetime(2031, 5, 4, 12, tzinfo=UTC)
SOLD = Provenance(event="bought from the last owner", who="The new owner", grade="seen")


def _picture(file, seed):
    rows = np.random.default_rng(seed).integers(0, 255, (24, 32, 3), dtype=np.uint8)
    Image.fromarray(rows).save(file)
    return file


@pytest.fixture(scope="module")
def packed(tmp_path_factory, add_drawing):
    """A machine with a history: renamed, changed, withdrawn, taken back; and its package."""
    folder = tmp_path_factory.mktemp("packed")
    with Workshop.create(folder / "workshop") as workshop:
        other = workshop.records.create("Another head")
        slug = workshop.records.create("Plover head no. 5")
        for title, seed in (("front", 1), ("other", 2), ("front", 3)):
            workshop.photographs.take_in_file(
                slug, _picture(folder / f"{title}{seed}.png", seed), PhotographRole.PART, title
            )
            workshop.records.add(other, parse_entry({"kind": "question", "asks": f"{seed}?"}))
        mark = {"kind": "mark", "reads": "93·217", "where": "bed", "grade": "seen"}
        name = workshop.records.add(slug, parse_entry(mark), by="A. Hand")
        workshop.records.change(slug, name, parse_entry(mark | {"reads": "93·277"}))
        workshop.records.change(slug, "photograph 2", None)  # its original stays in the history
        undone = workshop.records.changes(slug)[-1]
        workshop.records.undo(slug, undone.number)
        workshop.records.change(slug, "photograph 3", None)
        for n, reads in enumerate(("91·044", "92·103", "93·188", "94·61"), 1):
            report = {"kind": "report", "name": f"Head {n}", "reads": reads, "how": "handled"}
            workshop.records.add(slug, parse_entry(report | {"grade": "seen"}))
        analysis, record = analyses.analysis_named("date"), workshop.records.read(slug)
        asked = analyses.asked_for(analysis, record, {})
        analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))
        add_drawing(workshop, slug)
        workshop.records.rename(slug, "The mill's head")
        return make_bag(workshop, slug, folder / "bag", private=True, made=MADE)


@pytest.fixture
def elsewhere(tmp_path):
    with Workshop.create(tmp_path / "elsewhere") as workshop:
        mine = workshop.records.create("My own head")
        workshop.records.add(mine, parse_entry({"kind": "question", "asks": "Whose?"}))
        yield workshop


def everything_in(bag):
    return {str(p.relative_to(bag)): p.read_bytes() for p in bag.rglob("*") if p.is_file()}


def _untouched(workshop):
    assert [one.title for one in workshop.records.all()] == ["My own head"]
    assert list(workshop.store.files()) == []
    assert list(workshop.store.incoming.glob("*")) == []


def test_out_in_and_out_again_is_the_same_to_the_last_byte(packed, elsewhere, tmp_path):
    taken = take_over(elsewhere, packed)
    assert taken.slug == "plover-head-no-5"
    assert (taken.step, taken.originals) == (None, 4)
    # (the drawing of these tests was traced from no photograph, and says so)
    assert {one.name: one.same for one in taken.findings}["finding 1"]
    assert check_workshop(elsewhere).wrong == ()
    again = make_bag(elsewhere, taken.slug, tmp_path / "again", private=True, made=MADE)
    was, now = everything_in(packed), everything_in(again)
    assert was.keys() == now.keys()
    assert [name for name in was if was[name] != now[name]] == []


def test_the_history_goes_on_with_the_change_of_owner(packed, elsewhere):
    taken = take_over(elsewhere, packed, SOLD, by="The new owner")
    record = elsewhere.records.read(taken.slug)
    assert record.named(taken.step).event == SOLD.event
    assert record.named(taken.step).private  # nobody's name leaves unless it is said
    changes = elsewhere.records.changes(taken.slug)
    assert len(changes) == taken.changes + 1
    assert changes[-1].made_by == "The new owner"
    assert "A. Hand" in {change.made_by for change in changes}
    # what its history holds can be taken back here as there
    elsewhere.records.undo(taken.slug, changes[-1].number)
    assert record.entries.keys() - elsewhere.records.read(taken.slug).entries.keys()


def test_taken_in_twice_it_is_another_machine(packed, elsewhere):
    first, second = take_over(elsewhere, packed), take_over(elsewhere, packed)
    assert second.slug == f"{first.slug}-2"
    assert check_workshop(elsewhere).wrong == ()


def test_a_changed_byte_is_refused(packed, elsewhere, tmp_path):
    bag = shutil.copytree(packed, tmp_path / "bag")
    picture = next((bag / "data" / "originals").glob("*.png"))
    picture.chmod(0o644)
    picture.write_bytes(picture.read_bytes()[:-1] + b"\0")
    with pytest.raises(BagRefusedError, match=f"nothing of it was taken in.*{picture.name}"):
        take_over(elsewhere, bag)
    _untouched(elsewhere)


def _spoilt(document, how):
    changes = document["changes"]
    if how == "a public copy, without its history":
        del document["changes"]
    elif how == "a history that is nothing":
        document["changes"] = None
    elif how == "takes back what is not there":
        changes[-1]["undoes"] = 77
    elif how == "names what never was":
        marks = [c["entry"] for c in changes if c["entry"] and c["entry"]["kind"] == "mark"]
        marks[-1]["photographs"] = ["photograph 99"]
    elif how == "a number twice":
        changes[1]["number"] = changes[0]["number"]
    elif how == "no time zone":
        changes[0]["made_at"] = "2031-05-04T12:00:00"
    elif how == "a hand in two lines":
        changes[0]["made_by"] = "A\nB"
    elif how == "an original that did not come":
        changes[0]["entry"]["sha256"] = "0" * 64


@pytest.mark.parametrize(
    "how",
    [
        "a public copy, without its history",
        "a history that is nothing",
        "takes back what is not there",
        "names what never was",
        "a number twice",
        "no time zone",
        "a hand in two lines",
        "an original that did not come",
    ],
)
def test_a_history_that_is_not_whole_is_refused_though_every_checksum_fits(
    packed, elsewhere, tmp_path, how, monkeypatch
):
    bag = shutil.copytree(packed, tmp_path / "bag")
    file = bag / "data" / "record.json"
    document = json.loads(file.read_text())
    _spoilt(document, how)
    file.chmod(0o644)
    file.write_text(json.dumps(document))
    for manifest in bag.glob("*manifest-*"):
        manifest.unlink()
    close_bag(bag, {})
    # what the findings come to is another test's
    sound = check_bag(bag)
    assert sound.faults == ()
    monkeypatch.setattr(taking_over, "verify_bag", lambda *_: BagVerified(sound, ()))
    with pytest.raises(
        Exception, match=r"whole|time zone|not in the package|made with --private"
    ) as refused:
        take_over(elsewhere, bag)
    assert refused.value.http_status < 500
    _untouched(elsewhere)


def test_a_machine_that_shares_a_survey_is_packed_and_taken_in_whole(elsewhere, tmp_path):
    with Workshop.create(tmp_path / "club") as workshop:
        records = workshop.records
        slugs = [records.create(title) for title in ("First head", "Second head")]
        for slug, own in zip(slugs, ("93·277", "94·310"), strict=True):
            mark = {"kind": "mark", "reads": own, "where": "bed", "grade": "seen"}
            records.add(slug, parse_entry(mark))
            entry = {"kind": "source", "title": "a bill", "sort": "letter"}
            records.add(slug, parse_entry(entry))
        analysis = analyses.analysis_named("date")
        for n, (slug, reads) in enumerate(zip(slugs * 2, NUMBERS, strict=True)):
            seen = [{"kind": "document", "entry": "source 1"}]
            report = {"kind": "report", "name": f"Head {n}", "reads": reads, "sources": seen}
            records.add(slug, parse_entry(report | {"grade": "seen"}))
        for slug in slugs:  # a finding of before they shared
            record = records.read(slug)
            asked = analyses.asked_for(analysis, record, {})
            analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))
        share(workshop, slugs[1], slugs[0])
        before = verify_record(workshop, slugs[1])
        assert all(one.same for one in before)
        assert before[0].stale
        bag = make_bag(workshop, slugs[1], tmp_path / "bag", private=True, made=MADE)
        told = records.read(slugs[1])
    verified = verify_bag(bag)
    assert verified.checked.faults == ()
    assert [one.same for one in verified.findings] == [True]
    taken = take_over(elsewhere, bag)
    here = elsewhere.records.read(taken.slug)
    assert here.by_name == told.by_name
    assert reports_of(here).counted == reports_of(told).counted
    assert len(reports_of(here).counted) == 6
    assert check_workshop(elsewhere).sound
    assert [(v.name, v.same) for v in verify_record(elsewhere, taken.slug)] == [
        (v.name, v.same) for v in before
    ]


NUMBERS = ("91·044", "92·103", "93·188", "94·61")

"""A bag verified from itself alone, by the command, also where it was sealed again by a forger."""

import json
from datetime import UTC, datetime

import pytest

from ironlace.cli import main
from ironlace.dossier.bag.writing import close_bag
from ironlace.dossier.errors import BagRefusedError
from ironlace.dossier.record_file import changes_in, record_document
from ironlace.evidence.errors import ConflictError
from ironlace.record import Measurement, Question
from ironlace.record.history import record_at
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.bag_computed import verify_bag

LATER = datetime(2040, 1, 1, tzinfo=UTC)


@pytest.fixture
def measured(workshop, slug):
    """A belt worked out from a measurement, with a question withdrawn and brought back."""
    records = workshop.records
    centres = Measurement(what="centres", reads="500 ± 2 mm", grade="measured")
    records.add(slug, centres, by="the owner")
    name = records.add(slug, Question(asks="who?"))
    records.change(slug, name, None)
    records.undo(slug, records.changes(slug)[-1].number)
    given = {"driver": "280 mm", "driven": "70 mm", "centres": "measurement 1",
             "thickness": "5 mm", "way": "open"}  # fmt: skip
    analysis, record = analyses.analysis_named("belt-length"), records.read(slug)
    asked = analyses.asked_for(analysis, record, given)
    analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))
    return slug


@pytest.fixture
def document(workshop, measured):
    records = workshop.records
    return record_document(records.read(measured), records.changes(measured), "0.0")


@pytest.fixture
def sealed(tmp_path):
    """Make a bag of a record's document; without its pages, which verifying does not read."""

    def seal(document, told=None):
        bag = tmp_path / "bag"
        (bag / "data" / "findings").mkdir(parents=True, exist_ok=True)
        (bag / "data" / "record.json").write_text(json.dumps(document), encoding="utf-8")
        finding = told or {
            "finding": document["entries"]["finding 1"]["finding"],
            "inputs": [{"name": "measurement 1", "sha256": "0" * 64, "held_back": False}],
        }
        place = bag / "data" / "findings" / "finding-1.json"
        place.write_text(json.dumps(finding), encoding="utf-8")
        close_bag(bag, {})
        return bag

    return seal


@pytest.fixture
def run(capsys, monkeypatch, tmp_path):
    """Run the command line where there is no workshop; exit code, output, standard error."""
    (tmp_path / "elsewhere").mkdir()
    monkeypatch.chdir(tmp_path / "elsewhere")

    def run(*words):
        capsys.readouterr()
        with pytest.raises(SystemExit) as end:
            main([str(word) for word in words])
        return (end.value.code or 0, *capsys.readouterr())

    return run


def test_a_finding_comes_out_again_with_no_workshop_at_hand(sealed, document, run):
    bag = sealed(document)
    code, out, _ = run("verify", bag)
    assert code == 0
    assert "each is as it was packed" in out and "finding 1: same" in out
    told = json.loads(run("verify", bag, "--json")[1])
    assert (told["faults"], told["same"], told["files"]) == ([], True, 2)


def test_a_fault_ends_with_1_and_nothing_is_computed(sealed, document, run):
    bag = sealed(document)
    (bag / "data" / "record.json").write_text("{}", encoding="utf-8")
    code, out, err = run("verify", bag)
    assert code == 1
    assert "WRONG: data/record.json is not what manifest-sha256.txt says" in out
    assert "finding 1" not in out and "do not trust" in err
    assert json.loads(run("verify", bag, "--json")[1])["findings"] == []


def test_a_finding_that_was_forged_and_sealed_again_is_named(sealed, document, run):
    forged = json.loads(json.dumps(document))
    for one in (forged["entries"]["finding 1"], forged["changes"][-1]["entry"]):
        one["finding"]["value"] *= 1.01
        one["finding"]["results"][0]["value"] *= 1.01
    code, out, err = run("verify", sealed(forged))
    assert code == 1
    assert "finding 1: DIFFERENT" in out and "came out different" in err


def test_a_finding_told_in_two_ways_is_named(sealed, document):
    told = json.loads(json.dumps(document["entries"]["finding 1"]))
    told = {"finding": {**told["finding"], "value": 1.0}, "inputs": []}
    (one,) = verify_bag(sealed(document, told)).findings
    assert one.same is False and "another finding than record.json" in one.says


@pytest.mark.parametrize(
    "spoil",
    [
        lambda d: d.pop("entries") and d.pop("changes"),
        lambda d: d["changes"][0].update(of="nothing 1"),
        lambda d: d["changes"][0].update(made_at="yesterday"),
        lambda d: d["changes"][0]["entry"].update(kind="nothing"),
        lambda d: d.update(changes=[3]),
        lambda d: d.update(changes={"a": 1}),
    ],
)
def test_what_is_no_record_is_refused_in_one_sentence(sealed, document, run, spoil):
    spoilt = json.loads(json.dumps(document))
    told = {"finding": document["entries"]["finding 1"]["finding"], "inputs": []}
    spoil(spoilt)
    bag = sealed(spoilt, told)
    with pytest.raises(BagRefusedError, match="does not hold a record"):
        verify_bag(bag)
    code, _, err = run("verify", bag)
    assert (code, err.count("\n")) == (2, 1)


def test_a_folder_that_is_no_bag_and_a_name_that_is_no_machine_are_refused(run, tmp_path):
    code, _, err = run("verify", tmp_path / "elsewhere")
    assert (code, "holds no package" in err) == (2, True)
    assert run("verify", "no-such-machine")[0] == 2


def test_a_machine_is_verified_by_its_name_as_before(workshop, measured, run):
    code, out, _ = run("verify", measured, "--workshop", workshop.folder)
    assert (code, "finding 1: same" in out) == (0, True)


def test_a_history_comes_back_as_it_was(workshop, measured, document):
    told = changes_in(document, LATER)
    assert told == workshop.records.changes(measured)
    entries = workshop.records.read(measured).entries
    assert record_at(measured, "", told).entries == entries
    with pytest.raises(ConflictError, match="holds something already"):
        workshop.records.write_history(measured, told)
    other = workshop.records.create("Another")
    with pytest.raises(ConflictError, match="not whole"):  # its numbers are taken here
        workshop.records.write_history(other, told)
    assert workshop.records.read(other).entries == {}


def test_entries_without_history_are_one_change_each(document):
    document.pop("changes")
    told = changes_in(document, LATER)
    assert {one.made_at for one in told} == {LATER}
    assert [one.name for one in told] == list(document["entries"])

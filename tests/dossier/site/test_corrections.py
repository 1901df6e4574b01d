"""What was said before is told from the history alone, with what changed it and no name unasked."""

from datetime import UTC, datetime, timedelta

from ironlace.dossier.privacy import Choice, copy_for, findings_over_time, rests_on_held
from ironlace.dossier.site.corrections import additions_of, corrections_of
from ironlace.evidence.findings import checksum_of
from ironlace.record import Change, parse_entry, record_at
from ironlace.record.entries import EntryKind

BEGAN = datetime(2026, 3, 1, 9, tzinfo=UTC)
NAMED = "may be published with place and name"
SECRET = "Hesper Quillfeather"


def history(*steps):
    """Changes a day apart: (name, payload or None)."""
    changes = []
    for day, (name, payload) in enumerate(steps):
        kind, _, key = name.partition(" ")
        entry = None if payload is None else parse_entry({"kind": kind, **payload})
        at = BEGAN + timedelta(days=day)
        changes.append(Change(day + 1, at, SECRET, EntryKind(kind), int(key), entry))
    return changes


def date(value, seen, version="1", **more):
    """A date worked out from reports; `seen` stands for all that was read."""
    sentence = f"B°93·217: {value}, in 9 cases out of 10; inferred. By {seen}."
    told = {"about": "date of making", "value": value, "grade": "inferred", "sentence": sentence,
            "method": {"name": "compare"}, "inputs": {"sightings": checksum_of(seen)},
            "version": version}  # fmt: skip
    return {"finding": {**told, **more}}


def report(reads, **more):
    return {"name": f"machine of {SECRET}", "reads": reads, "grade": "seen", "how": "told", **more}


def told_of(changes, **changed):
    record = record_at("plover", "Plover", changes)
    choice = Choice(changed=changed)
    told, _ = copy_for(record, choice)
    versions = findings_over_time(record, changes, choice)
    return corrections_of(versions, changes, told, {}), told


def test_a_later_report_corrects_and_the_old_value_stays():
    changes = history(
        ("report 1", report("92·38")),
        ("finding 1", date("1892", "1 report")),
        ("report 2", report("94·11", reporter="A. P.", allowed=NAMED)),
        ("report 3", report("95·12", reporter=SECRET)),
        ("finding 1", date("1894", "3 reports")),
    )
    (one,), _ = told_of(changes)
    assert (one.before.words, one.now.words) == ("1892", "1894")
    assert one.question == "When was it made?" and one.since.isoformat() == "2026-03-05"
    first, second = one.because
    assert first.words.startswith("report 2 (94·11") and first.words.endswith("came in")
    assert second.words == "report 3 (95·12) came in"
    assert SECRET not in repr(one)


def test_a_report_withdrawn_doubted_or_changed_is_told_as_such():
    changes = history(
        *((f"report {n}", report(f"9{n}·38")) for n in (1, 2, 3, 4)),
        ("finding 1", date("1892", "4 reports")),
        ("report 1", None),
        ("report 2", report("92·38", counts=False)),
        ("report 3", report("99·38")),
        ("report 4", report("94·38", counts=False)),
        ("report 4", report("94·38")),  # and back: it changed nothing
        ("finding 1", date("1899", "other reports")),
    )
    (one,), _ = told_of(changes)
    assert [reason.words for reason in one.because] == [
        "report 1 was withdrawn",
        "report 2 (92·38) is doubted and no longer counts",
        "report 3 (99·38) was changed",
    ]


def test_the_same_answer_worked_out_again_is_no_correction():
    changes = history(
        ("finding 1", date("1892", "1 report")),
        ("finding 1", date("1892", "1 report")),
        ("finding 1", date("1892", "1 report", version="2", sentence="Other words.")),
    )
    found, _ = told_of(changes[:2])
    assert found == ()
    found, _ = told_of(changes)  # nor are the words that a new version finds for it
    assert found == ()


def test_a_finding_withdrawn_is_told_and_one_that_came_back_is_new():
    changes = history(
        ("finding 1", date("1892", "1")), ("finding 1", None), ("finding 1", date("1893", "1"))
    )
    found, _ = told_of(changes)
    (one,) = found
    assert one.now is None and one.before.words == "1892"


def test_what_rests_on_something_held_back_is_held_back_too():
    changes = history(
        ("photograph 1", {"sha256": "0" * 64, "role": "mark", "published": False}),
        ("report 1", report("92·38")),
        ("finding 1", date("1", "1", about="a plate", inputs={"photograph 1": "0" * 64})),
        ("finding 2", date("1892", "2")),
        ("finding 2", date("1893", "3")),
        ("finding 3", date("1", "4", about="x", inputs={}, method={
            "name": "y", "parameters": {"asked": {"plate": "finding 1"}}})),
    )  # fmt: skip
    record = record_at("plover", "Plover", changes)
    assert rests_on_held(record, Choice()) == {
        "finding 1": ("photograph 1",),
        "finding 3": ("finding 1",),
    }
    found, told = told_of(changes)
    assert "finding 1" not in told.by_name and "finding 2" in told.by_name
    assert [one.name for one in found] == ["finding 2"]
    found, told = told_of(changes, **{"report 1": False})
    assert found == () and "finding 2" not in told.by_name
    found, told = told_of(changes, **{"report 1": False, "finding 2": True})
    assert [one.name for one in found] == ["finding 2"]
    assert "report 1" not in repr(found)


def test_additions_tell_by_day_what_still_stands():
    changes = history(
        ("report 1", report("92·38")),
        ("photograph 1", {"sha256": "0" * 64, "role": "mark", "published": False}),
        ("report 2", report("93·38")),
        ("report 2", None),
    )
    _, told = told_of(changes)
    (one,) = additions_of(changes, told)
    assert one.first and one.words == "1 report of another machine"

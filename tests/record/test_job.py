from ironlace.evidence import Finding, Grade
from ironlace.evidence.findings import Method
from ironlace.record import EntryKind, Record, job_of, parse_entry
from ironlace.record.job import DATE_FINDING, StepProgress

SHA = "0" * 64


def record_of(*payloads):
    entries = {}
    counts: dict[str, int] = {}
    for payload in payloads:
        counts[payload["kind"]] = counts.get(payload["kind"], 0) + 1
        entries[(EntryKind(payload["kind"]), counts[payload["kind"]])] = parse_entry(payload)
    return Record("m", "M", entries)


def test_a_new_machine_is_photographed_before_anything_else():
    steps, upcoming = job_of(record_of())
    assert upcoming is steps[0]
    assert upcoming.adds is EntryKind.PHOTOGRAPH
    assert "before anything is cleaned" in upcoming.next


def test_the_next_thing_moves_on_as_the_record_grows():
    found = {"kind": "photograph", "sha256": SHA, "role": "as found"}
    came = {"kind": "provenance", "event": "bought", "grade": "seen"}
    _, upcoming = job_of(record_of(found))
    assert upcoming.adds is EntryKind.PROVENANCE
    _, upcoming = job_of(record_of(found, came))
    assert upcoming.key == "marks"


def test_one_report_does_not_date_a_machine():
    report = {"kind": "report", "name": "A", "reads": "B°93·217", "grade": "seen"}
    finding = {
        "kind": "finding",
        "finding": Finding(
            about=DATE_FINDING, value="1893", method=Method(name="m"), version="0"
        ).model_dump(mode="json"),
    }
    steps, _ = job_of(record_of(report, finding))
    date = next(step for step in steps if step.key == "date")
    assert date.progress is StepProgress.BEGUN
    assert "one number fits almost any theory" in date.next


def test_a_part_that_must_be_seen_to_comes_first_in_its_step():
    part = {"kind": "part", "name": "shuttle", "risk": "act now", "grade": Grade.SEEN.value}
    steps, _ = job_of(record_of(part))
    assert "'shuttle'" in next(step for step in steps if step.key == "condition").next

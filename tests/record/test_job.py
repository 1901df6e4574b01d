from ironlace.evidence import Finding, Grade
from ironlace.evidence.findings import Method
from ironlace.record import EntryKind, Record, job_of, parse_entry
from ironlace.record.choices import Stage
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


def step_of(key, *payloads):
    return next(step for step in job_of(record_of(*payloads))[0] if step.key == key)


FOUND = Finding(about="outline", value=1, method=Method(name="m"), version="0")
DRAWING = {
    "kind": "drawing",
    "name": "Scroll",
    "svg": SHA,
    "width_mm": 10.0,
    "height_mm": 5.0,
    "grade": "seen",
    "finding": FOUND.model_dump(mode="json"),
}
TREATMENT = {
    "kind": "treatment",
    "what": "wiped with a cloth",
    "aim": "preventive conservation",
    "undoing": "nothing to undo",
}
STROKE = {"kind": "measurement", "what": "stroke", "reads": "31 mm", "grade": "measured"}


def photograph(role):
    return {"kind": "photograph", "sha256": SHA, "role": role}


def test_a_drawing_kept_is_seen_by_its_step_whatever_its_photograph_was_for():
    step = step_of("ornament", photograph("as found"), DRAWING, DRAWING)
    assert step.progress is StepProgress.DONE
    assert step.changes == "drawing 2"
    assert "drawing 2" in step.next
    assert step_of("ornament", photograph("ornament")).progress is StepProgress.BEGUN
    assert step_of("ornament", photograph("as found")).progress is StepProgress.OPEN


def test_it_sews_when_its_stitch_is_shown_or_it_was_set_and_its_seam_measured():
    repair = TREATMENT | {"aim": "setting and repair of the mechanism"}
    seam = STROKE | {"what": "stitches on cotton", "reads": "12 spi"}
    tension = STROKE | {"what": "upper tension", "reads": "60 gf"}
    assert step_of("running").progress is StepProgress.OPEN
    for not_yet in ([STROKE], [STROKE, TREATMENT], [STROKE, repair], [seam], [repair]):
        assert step_of("running", *not_yet).progress is StepProgress.BEGUN
    for shown in ([photograph("stitch-out")], [repair, seam], [repair, tension]):
        assert step_of("running", *shown).progress is StepProgress.DONE
    asked = step_of("running", STROKE, repair)
    assert (asked.adds, "stitch-out" in asked.next) == (EntryKind.PHOTOGRAPH, True)


def test_a_step_that_asks_for_photographs_in_an_entry_names_that_entry():
    step = step_of("treat", TREATMENT, TREATMENT)
    assert step.changes == "treatment 2"
    assert "treatment 2" in step.next
    shown = TREATMENT | {"before": ["photograph 1"], "after": ["photograph 2"]}
    assert step_of("treat", TREATMENT, shown).changes == ""
    mark = {"kind": "mark", "reads": "12", "where": "bed", "grade": "seen"}
    assert step_of("marks", mark).changes == "mark 1"
    assert step_of("marks", mark | {"photographs": ["photograph 1"]}).changes == ""


def test_what_is_intended_is_not_done() -> None:
    meant = parse_entry(
        {
            "kind": "treatment",
            "what": "consolidate the gilt",
            "aim": "restoration",
            "undoing": "nothing to undo",
            "stage": "intended",
        }
    )
    assert meant.in_brief() == "intended: consolidate the gilt"
    record = Record("m", "M", {(EntryKind.TREATMENT, 1): meant})
    step = next(step for step in job_of(record)[0] if step.key == "treat")
    assert step.progress is StepProgress.OPEN
    assert "0 treatments" in step.have
    assert "1 intended" in step.have
    assert step.changes == "treatment 1"
    done = meant.model_copy(update={"stage": Stage.DONE})
    step = next(
        step
        for step in job_of(Record("m", "M", {(EntryKind.TREATMENT, 1): done}))[0]
        if step.key == "treat"
    )
    assert step.progress is StepProgress.BEGUN

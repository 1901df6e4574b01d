"""Sheets as a finding: kept, verified, gone stale; also those that version 0.1 kept."""

from dataclasses import replace

import pytest

from ironlace.evidence.findings import Finding, Method, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.ornament.stencils import SHEETS, first_asked
from ironlace.record import DrawingEntry, FindingEntry
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.verify import verify_record
from ironlace.workshop.stencils.sheets_kept import finding_of, keep_with_way_back
from ironlace.workshop.stencils.stencilling import keep_asked, planned, step_back

ASKED = first_asked("drawing 1", "film-laser")


@pytest.fixture
def drawn(workshop, slug, add_drawing):
    add_drawing(workshop, slug)
    return slug


def kept_by_0_1(workshop, slug):
    """A finding as version 0.1 wrote it: all figures in its value, nothing in results."""
    made = planned(workshop, slug, ASKED)
    r = made.report
    drawing = workshop.records.read(slug).named("drawing 1")
    finding = Finding(
        about="stencil sheets",
        value={
            "sheets": len(made.sheets),
            "islands": r["islands"],
            "bridges": r["bridges"],
            "bridge_mm2": r["bridge_mm2"],
            "covered": min(layer["laid"][0]["covered"] for layer in r["proof"]),
            "touch_in_minutes": r["touch_in"]["minutes"],
        },
        grade=Grade.INFERRED,
        sentence="For drawing 1: 1 sheet.",
        inputs={"drawing": drawing.svg, "process": checksum_of(ASKED.process)},
        method=Method(
            name="ironlace.ornament.stencils: least bridges, fewest sheets, laid on trial",
            parameters={
                "asked": {
                    "drawing": "drawing 1",
                    "process": ASKED.process,
                    "hold": "bridges",
                    "trap_mm": None,
                    "surface": None,
                    "mirrored": False,
                    "locked": [],
                    "kept": [],
                    "forbidden": [],
                    "before": 0,
                }
            },
        ),
        version="0.1.0",
    )
    return workshop.records.add(slug, FindingEntry(finding=finding))


def test_a_finding_of_the_version_before_is_read_and_verified(workshop, drawn):
    name = kept_by_0_1(workshop, drawn)
    assert finding_of(workshop, drawn, "drawing 1") == (name, ASKED)
    (told,) = (v for v in verify_record(workshop, drawn) if v.name == name)
    assert (told.same, told.stale) == (True, "")


def test_a_figure_of_the_version_before_that_differs_is_told(workshop, drawn):
    name = kept_by_0_1(workshop, drawn)
    entry = workshop.records.read(drawn).named(name)
    value = {**entry.finding.value, "bridges": 99}
    finding = entry.finding.model_copy(update={"value": value})
    workshop.records.change(drawn, name, entry.model_copy(update={"finding": finding}))
    (told,) = (v for v in verify_record(workshop, drawn) if v.name == name)
    assert told.same is False
    assert "not 99" in told.says


def test_keeping_again_takes_its_place_and_can_be_taken_back(workshop, drawn):
    name = kept_by_0_1(workshop, drawn)
    split = replace(ASKED, hold="split")
    assert keep_asked(workshop, drawn, planned(workshop, drawn, split)) == name
    entry = workshop.records.read(drawn).named(name)
    assert {r.unit for r in entry.finding.results} == {"", "mm²", "min"}
    assert {str(r.grade) for r in entry.finding.results} == {"inferred"}
    now = finding_of(workshop, drawn, "drawing 1")[1]
    assert (now.hold, now.before > 0) == ("split", True)
    changes = len(workshop.records.changes(drawn, name))
    keep_asked(workshop, drawn, planned(workshop, drawn, split))
    assert len(workshop.records.changes(drawn, name)) == changes
    assert step_back(workshop, drawn, "drawing 1") == ASKED


def test_it_goes_stale_with_its_drawing(workshop, drawn):
    name = keep_asked(workshop, drawn, planned(workshop, drawn, ASKED))
    record = workshop.records.read(drawn)
    assert analyses.stale(workshop, record, record.named(name).finding) == ""
    ((at, drawing),) = record.of(DrawingEntry)
    other = workshop.photographs.original(drawing.svg).path.read_text(encoding="utf-8") + "\n"
    from ironlace.workshop.ornament.drawings import keep_svg_in

    with workshop.database.writing() as session:
        kept = keep_svg_in(workshop, session, other, "other.svg")
    workshop.records.change(drawn, at, drawing.model_copy(update={"svg": kept}))
    record = workshop.records.read(drawn)
    assert "drawing changed" in analyses.stale(workshop, record, record.named(name).finding)


def test_page_and_generic_route_keep_the_same_finding(workshop, drawn):
    by_page = planned(workshop, drawn, ASKED)
    record = workshop.records.read(drawn)
    worked = analyses.work_out(workshop, record, SHEETS, ASKED)
    name = keep_asked(workshop, drawn, by_page)
    with workshop.database.writing() as session:
        assert keep_with_way_back(workshop, session, drawn, worked, "") == name
    assert len(workshop.records.changes(drawn, name)) == 1

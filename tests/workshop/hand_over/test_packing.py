"""The account that a workshop gives: each finding by its analysis, the stale as such."""

import pytest

from ironlace.dossier.blocks import Item, Remark, all_blocks
from ironlace.evidence.grades import Grade
from ironlace.record import Measurement
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.packing import account_from


@pytest.fixture
def measured(workshop, slug):
    """The centre distance as a measurement of the record."""
    entry = Measurement(what="centres", reads="500 ± 2 mm", grade=Grade.MEASURED)
    return workshop.records.add(slug, entry)


def kept_belt(workshop, slug, centres):
    """Work the belt out and keep it; the name of its finding."""
    analysis = analyses.analysis_named("belt-length")
    given = {
        "driver": "280 ± 1 mm",
        "driven": "70 ± 0.5 mm",
        "centres": centres,
        "thickness": "5 mm",
        "way": "open",
    }
    record = workshop.records.read(slug)
    asked = analyses.asked_for(analysis, record, given)
    return analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))


def announced(workshop, slug, name):
    """Section, item of a finding in the account."""
    account = account_from(workshop, slug)
    return next(
        (section, block)
        for section in account.sections
        for block in all_blocks(section.blocks)
        if isinstance(block, Item) and block.name == name
    )


def test_a_finding_stands_in_its_section_under_its_question(workshop, slug, measured):
    name = kept_belt(workshop, slug, measured)
    section, item = announced(workshop, slug, name)
    assert section.key == "stand"
    assert item.heading == analyses.analysis_named("belt-length").question
    assert f"Centres: 500 ± 2 mm ({measured})" in item.margin.lines
    assert not any(isinstance(b, Remark) and b.strong == "Out of date." for b in item.blocks)


def test_it_says_first_that_its_measurement_has_changed(workshop, slug, measured):
    name = kept_belt(workshop, slug, measured)
    changed = Measurement(what="centres", reads="520 ± 2 mm", grade=Grade.MEASURED)
    workshop.records.change(slug, measured, changed)
    _, item = announced(workshop, slug, name)
    first = item.blocks[0]
    assert isinstance(first, Remark)
    assert first.strong == "Out of date."
    assert measured in first.words


def test_steps_know_the_findings_that_fulfil_them(workshop, slug):
    done_by = analyses.done_by_step()
    assert "date of making" in done_by["date"]
    for one in analyses.ALL:
        if one.step:
            assert one.about in done_by[one.step]

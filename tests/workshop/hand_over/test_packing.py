"""The account that a workshop gives: each finding by its analysis, the stale as such."""

import json
from dataclasses import replace

import numpy as np
import pypdfium2
import pytest
from PIL import Image

from ironlace.dossier.account.blocks import FigureShown, Item, Remark, all_blocks
from ironlace.dossier.privacy import Audience
from ironlace.dossier.site.pages import write_site
from ironlace.evidence.errors import NotFoundError
from ironlace.evidence.grades import Grade
from ironlace.ornament.stencils import first_asked, known_process, process_toml
from ironlace.record import Measurement, PhotographRole, parse_entry
from ironlace.workshop import analyses
from ironlace.workshop.hand_over.chosen import choice_for, choose
from ironlace.workshop.hand_over.packing import account_from, make_pack, stencils_of
from ironlace.workshop.ornament.drawings import keep_flat
from ironlace.workshop.stencils.stencilling import keep_asked, planned


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
    _, note = announced(workshop, slug, item.margin.note)
    (given,) = [block.text for block in note.blocks if getattr(block, "label", "") == "With."]
    assert f": 500 ± 2 mm ({measured});" in given
    assert "mm mm" not in given
    assert not any(isinstance(b, Remark) and b.strong == "Out of date." for b in item.blocks)


def dated(workshop, slug, secret="Quillfeather"):
    """A machine with a mark, three reports by an owner's name, and its date kept."""
    mark = {"kind": "mark", "reads": "93·217", "where": "bed", "grade": "seen"}
    workshop.records.add(slug, parse_entry(mark))
    for n, reads in enumerate(("91·044", "92·103", "93·188", "94·61"), 1):
        report = {"kind": "report", "name": f"{secret} {n}", "reads": reads, "grade": "seen",
                  "how": "handled"}  # fmt: skip
        workshop.records.add(slug, parse_entry(report))
    analysis = analyses.analysis_named("date")
    record = workshop.records.read(slug)
    asked = analyses.asked_for(analysis, record, {})
    return analyses.keep(workshop, slug, analyses.work_out(workshop, record, analysis, asked))


def test_a_date_has_its_odds_as_reports_came_and_names_no_owner(workshop, slug):
    name = dated(workshop, slug)
    account = account_from(workshop, slug)
    _, item = announced(workshop, slug, name)
    (figure,) = [block for block in item.below if isinstance(block, FigureShown)]
    assert "currentColor" in figure.page_svg
    assert "currentColor" not in figure.print_svg and "var(" not in figure.print_svg
    assert "report report" not in " ".join(figure.says)
    assert "Quillfeather" not in repr(account) + json.dumps(account.document)
    assert "Quillfeather" in repr(account_from(workshop, slug, private=True))


def test_a_date_gone_stale_shows_no_odds_that_it_does_not_rest_on(workshop, slug):
    name = dated(workshop, slug)
    late = {"kind": "report", "name": "late", "reads": "95·1", "grade": "seen", "how": "handled"}
    workshop.records.add(slug, parse_entry(late))
    _, item = announced(workshop, slug, name)
    assert item.below == ()
    assert any(isinstance(b, Remark) and b.strong == "Out of date." for b in item.blocks)


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


@pytest.fixture
def two_drawings(workshop, slug, add_drawing):
    """Two drawings, each with planned sheets."""
    names = [add_drawing(workshop, slug), add_drawing(workshop, slug)]
    for name in names:
        laser = process_toml(known_process("film-laser"))
        asked = replace(first_asked(name), process=laser)
        keep_asked(workshop, slug, planned(workshop, slug, asked))
    return names


def words_of(pdf):
    document = pypdfium2.PdfDocument(pdf)
    return " ".join(" ".join(p.get_textpage().get_text_range() for p in document).split())


def test_planned_sheets_go_in_and_a_drawing_left_out_is_in_the_record_alone(
    workshop, slug, two_drawings, tmp_path
):
    _, second = two_drawings
    folder = make_pack(workshop, slug, tmp_path / "pack", without=[second])
    sheets = folder / "stencils" / "drawing-1-filigree-of-the-bed"
    names = {path.name for path in sheets.iterdir()}
    assert {"laying-a4.pdf", "laying-letter.pdf", "cutting.csv", "process.toml"} <= names
    assert any(n.startswith("sheet-") and n.endswith("-a4.pdf") for n in names)
    assert any(n.startswith("sheet-") and n.endswith(".svg") for n in names)
    assert "Never laser PVC" in words_of(sheets / "laying-a4.pdf")
    readme = (folder / "README.txt").read_text(encoding="utf-8")
    assert "stencils/" in readme
    assert "Never laser PVC" in readme
    assert f"Not shown by choice, though in record.json: {second}." in readme
    assert not list(folder.rglob("*drawing-2*"))
    assert "drawing 2" not in words_of(folder / "dossier-a4.pdf")
    assert "drawing 2" not in (folder / "site" / "index.html").read_text(encoding="utf-8")
    assert "drawing 2" in json.dumps(
        json.loads((folder / "record.json").read_text(encoding="utf-8"))
    )


def test_all_drawings_that_stand_go_in_unless_said_otherwise(workshop, slug, two_drawings):
    shown = account_from(workshop, slug).drawings
    assert [one.name for one in shown] == two_drawings
    assert [one.name for one in account_from(workshop, slug, without=two_drawings).drawings] == []


def test_a_drawing_that_was_chosen_to_stay_keeps_its_sheets_with_it(workshop, slug, two_drawings):
    first, second = two_drawings
    found = stencils_of(workshop, slug, choice_for(workshop, slug))
    assert [one.drawing for one in found] == [first, second]
    choose(workshop, slug, Audience.STRANGERS, {first: "stays"})
    found = stencils_of(workshop, slug, choice_for(workshop, slug))
    assert [one.drawing for one in found] == [second]
    account = account_from(workshop, slug)
    assert [one.name for one in account.drawings] == [second]
    assert first not in account.document["entries"]
    assert first in account_from(workshop, slug, private=True).document["entries"]


def test_what_is_no_drawing_cannot_be_left_out(workshop, slug, two_drawings, tmp_path):
    with pytest.raises(NotFoundError, match="drawing 9"):
        make_pack(workshop, slug, tmp_path / "pack", without=["drawing 9"])
    assert not (tmp_path / "pack").exists()


def test_a_drawing_is_wiped_over_its_photograph_unless_that_stays(
    workshop, slug, picture, add_drawing, tmp_path
):
    taken = workshop.photographs.take_in_file(slug, picture(), PhotographRole.ORNAMENT)
    name = add_drawing(workshop, slug)
    entry = (
        workshop.records.read(slug).named(name).model_copy(update={"photographs": (taken.name,)})
    )
    workshop.records.change(slug, name, entry)
    wide = np.zeros((340, 600, 3), np.uint8)  # 60 by 34 mm, as the drawing: blue left of 30 mm
    wide[:, :300, 2] = 255
    keep_flat(workshop, entry.svg, wide)
    (shown,) = account_from(workshop, slug).drawings
    write_site(account_from(workshop, slug), tmp_path / "site")
    page = (tmp_path / "site" / "ornament.html").read_text()
    assert page.count('type="radio"') == 5
    with Image.open(tmp_path / "site" / "drawings" / "drawing-1-ground.jpg") as ground:
        assert ground.width / ground.height == pytest.approx(
            shown.ink.width / shown.ink.height, abs=0.02
        )
        row = np.asarray(ground)[ground.height // 2, :, 2]
    # the photograph's middle lies under the drawing's
    edge = (row > 127).sum() / len(row)
    assert edge == pytest.approx((30.0 - shown.ink.left) / shown.ink.width, abs=0.01)
    theirs = workshop.records.read(slug).named(taken.name).model_copy(update={"credit": "A. Hale"})
    workshop.records.change(slug, taken.name, theirs)  # who says nothing of rights
    (shown,) = account_from(workshop, slug).drawings
    assert shown.ground is None
    write_site(account_from(workshop, slug), tmp_path / "other")
    assert not list(tmp_path.glob("other/drawings/*ground*"))
    assert account_from(workshop, slug, private=True).drawings[0].ground is not None

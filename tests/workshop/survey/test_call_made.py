"""A call made from a record: what it takes from there, and what it must not."""

from datetime import UTC, datetime
from io import BytesIO

import pytest
from PIL import Image

from ironlace.dossier.privacy import Audience
from ironlace.evidence.errors import IronlaceError, NotFoundError
from ironlace.record import Mark, PhotographRole
from ironlace.workshop.hand_over.chosen import choose
from ironlace.workshop.survey.call_made import (
    CALL_FILES,
    CallAsked,
    call_files,
    call_from,
    place_shown,
)
from ironlace.workshop.survey.reports_of_record import read_report_entries

MADE = datetime(2031, 5, 4, 3, 2, 1, 12, tzinfo=UTC)


@pytest.fixture
def at(workshop, slug):
    marks = [
        Mark(reads="7", where="needle plate", grade="seen"),
        Mark(reads="C°94·201", where="bed, in front", grade="seen", purpose="serial number"),
    ]
    workshop.records.add_all(slug, marks)
    return workshop, slug


def test_it_takes_the_place_of_the_number_from_the_mark_that_numbers_the_machine(at):
    record = at[0].records.read(at[1])
    call = call_from(at[0], record, CallAsked())
    assert (call.machine, call.where) == (record.title, "bed, in front")
    assert (call.mail, call.page, call.keeper) == ("", "", "")
    assert "Any number" in call.tells_most[0]


def test_with_reports_it_asks_for_what_would_tell_most(at):
    at[0].records.add_all(at[1], read_report_entries("id,mark\na,C°92·38\nb,C°93·94\n")[0])
    call = call_from(at[0], at[0].records.read(at[1]), CallAsked(machine="The green head"))
    assert call.tells_most[0].startswith("A number checked sign by sign")
    assert "We have a theory" in call.why[0]
    assert "C°9" not in call.as_text()  # nobody's reading is led by ours


def test_the_photograph_goes_out_bare_and_only_if_it_may(at, tmp_path):
    exif = Image.Exif()
    exif[0x010E] = "12 Mill Lane"
    Image.new("RGB", (900, 600), "grey").save(tmp_path / "a.jpg", exif=exif)
    for name, published in (("a.jpg", True), ("b.jpg", False)):
        if not published:
            Image.new("RGB", (90, 60), "red").save(tmp_path / name)
        at[0].photographs.take_in_file(
            at[1], tmp_path / name, PhotographRole.MARK, published=published
        )
    record = at[0].records.read(at[1])
    shown = place_shown(at[0], record, CallAsked(photograph="photograph 1", at="10, 20.5"))
    assert (shown.across, shown.down) == (10.0, 20.5)
    assert b"Mill Lane" not in shown.jpeg
    assert max(Image.open(BytesIO(shown.jpeg)).size) == 800
    for asked in (
        CallAsked(photograph="photograph 2"),
        CallAsked(photograph="photograph 1", at="nan,3"),
        CallAsked(photograph="photograph 1", at="middle"),
    ):
        with pytest.raises(IronlaceError):
            place_shown(at[0], record, asked)


def test_what_was_held_back_from_strangers_is_in_no_call(at, tmp_path):
    workshop, slug = at
    record = workshop.records.read(slug)
    assert "bed, in front" in call_from(workshop, record, CallAsked()).where_sits()
    Image.new("RGB", (90, 60), "grey").save(tmp_path / "a.jpg")
    workshop.photographs.take_in_file(slug, tmp_path / "a.jpg", PhotographRole.MARK, published=True)
    record = workshop.records.read(slug)
    assert place_shown(workshop, record, CallAsked(photograph="photograph 1"))
    said = {"mark 2": "stays", "photograph 1": "stays"}
    choose(workshop, slug, Audience.STRANGERS, said)
    assert not call_from(workshop, record, CallAsked()).where  # nor that of another mark
    with pytest.raises(IronlaceError, match="is for you alone"):
        place_shown(workshop, record, CallAsked(photograph="photograph 1"))


def test_only_known_files_are_made(at):
    record = at[0].records.read(at[1])
    assert set(call_files(at[0], record, CallAsked(), MADE)) == set(CALL_FILES)
    with pytest.raises(NotFoundError, match="no file"):
        call_files(at[0], record, CallAsked(), MADE, ["call.exe"])

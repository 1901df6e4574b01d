"""The tray: nothing counts before a person decided, and every decision can be taken back."""

import io
import quopri
from email.message import EmailMessage

import numpy as np
import pytest
from PIL import Image

from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError
from ironlace.record import Mark, Photograph, ReportEntry, SentReport
from ironlace.record.choices import Allowed, Channel, Naming, Verdict
from ironlace.survey.sharing.report_block import NAMED, compose
from ironlace.workshop.survey.reports_of_record import (
    read_report_entries,
    report_checksums,
    reports_of,
)
from ironlace.workshop.survey.surveys import make_survey, share
from ironlace.workshop.survey.tray import (
    Decision,
    TrayError,
    decide,
    initials,
    take_back,
    take_in,
    thanks,
    waiting,
)

REPORT = {
    "reads": "C°95·1164",
    "dated": "14 May 1895",
    "dated_by": "receipt",
    "place": "Northport",
    "place_told": "yes",
    "sender": "Anna Maria Person",
    "sender_as": NAMED[0],
}


@pytest.fixture
def at(workshop, slug):
    mark = Mark(reads="C°94·201", where="bed", grade="seen", purpose="serial number")
    workshop.records.add(slug, mark)
    workshop.records.add_all(slug, read_report_entries("id,mark\na,C°92·38\nb,C°93·94\n")[0])
    return workshop, slug


def block(**changes):
    return compose({**REPORT, **changes}).encode()


def jpeg():
    out = io.BytesIO()
    pixels = np.random.default_rng(3).integers(0, 255, (48, 64, 3), dtype=np.uint8)
    Image.fromarray(pixels).save(out, "JPEG")
    return out.getvalue()


def record(at):
    return at[0].records.read(at[1])


def test_what_waits_counts_nowhere(at):
    before = report_checksums(record(at)), reports_of(record(at))
    assert take_in(*at, block(), "report.txt").names == ("sent 1",)
    assert (report_checksums(record(at)), reports_of(record(at))) == before
    ((name, one),) = waiting(record(at))
    assert (name, one.reads, one.whole, one.came_as) == ("sent 1", "C°95·1164", "yes", "text file")


def test_kept_it_counts_and_taken_back_it_does_not(at):
    before = reports_of(record(at))
    take_in(*at, block())
    assert decide(*at, "sent 1", Decision(Verdict.KEPT, dated_is="sold"), by="me") == "report 3"
    kept = record(at).named("report 3")
    assert isinstance(kept, ReportEntry)
    assert (kept.reads, kept.counts, kept.how) == ("C°95·1164", True, Channel.TOLD)
    assert (kept.dated, kept.dated_is, kept.dated_by) == ("1895-05-14", "sold", "receipt")
    assert (kept.reporter, kept.place, kept.allowed) == (
        "Anna Maria Person",
        "Northport",
        Allowed.NAMED,
    )
    assert len(reports_of(record(at)).counted) == len(before.counted) + 1
    assert take_back(*at, "sent 1") == "report 3"
    assert reports_of(record(at)) == before
    changes = at[0].records.changes(at[1], "sent 1")
    assert [change.entry.verdict for change in changes] == ["waiting", "kept", "waiting"]
    assert changes[1].made_by == "me"
    assert decide(*at, "sent 1", Decision(Verdict.KEPT)) == "report 4"


def test_a_decision_under_another_survey_takes_back_no_report_of_this_one(at):
    workshop, slug = at
    take_in(*at, block())
    made = decide(*at, "sent 1", Decision(Verdict.KEPT), by="me")
    club = make_survey(workshop, "Club")
    for n in range(4):
        workshop.records.add(club, ReportEntry(name=f"{n}", reads=f"D°9{n}·8", grade="seen"))
    share(workshop, slug, club, bring=False)
    assert made in record(at).by_name
    with pytest.raises(ConflictError, match="had another survey then"):
        take_back(*at, "sent 1")
    assert made in record(at).by_name


def test_a_date_is_kept_only_when_it_is_said_what_it_says(at):
    take_in(*at, block())
    decide(*at, "sent 1", Decision(Verdict.KEPT))
    assert record(at).named("report 3").dated is None


def test_doubted_it_is_kept_and_does_not_count(at):
    take_in(*at, block())
    with pytest.raises(TrayError, match="Say why"):
        decide(*at, "sent 1", Decision(Verdict.DOUBTED))
    decide(*at, "sent 1", Decision(Verdict.DOUBTED, reason="the ring may be a pit"))
    doubted = record(at).named("report 3")
    assert not doubted.counts
    assert doubted.note.startswith("doubted: the ring may be a pit")


def test_a_second_sighting_names_the_first(at):
    take_in(*at, block(reads="C°92·38"))
    with pytest.raises(TrayError, match="of which machine"):
        decide(*at, "sent 1", Decision(Verdict.SECOND))
    with pytest.raises(NotFoundError):
        decide(*at, "sent 1", Decision(Verdict.SECOND, same_as="report 77"))
    decide(*at, "sent 1", Decision(Verdict.SECOND, same_as="report 1"))
    joined = record(at).named("report 3")
    assert (joined.same_as, joined.counts) == ("a", False)


def test_turned_down_it_makes_no_report_and_says_why(at):
    take_in(*at, block())
    assert decide(*at, "sent 1", Decision(Verdict.TURNED_DOWN, reason="a patent number")) == ""
    (_, one) = next(record(at).of(SentReport))
    assert (one.verdict, one.reason, one.report) == ("turned down", "a patent number", "")
    assert sum(1 for _ in record(at).of(ReportEntry)) == 2


def test_what_was_decided_is_not_decided_again(at):
    take_in(*at, block())
    with pytest.raises(ConflictError, match="waits already"):
        take_back(*at, "sent 1")
    decide(*at, "sent 1", Decision(Verdict.KEPT))
    with pytest.raises(ConflictError, match="take that back"):
        decide(*at, "sent 1", Decision(Verdict.KEPT))
    assert sum(1 for _ in record(at).of(ReportEntry)) == 3


def test_a_number_that_does_not_read_keeps_nothing(at):
    take_in(*at, block(reads="so rusty"))
    with pytest.raises(IronlaceError):
        decide(*at, "sent 1", Decision(Verdict.KEPT))
    assert len(waiting(record(at))) == 1
    assert decide(*at, "sent 1", Decision(Verdict.KEPT, reads="C°9?·38")) == "report 3"


def test_a_report_withdrawn_by_hand_is_taken_back_all_the_same(at):
    take_in(*at, block())
    made = decide(*at, "sent 1", Decision(Verdict.KEPT))
    at[0].records.change(at[1], made, None)
    assert take_back(*at, "sent 1") == ""
    assert len(waiting(record(at))) == 1


def test_a_mail_brings_its_photograph_which_stays_at_home(at):
    made = EmailMessage()
    made["From"] = "Anna <anna@owner.example>"
    made["Subject"] = "x"
    made.set_content(compose(REPORT))
    made.add_attachment(jpeg(), "image", "jpeg", filename="number.jpg")
    laid = take_in(*at, made.as_bytes(), "a.eml")
    assert laid.names == ("sent 1",)
    ((photo, picture),) = record(at).of(Photograph)
    assert not picture.published
    assert waiting(record(at))[0][1].photographs == (photo,)
    assert "anna@owner.example" not in repr(record(at))
    decide(*at, "sent 1", Decision(Verdict.KEPT, how=Channel.PHOTOGRAPH))
    assert record(at).named("report 3").sources[0].entry == photo


def test_a_photograph_alone_waits_for_its_number(at):
    take_in(*at, jpeg(), "number.jpg")
    with pytest.raises(TrayError, match="names no number"):
        decide(*at, "sent 1", Decision(Verdict.KEPT))
    decide(*at, "sent 1", Decision(Verdict.KEPT, reads="C°92·40", how=Channel.PHOTOGRAPH))
    with pytest.raises(IronlaceError):
        take_in(*at, jpeg()[:200], "broken.jpg")


def test_a_table_waits_row_by_row_without_its_people(at):
    table = b"Serial No.;Owner;Town\nC\xc2\xb095.38;A. Person;Northport\n;B. Person;Southport\n"
    laid = take_in(*at, table, "list.csv")
    assert len(laid.names) == 2
    first, second = (one for _, one in waiting(record(at)))
    assert (first.reads, first.place, first.sender) == ("C°95·38", "Northport", "")
    assert "line 3" in second.note
    assert "A. Person" not in repr(record(at))


def test_the_source_of_a_mail_pasted_for_its_words_is_read(at):
    source = quopri.encodestring(block(remarks="a long remark " * 12))
    assert b"=C2=B0" in source
    take_in(*at, source)
    one = waiting(record(at))[0][1]
    assert (one.reads, one.whole) == ("C°95·1164", "yes")
    assert one.note == " ".join(["a long remark"] * 12)


def test_plain_words_give_their_numbers(at):
    laid = take_in(*at, "Mine reads C°96·77 on the bed, paid $120 for it.".encode())
    assert laid.names == ("sent 1",)
    one = waiting(record(at))[0][1]
    assert (one.reads, one.whole) == ("C°96·77", "")


@pytest.mark.parametrize(
    "data", [b"", b"Good day to you.", b"\x00\x01\x02\xff" * 9, b"x" * 300_000]
)
def test_what_holds_no_report_is_refused_and_nothing_is_kept(at, data):
    before = at[0].records.last_change(at[1])
    with pytest.raises(TrayError):
        take_in(*at, data, "thing.bin")
    assert at[0].records.last_change(at[1]) == before


def test_a_mail_that_is_never_read_to_its_end_is_let_go(at, monkeypatch):
    monkeypatch.setattr("ironlace.workshop.survey.tray._READING_S", 1.0)
    page = b"From: a@b.example\nSubject: x\nContent-Type: text/html\n\n" + b"<a " * 66_000
    before = at[0].records.last_change(at[1])
    with pytest.raises(IronlaceError, match="was let go: open it, copy its text"):
        take_in(*at, page, "endless.eml")
    assert at[0].records.last_change(at[1]) == before


def test_the_same_report_is_laid_in_once(at):
    take_in(*at, block())
    decide(*at, "sent 1", Decision(Verdict.KEPT))
    again = take_in(*at, b"> " + block().replace(b"\n", b"\n> "))
    assert (again.names, again.again) == ((), ("sent 1",))


def test_senders_are_thanked_as_they_asked(at):
    for reads, asked in zip(("C°95·1", "C°95·2", "C°95·3", "C°95·4"), (*NAMED, ""), strict=True):
        take_in(*at, block(reads=reads, sender_as=asked))
    assert thanks(record(at)) == "Nothing that was sent in has been kept yet.\n"
    for name, _ in waiting(record(at)):
        decide(*at, name, Decision(Verdict.KEPT))
    told = thanks(record(at))
    assert "Anna Maria Person: C°95·1\n" in told
    assert "A. M. P.: C°95·2\n" in told
    assert "not named, as they wished or did not say: C°95·3, C°95·4" in told
    kept = [one.sender for _, one in record(at).of(SentReport)]
    assert kept == ["Anna Maria Person", "A. M. P.", "", ""]  # nothing more of a name is kept
    naming = [one.sender_as for _, one in record(at).of(SentReport)]
    assert naming == [Naming.NAME, Naming.INITIALS, Naming.NOT, Naming.UNSAID]
    assert initials("  Ö. person-Smith ") == "Ö. p.-S."


def test_a_file_that_holds_nothing_is_called_by_its_own_name(workshop, slug):
    for came_as, called in (("w.txt", "w.txt"), ("", "The text")):
        with pytest.raises(TrayError, match=rf"^{called} holds no report"):
            take_in(workshop, slug, b"Good day.", came_as)

"""The public copy holds nothing that is private, whatever the record holds."""

import json
from datetime import UTC, datetime

from hypothesis import given, settings
from hypothesis import strategies as st

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.privacy import left_out, public_copy
from ironlace.record import Record, parse_entry
from ironlace.record.entries import (
    ENTRY_KINDS,
    EntryKind,
    Outlay,
    Provenance,
    ReportEntry,
    Statement,
)
from ironlace.record.entry_fields import fields_of

SHA = "ab" * 32


def told_text(record: Record) -> str:
    """Everything of an account that any page could show."""
    account = account_of(record, {}, {})
    return repr(account) + json.dumps(account.document, ensure_ascii=False)


def test_no_secret_in_anything_told(full_record, pictures, drawings, secret) -> None:
    assert secret in repr(full_record)
    assert secret not in told_text(full_record)


def test_private_account_tells_all(full_record, secret) -> None:
    account = account_of(full_record, {}, {}, private=True, hours_and_costs=True)
    where, other_machines = account.section("provenance"), account.section("reports")
    assert where is not None and repr(where).count(secret) == 2
    assert other_machines is not None and secret in repr(other_machines)
    assert len(account.document["entries"]) == len(full_record.entries)


def test_what_was_left_out_is_counted(full_record) -> None:
    _, withheld = public_copy(full_record)
    assert (withheld.provenance, withheld.sources, withheld.photographs) == (1, 1, 1)


def test_a_private_outlay_stays_private_when_hours_and_costs_are_asked_for(
    make_record, secret
) -> None:
    price = {"kind": "outlay", "what": secret, "cost": "77", "currency": "EUR", "private": True}
    wax = {"kind": "outlay", "what": "Wax", "cost": "5", "currency": "EUR"}
    record = make_record([price, wax])
    _, withheld = public_copy(record)
    assert withheld.outlays == 0  # they were not asked for at all
    copy, withheld = public_copy(record, hours_and_costs=True)
    assert [entry.what for _, entry in copy.of(Outlay)] == ["Wax"]
    assert withheld.outlays == 1
    account = account_of(record, {}, {}, hours_and_costs=True)
    told = repr(account) + json.dumps(account.document)
    assert "Wax" in told
    assert secret not in told
    assert "82.00 EUR" not in told  # nor by the sum
    assert "5.00 EUR" in told
    private = repr(account_of(record, {}, {}, hours_and_costs=True, private=True))
    assert secret in private
    assert "82.00 EUR" in private


def test_public_copy_leaves_the_record_itself_alone(full_record) -> None:
    before = repr(full_record)
    public_copy(full_record)
    assert repr(full_record) == before


def test_references_to_what_is_left_out_are_dropped(make_record) -> None:
    record = make_record(
        [
            {"kind": "photograph", "sha256": SHA, "role": "mark", "published": False},
            {"kind": "source", "title": "Letter", "sort": "letter", "private": True},
            {
                "kind": "mark",
                "reads": "7",
                "where": "bed",
                "grade": "seen",
                "photographs": ["photograph 1"],
                "sources": [
                    {"kind": "document", "entry": "source 1", "says": "page 2"},
                    {"kind": "photograph", "entry": "photograph 1"},
                ],
            },
        ]
    )
    copy, _ = public_copy(record)
    mark = copy.named("mark 1")
    assert mark.photographs == ()
    assert [source.in_words() for source in mark.sources] == [
        "document: kept private",
        "photograph: kept private",
    ]


def test_a_person_with_a_public_entry_may_be_named(make_record) -> None:
    record = make_record(
        [
            {"kind": "source", "title": "The town's archivist", "sort": "person"},
            {
                "kind": "statement",
                "about": "maker",
                "says": "A works in Pell",
                "grade": "conjectured",
                "sources": [{"kind": "person", "entry": "source 1", "says": "by letter"}],
            },
        ]
    )
    (statement,) = [entry for _, entry in public_copy(record)[0].of(Statement)]
    assert statement.sources[0].says == "by letter"


def test_hours_and_costs_are_off_unless_asked_for(full_record) -> None:
    for private in (False, True):
        account = account_of(full_record, {}, {}, private=private)
        assert account.section("hours-and-costs") is None
        assert "Hours and costs" in account.absent
    assert "outlay 1" not in account_of(full_record, {}, {}).document["entries"]
    section = account_of(full_record, {}, {}, hours_and_costs=True).section("hours-and-costs")
    assert section is not None
    (table,) = section.blocks
    assert [cell.words for cell in table.rows[-1].cells] == ["In all", "", "6.5", "11.40 EUR"]


def test_every_private_field_of_every_kind_is_blank_in_a_public_copy(full_record, secret) -> None:
    copy, _ = public_copy(full_record)
    for entry in copy.entries.values():
        for field in fields_of(type(entry)):
            if field.words.private:
                assert secret not in repr(getattr(entry, field.name))
    private = {
        (kind.value, field.name)
        for kind, model in ENTRY_KINDS.items()
        for field in fields_of(model)
        if field.words.private
    }
    assert {("report", "name"), ("report", "reporter"), ("report", "place")} <= private


def test_a_second_sighting_names_the_earlier_report_by_its_number(make_record, secret) -> None:
    report = {"kind": "report", "reads": "7", "grade": "seen"}
    record = make_record(
        [
            report | {"name": f"{secret}'s"},
            report | {"name": "again", "same_as": f"{secret}'s", "counts": False},
            report | {"name": "third", "same_as": f"one {secret} never entered"},
        ]
    )
    reports = [entry for _, entry in public_copy(record)[0].of(ReportEntry)]
    assert [report.same_as for report in reports] == ["", "report 1", ""]
    assert secret not in told_text(record)


def test_no_name_of_a_report_survives_in_a_sentence_that_was_worked_out(
    make_record, secret
) -> None:
    report = {"kind": "report", "reads": "7", "grade": "seen"}
    said = f"By 2 reports. It explains {secret}, coast only as misread; the coastal one is right."
    finding = {"about": "date of making", "value": "1894", "sentence": said,
               "method": {"name": "m"}, "version": "1"}  # fmt: skip
    record = make_record(
        [
            report | {"name": secret},
            report | {"name": "coast"},
            report | {"name": "report 1"},
            {"kind": "finding", "finding": finding},
        ]
    )
    told = told_text(record)
    assert secret not in told
    assert "It explains report 1, report 2 only as misread; the coastal one is right." in told
    private = account_of(record, {}, {}, private=True)
    assert secret in repr(private.sections)
    # the finding is the same one: only what is said of it differs
    assert private.colophon.fingerprint == account_of(record, {}, {}).colophon.fingerprint


def test_what_will_be_left_out_is_told_before_with_its_reason(full_record, secret) -> None:
    told = left_out(full_record)
    by_names = {one.names: one for one in told}
    assert by_names["provenance 2",].what == "1 step of provenance"
    assert "private" in by_names["provenance 2",].why
    assert by_names["source 2",].unless == "private"
    assert by_names["photograph 7",].unless == "private"
    assert by_names["outlay 1", "outlay 2"].unless == "hours_and_costs"
    reports = by_names[tuple(f"report {n}" for n in range(1, 6))]
    assert (
        reports.what.startswith("of 5 reports of other machines: “")
        and "owns another machine" in reports.why
    )
    assert by_names["statement 2",].what == "who vouches, in 1 entry"
    assert all(one.why for one in told)
    assert secret not in repr(told)


def test_all_that_a_public_copy_lacks_was_told_before(full_record) -> None:
    """Whatever differs between record and public copy stands in the list, entry by entry."""
    copy, _ = public_copy(full_record)
    announced = {name for one in left_out(full_record) for name in one.names}
    for key, entry in full_record.entries.items():
        name = f"{key[0].value} {key[1]}"
        kept = copy.entries.get(key)
        if kept is None:
            assert name in announced
            continue
        blanked = [
            f.name
            for f in fields_of(type(entry))
            if f.words.private and getattr(kept, f.name) != getattr(entry, f.name)
        ]
        assert not blanked or name in announced


def test_a_private_outlay_is_announced_for_both_reasons(make_record) -> None:
    price = {"kind": "outlay", "what": "x", "cost": "77", "currency": "EUR", "private": True}
    told = [(one.names, one.unless) for one in left_out(make_record([price]))]
    assert ((("outlay 1",), "hours_and_costs")) in told
    assert ((("outlay 1",), "private")) in told


secrets = st.text(st.characters(categories=["Lu", "Ll"]), min_size=12, max_size=30)


@settings(max_examples=40, deadline=None)
@given(secrets, st.booleans())
def test_property_no_private_word_survives(secret: str, step_private: bool) -> None:
    secret = f"Zz{secret}"
    entries = {
        (EntryKind.PROVENANCE, 1): parse_entry(
            {
                "kind": "provenance",
                "event": f"sold to {secret}",
                "who": secret,
                "place": secret,
                "note": secret,
                "private": step_private,
                "grade": "seen",
            }
        ),
        (EntryKind.REPORT, 4): parse_entry(
            {
                "kind": "report",
                "name": f"{secret}'s machine",
                "reads": "7",
                "reporter": secret,
                "place": secret,
                "note": secret,
                "grade": "seen",
                "sources": [{"kind": "person", "says": secret}],
            }
        ),
    }
    record = Record("r", "Machine", entries, datetime(2026, 1, 1, tzinfo=UTC))
    copy, _ = public_copy(record)
    steps = [step for _, step in copy.of(Provenance)]
    assert (steps == []) is step_private
    (report,) = [report for _, report in copy.of(ReportEntry)]
    assert secret not in repr(report)
    if step_private:
        assert secret not in told_text(record)


def test_what_the_owner_allowed_governs_what_leaves() -> None:
    def told(allowed: str | None) -> ReportEntry:
        payload = {
            "kind": "report",
            "name": "the Bell machine",
            "reads": "B°92·117",
            "grade": "seen",
            "place": "Northport",
            "reporter": "R. Bell",
            "note": "Mrs Bell wrote twice",
            "other_readings": ["B°92·111: R. Bell, given up: a burr"],
            **({"allowed": allowed} if allowed else {}),
        }
        record = Record("m", "M", {(EntryKind.REPORT, 1): parse_entry(payload)})
        (_, left), *_ = public_copy(record)[0].of(ReportEntry)
        assert left.reads == "B°92·117"  # it counts whatever was allowed
        assert (left.name, left.note, left.other_readings) == ("report 1", "", ())
        return left

    for allowed in (None, "not said", "may be counted"):
        assert (told(allowed).place, told(allowed).reporter) == ("", "")
    assert told("may be published with its place").place == "Northport"
    assert told("may be published with its place").reporter == ""
    assert told("may be published with place and name").reporter == "R. Bell"

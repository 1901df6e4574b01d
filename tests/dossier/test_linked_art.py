"""The machine-readable description says no more than the account."""

from ironlace.dossier.account.record_to_account import account_of
from ironlace.dossier.linked_art import linked_art


def test_conjecture_is_never_told_as_a_fact_of_making(make_record) -> None:
    record = make_record(
        [{"kind": "statement", "about": "maker", "says": "Pell Works", "grade": "conjectured"}]
    )
    described = linked_art(account_of(record, {}, {}))
    assert "produced_by" not in described
    assert described["referred_to_by"][0]["content"] == "maker: Pell Works (conjectured)"


def test_a_sole_firm_maker_is(make_record) -> None:
    record = make_record(
        [{"kind": "statement", "about": "maker", "says": "Pell Works", "grade": "seen"}]
    )
    described = linked_art(account_of(record, {}, {}))
    assert described["produced_by"]["carried_out_by"] == [{"type": "Group", "_label": "Pell Works"}]


def test_rival_makers_are_none(full_account) -> None:
    described = linked_art(full_account)
    assert "carried_out_by" not in described["produced_by"]


def test_lengths_are_dimensions_in_mm_with_their_limits(full_account) -> None:
    dimensions = linked_art(full_account)["dimension"]
    assert len(dimensions) == 4
    assert dimensions[0] == {
        "type": "Dimension",
        "id": "index.html#measurement-1",
        "_label": "Needle-bar stroke, needle bar",
        "value": 31.6,
        "unit": {"type": "MeasurementUnit", "_label": "millimetres"},
        "lower_value_limit": 31.5,
        "upper_value_limit": 31.7,
    }


def test_marks_are_carried_as_they_read(full_account) -> None:
    assert [mark["content"] for mark in linked_art(full_account)["carries"]] == [
        "B°93·217",
        "4 (1)[38]?·★",
    ]

"""The machine-readable description says no more than the account.

That others understand it is checked with Linked Art's own context and model, as the library
cromulent (PyPI, of the Linked Art editors) carries them, and with PyLD as the expander.
"""

import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import cromulent
import pytest
from cromulent.model import DataError, HumanMadeObject
from cromulent.reader import Reader
from pyld import jsonld

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


def _keys(told: Any) -> Iterator[str]:
    for key, value in told.items() if isinstance(told, dict) else ():
        yield key
        yield from _keys(value)
    for value in told if isinstance(told, list) else ():
        yield from _keys(value)


def _context(address: str, _options: object) -> dict[str, Any]:
    assert address == "https://linked.art/ns/v1/linked-art.json"
    context = Path(cromulent.__file__).with_name("data") / "linked-art.json"
    document = json.loads(context.read_text(encoding="utf-8"))
    return {"contextUrl": None, "documentUrl": address, "document": document}


def test_every_property_and_class_is_one_of_the_cidoc_crm(full_account) -> None:
    described = linked_art(full_account)
    how = {"documentLoader": _context, "base": "https://machine.example/"}
    (expanded,) = jsonld.expand(described, how)
    words = ("@context", "id", "type")
    assert sum(key not in words for key in _keys(described)) == sum(
        key.startswith("http") for key in _keys(expanded)
    )  # an expander drops without a word what the context does not know
    known = ("http://www.cidoc-crm.org/", "http://www.w3.org/", "http://purl.org/dc/")
    known += ("https://linked.art/",)
    for key in _keys(expanded):
        assert key.startswith(("@", *known)), key
    assert expanded["@type"] == ["http://www.cidoc-crm.org/cidoc-crm/E22_Human-Made_Object"]


def test_the_model_of_linked_art_takes_it(full_account) -> None:
    taken = Reader().read(linked_art(full_account))
    assert isinstance(taken, HumanMadeObject)
    assert [mark.content for mark in taken.carries] == ["B°93·217", "4 (1)[38]?·★"]
    assert taken.dimension[0].value == 31.6


def test_the_model_of_linked_art_refuses_what_is_none(full_account) -> None:
    spoilt = linked_art(full_account) | {"struck_with": "a punch"}
    with pytest.raises(DataError, match="struck_with"):
        Reader().read(spoilt)

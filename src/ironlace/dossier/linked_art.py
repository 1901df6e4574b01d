"""The account in a form that machines read: JSON-LD in the shapes of Linked Art (CIDOC CRM).

It says only what the account says. A maker or a date that is merely conjectured stands as words
about the machine, not as a fact about its making; so does every graded statement, with its grade.
"""

from typing import Any

from ironlace.dossier.account.blocks import Plate
from ironlace.dossier.account.findings_as_blocks import headline_of
from ironlace.dossier.account.whole import Account
from ironlace.dossier.rivals import rivals
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.findings import DATE_FINDING, Finding
from ironlace.evidence.grades import Grade
from ironlace.record.choices import Technique, Topic
from ironlace.record.entries import FindingEntry, Mark, Measurement, Statement

CONTEXT = "https://linked.art/ns/v1/linked-art.json"
_FIRM = (Grade.SEEN, Grade.MEASURED, Grade.INFERRED)


def linked_art(account: Account) -> dict[str, Any]:
    """Describe the machine as a HumanMadeObject.

    Identifiers are relative to the page they stand beside, so that they stay true wherever the
    site is put.
    """
    described: dict[str, Any] = {
        "@context": CONTEXT,
        "id": "index.html#machine",
        "type": "HumanMadeObject",
        "_label": account.title,
        "identified_by": [{"type": "Name", "content": account.title}],
    }
    kind = sole_statement(account, Topic.KIND)
    readings = (_dimension(name, entry) for name, entry in account.record.of(Measurement))
    found: dict[str, Any] = {
        "classified_as": [{"type": "Type", "_label": kind}] if kind else [],
        "carries": [_mark(name, mark) for name, mark in account.record.of(Mark)],
        "produced_by": _production(account),
        "dimension": [dimension for dimension in readings if dimension],
        "referred_to_by": _statements(account),
        "representation": [_picture(plate) for plate in account.plates if plate.picture],
        "subject_of": [
            {
                "type": "LinguisticObject",
                "id": "index.html",
                "_label": f"An account of {account.title}",
            }
        ],
    }
    return described | {key: value for key, value in found.items() if value}


def _mark(name: str, mark: Mark) -> dict[str, Any]:
    how = "" if mark.technique is Technique.UNSAID else f"{mark.technique.value} "
    return {
        "type": "LinguisticObject",
        "id": _address(name),
        "_label": f"{how}mark: {mark.where}",
        "content": mark.reads,
    }


def _statements(account: Account) -> list[dict[str, Any]]:
    return [
        {
            "type": "LinguisticObject",
            "id": _address(name),
            "content": f"{said.about.value}: {said.says_in_words()} ({said.grade.value})",
        }
        for topic in Topic
        for name, said in account.record.of(Statement)
        if said.about is topic
    ]


def _picture(plate: Plate) -> dict[str, Any]:
    shown = {
        "type": "DigitalObject",
        "id": f"photographs.html#{plate.name.replace(' ', '-')}",
        "_label": plate.caption or plate.name,
        "format": "image/jpeg",
    }
    return {"type": "VisualItem", "digitally_shown_by": [shown]}


def _address(name: str) -> str:
    return f"index.html#{name.replace(' ', '-')}"


def sole_statement(account: Account, topic: Topic) -> str:
    """What is said on a topic when one thing is said, and firmly."""
    said = [s for _, s in account.record.of(Statement) if s.about is topic]
    firm = {s.says_in_words() for s in said if s.grade in _FIRM}
    return firm.pop() if len(firm) == 1 and not rivals(topic, said) else ""


def _production(account: Account) -> dict[str, Any]:
    production: dict[str, Any] = {}
    findings = [entry.finding for _, entry in account.record.of(FindingEntry)]
    dated = [f for f in findings if f.about == DATE_FINDING and f.grade in _FIRM]
    if dated:
        production["timespan"] = _timespan(dated[-1])
    maker = sole_statement(account, Topic.MAKER)
    if maker:
        production["carried_out_by"] = [{"type": "Group", "_label": maker}]
    place = sole_statement(account, Topic.PLACE)
    if place:
        production["took_place_at"] = [{"type": "Place", "_label": place}]
    return {"type": "Production", **production} if production else {}


def _timespan(finding: Finding) -> dict[str, Any]:
    ends = finding.interval
    low, high = (finding.value, None) if ends is None else (ends.low, ends.high)
    bounds = {
        "begin_of_the_begin": _moment(low, first=True),
        "end_of_the_end": _moment(high or low, first=False),
    }
    return {
        "type": "TimeSpan",
        "identified_by": [{"type": "Name", "content": headline_of(finding)}],
        **{key: value for key, value in bounds.items() if value},
    }


def _moment(text: Any, *, first: bool) -> str:
    if not isinstance(text, str):
        return ""
    try:
        known = EdtfDate.parse(text)
        day = known.earliest if first else known.latest
    except IronlaceError:
        return ""
    return f"{day.isoformat()}T{'00:00:00' if first else '23:59:59'}Z" if day else ""


def _dimension(name: str, entry: Measurement) -> dict[str, Any] | None:
    if not entry.measured.is_length:
        return None
    length = entry.measured.to("mm")
    dimension: dict[str, Any] = {
        "type": "Dimension",
        "id": _address(name),
        "_label": ", ".join(part for part in (entry.what, entry.part) if part),
        "value": length.value,
        "unit": {"type": "MeasurementUnit", "_label": "millimetres"},
    }
    if length.error is not None:
        dimension["lower_value_limit"] = round(length.value - length.error, 9)
        dimension["upper_value_limit"] = round(length.value + length.error, 9)
    return dimension

"""The account in a form that machines read: JSON-LD in the shapes of Linked Art (CIDOC CRM).

It says only what the account says. A maker or a date that is merely conjectured stands as words
about the machine, not as a fact about its making; so does every graded statement, with its grade.
"""

from typing import Any

from ironlace.dossier.account import Account, Worked
from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.quantities import parse_measured
from ironlace.record.entries import Topic
from ironlace.record.job import DATE_FINDING

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
    kinds = _sole(account, Topic.KIND)
    if kinds:
        described["classified_as"] = [{"type": "Type", "_label": kinds}]
    if account.marks:
        described["carries"] = [
            {
                "type": "LinguisticObject",
                "id": f"index.html#{mark.name.replace(' ', '-')}",
                "_label": f"{mark.technique} mark: {mark.where}",
                "content": mark.reads,
            }
            for mark in account.marks
        ]
    production = _production(account)
    if production:
        described["produced_by"] = production
    dimensions = [told for told in map(_dimension, account.readings) if told]
    if dimensions:
        described["dimension"] = dimensions
    statements = [
        {
            "type": "LinguisticObject",
            "id": f"index.html#{said.name.replace(' ', '-')}",
            "content": f"{topic.topic}: {said.says} ({said.evidence.grade.value})",
        }
        for topic in account.topics
        for said in topic.statements
    ]
    if statements:
        described["referred_to_by"] = statements
    pictures = [
        {
            "type": "VisualItem",
            "digitally_shown_by": [
                {
                    "type": "DigitalObject",
                    "id": f"photographs.html#{plate.name.replace(' ', '-')}",
                    "_label": plate.caption or plate.name,
                    "format": "image/jpeg",
                }
            ],
        }
        for plate in account.plates
        if plate.picture
    ]
    if pictures:
        described["representation"] = pictures
    described["subject_of"] = [
        {"type": "LinguisticObject", "id": "index.html", "_label": f"An account of {account.title}"}
    ]
    return described


def _sole(account: Account, topic: Topic) -> str:
    """What is said on a topic when one thing is said, and firmly."""
    for told in account.topics:
        firm = {said.says for said in told.statements if said.evidence.grade in _FIRM}
        if told.topic == topic.value and len(firm) == 1 and not told.rivals:
            return firm.pop()
    return ""


def _production(account: Account) -> dict[str, Any]:
    production: dict[str, Any] = {}
    dated = [worked for worked in account.dates if worked.grade in _FIRM]
    if dated:
        production["timespan"] = _timespan(account, dated[-1])
    maker = _sole(account, Topic.MAKER)
    if maker:
        production["carried_out_by"] = [{"type": "Group", "_label": maker}]
    place = _sole(account, Topic.PLACE)
    if place:
        production["took_place_at"] = [{"type": "Place", "_label": place}]
    return {"type": "Production", **production} if production else {}


def _timespan(account: Account, worked: Worked) -> dict[str, Any]:
    words = worked.interval or worked.value
    span: dict[str, Any] = {
        "type": "TimeSpan",
        "identified_by": [{"type": "Name", "content": words}],
    }
    finding = account.document["entries"].get(worked.name, {}).get("finding", {})
    interval = finding.get("interval") or {"low": finding.get("value"), "high": None}
    low, high = interval.get("low"), interval.get("high") or interval.get("low")
    if finding.get("about") == DATE_FINDING:
        span |= {
            key: value
            for key, value in (
                ("begin_of_the_begin", _moment(low, first=True)),
                ("end_of_the_end", _moment(high, first=False)),
            )
            if value
        }
    return span


def _moment(text: Any, *, first: bool) -> str:
    if not isinstance(text, str):
        return ""
    try:
        known = EdtfDate.parse(text)
        day = known.earliest if first else known.latest
    except IronlaceError:
        return ""
    return f"{day.isoformat()}T{'00:00:00' if first else '23:59:59'}Z" if day else ""


def _dimension(reading: Any) -> dict[str, Any] | None:
    if not reading.mm:
        return None
    told = parse_measured(reading.as_read).to("mm")
    dimension: dict[str, Any] = {
        "type": "Dimension",
        "id": f"index.html#{reading.name.replace(' ', '-')}",
        "_label": ", ".join(part for part in (reading.what, reading.part) if part),
        "value": told.value,
        "unit": {"type": "MeasurementUnit", "_label": "millimetres"},
    }
    if told.error is not None:
        dimension["lower_value_limit"] = round(told.value - told.error, 9)
        dimension["upper_value_limit"] = round(told.value + told.error, 9)
    return dimension

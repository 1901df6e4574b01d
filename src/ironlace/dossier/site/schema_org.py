"""The account for search engines: JSON-LD in the words of schema.org.

It says no more than the account: what is merely conjectured, or disputed, stands in words with its
grade and never as a fact of the machine.
"""

import json
from typing import Any

from ironlace.dossier.account.blocks import Plate
from ironlace.dossier.account.whole import Account
from ironlace.dossier.linked_art import sole_statement
from ironlace.dossier.site.feed import canonical
from ironlace.dossier.site.published import Published
from ironlace.evidence.grades import Grade
from ironlace.record.choices import Topic
from ironlace.record.entries import Mark

CONTEXT = "https://schema.org/"


def described(account: Account, published: Published | None) -> dict[str, Any]:  # dict: JSON
    """The page and the one machine that it is about."""
    base = published.base if published else ""
    said = [f"{topic}: {says} ({grade.value})" for topic, says, grade in account.summary]
    page: dict[str, Any] = {
        "@context": CONTEXT,
        "@type": "WebPage",
        "@id": canonical(base, "index.html") or "index.html",
        "name": account.title,
        "description": "; ".join(said) or "The record of one sewing machine.",
        "inLanguage": "en-GB",
        "isAccessibleForFree": True,
    }
    changed = account.colophon.last_change or account.colophon.as_of
    if changed:
        page["dateModified"] = changed.date().isoformat()
    if published and published.keeper:
        page["maintainer"] = published.keeper  # in words: whether a person or a club is not said
    if published and published.corrections:
        page["correction"] = [
            {
                "@type": "CorrectionComment",
                "url": f"{base}corrections.html#{one.anchor}",
                "datePublished": one.since.isoformat(),
                "text": f"{one.question} Said before: {one.before.words} "
                f"({one.before.grade.value}).",
            }
            for one in published.corrections
        ]
    page["about"] = _machine(account)
    pictures = [_picture(plate, base) for plate in account.plates if plate.picture]
    if pictures:
        page["image"] = pictures
    return page


def _machine(account: Account) -> dict[str, Any]:
    machine: dict[str, Any] = {
        "@type": "IndividualProduct",
        "@id": "#machine",
        "name": account.title,
        "category": "sewing machine",
    }
    for topic, key in ((Topic.MAKER, "manufacturer"), (Topic.MODEL, "model")):
        if said := sole_statement(account, topic):
            machine[key] = {"@type": "Organization", "name": said} if key != "model" else said
    serial = [m for _, m in account.record.of(Mark) if "serial" in m.purpose.lower()]
    if len(serial) == 1 and serial[0].grade in (Grade.SEEN, Grade.MEASURED):
        machine["serialNumber"] = serial[0].reads
    return machine


def _picture(plate: Plate, base: str) -> dict[str, Any]:
    told = {
        "@type": "ImageObject",
        "@id": f"{base}photographs.html#{plate.name.replace(' ', '-')}",
        "caption": plate.caption or plate.name,
    }
    if plate.credit:
        told["creditText"] = plate.credit
    if plate.rights:
        told["copyrightNotice"] = plate.rights
    return told


def as_data_block(value: dict[str, Any]) -> str:  # dict: JSON
    """JSON to stand in a page: no text in it can end the block, nor look like an address."""
    text = json.dumps(value, ensure_ascii=False, separators=(",", ":"))
    for sign, escaped in (("<", "\\u003c"), (">", "\\u003e"), ("&", "\\u0026"), ("/", "\\/")):
        text = text.replace(sign, escaped)
    return text.encode("utf-8", "replace").decode("utf-8")

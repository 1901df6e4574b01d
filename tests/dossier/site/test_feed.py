"""The feed and the sitemap, read by others: RFC 4287's required elements, and a feed parser."""

import re
from dataclasses import replace
from datetime import date, datetime
from xml.etree import ElementTree

import feedparser
import pytest

from ironlace.dossier.errors import DossierError
from ironlace.dossier.site.corrections import Addition, Correction, Reason, Told
from ironlace.dossier.site.feed import atom, canonical, news_of, sitemap
from ironlace.dossier.site.published import Published, base_address
from ironlace.evidence.grades import Grade

ATOM = "{http://www.w3.org/2005/Atom}"
ODD = "1892 <b> & \x07\u2028 ]]> “so”"
MADE = datetime.fromisoformat("2026-03-05T09:00:00+00:00")
CORRECTED = Correction(
    "finding 1", "When was it made?", 5, Told(ODD, (), Grade.INFERRED),
    Told("1894", (), Grade.SEEN), date(2026, 3, 5), MADE, (Reason("report 3 came in", "report 3"),),
)  # fmt: skip
PUBLISHED = Published(
    "plover 2026",
    corrections=(CORRECTED,),
    additions=(Addition(date(2026, 3, 1), "1 mark & more", 1, first=True),),
)


def feed(published):
    return atom("Plover <head>", published, news_of(published, "Plover <head>"))


@pytest.mark.parametrize("base", ["", "https://iron.example/plover/"])
def test_it_has_what_the_standard_requires(base):
    published = replace(PUBLISHED, base=base)
    root = ElementTree.fromstring(feed(published))
    assert root.tag == f"{ATOM}feed"
    assert [len(root.findall(ATOM + name)) for name in ("id", "title", "updated", "author")] == [
        1, 1, 1, 1,
    ]  # fmt: skip
    links = {one.get("rel"): one.get("href") for one in root.findall(f"{ATOM}link")}
    assert links == (
        {"alternate": base, "self": f"{base}feed.atom"} if base else {"alternate": "index.html"}
    )
    entries = root.findall(f"{ATOM}entry")
    names = [one.findtext(f"{ATOM}id") for one in entries]
    assert len(set(names)) == len(entries) == 2
    for one in entries:
        assert re.fullmatch(r"urn:uuid:[0-9a-f-]{36}", one.findtext(f"{ATOM}id"))
        datetime.fromisoformat(one.findtext(f"{ATOM}updated"))  # RFC 3339
        assert one.findtext(f"{ATOM}title") and one.findtext(f"{ATOM}content")
        assert one.find(f"{ATOM}link").get("href").startswith(f"{base}corrections.html#")
    assert entries[0].findtext(f"{ATOM}content").startswith("Said before: 1892 <b> & ")
    # names stay when the site moves
    again = ElementTree.fromstring(feed(replace(PUBLISHED, base="https://other.example/")))
    assert [one.findtext(f"{ATOM}id") for one in again.findall(f"{ATOM}entry")] == names


def test_a_parser_of_feeds_takes_it():
    read = feedparser.parse(feed(replace(PUBLISHED, base="https://iron.example/")).encode())
    assert not read.bozo and read.version == "atom10"
    assert read.feed.title.startswith("Plover")
    assert [one.updated for one in read.entries] == ["2026-03-05T00:00:00Z", "2026-03-01T00:00:00Z"]
    assert read.entries[0].link == "https://iron.example/corrections.html#correction-5"


def test_a_sitemap_has_absolute_addresses_only():
    root = ElementTree.fromstring(
        sitemap("https://iron.example/a&b/", [("index.html", date(2026, 3, 5)), ("x.html", None)])
    )
    space = "{http://www.sitemaps.org/schemas/sitemap/0.9}"
    told = [(one.findtext(f"{space}loc"), one.findtext(f"{space}lastmod")) for one in root]
    assert told == [
        ("https://iron.example/a&b/", "2026-03-05"),
        ("https://iron.example/a&b/x.html", None),
    ]
    assert canonical("", "index.html") == ""


@pytest.mark.parametrize(
    "typed",
    ["iron.example", "ftp://iron.example/", "https://iron.example/?x", "https://iron.example/#a",
     "https://iron.example/ x", 'https://iron.example/"><b>', "https://x/../y", "javascript:x",
     "https://" + "x" * 500],
)  # fmt: skip
def test_what_is_no_address_is_refused_in_one_sentence(typed):
    with pytest.raises(DossierError, match="no address of a folder"):
        base_address(typed)
    assert base_address(" ") == ""
    assert base_address("https://iron.example:8080/a-b/c~d") == "https://iron.example:8080/a-b/c~d/"

"""What programs read to follow a site: an Atom feed (RFC 4287) and a sitemap (sitemaps.org 0.9).

Names of entries are made from the record and its changes, so that they stay when the site moves.
Only days are told, at midnight (UTC).
"""

import uuid
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from xml.sax.saxutils import escape, quoteattr

from ironlace.dossier.site.corrections import Addition, Correction, Told
from ironlace.dossier.site.published import Published
from ironlace.evidence.wording import capital

_SPACE = uuid.UUID("6f0f6a52-6c3a-5d0e-9b57-0a4c6de0b1a4")
"""The space of names (RFC 4122, version 5) that feeds and their entries are named in."""
_MOST = 100
"""Entries of a feed: what is older stands on the page of corrections (a judgement)."""
_NOT_NAMED = "not named by whoever keeps it"


@dataclass(frozen=True, slots=True)
class News:
    """An entry of a feed: its name, title, day, where it stands, and what it says."""

    id: str
    title: str
    day: date
    link: str
    says: str


def news_of(published: Published, title: str, under: str = "") -> list[News]:
    """The corrections and additions of a machine as entries of a feed, the latest first.

    `under` is where its pages lie, seen from the feed: empty, or a folder with its stroke.
    """
    told = [(one.since, 1, one.number, _correction(one, published, title, under))
            for one in published.corrections]  # fmt: skip
    told += [(one.day, 0, one.number, _addition(one, published, title, under))
             for one in published.additions]  # fmt: skip
    return [news for *_, news in sorted(told, key=lambda one: one[:3], reverse=True)]


def _correction(one: Correction, published: Published, title: str, under: str) -> News:
    now = "Said now: nothing." if one.now is None else f"Said now: {_said(one.now)}"
    because = "; ".join(reason.words for reason in one.because)
    return News(
        _name(published.seed, f"correction {one.number}"),
        f"Corrected: {one.question.rstrip('?.')} ({title})",
        one.since,
        f"{under}corrections.html#{one.anchor}",
        f"Said before: {_said(one.before)} {now} Because: {because}.",
    )


def _said(told: Told) -> str:
    return f"{told.words.rstrip('.')} ({told.grade.value})."


def _addition(one: Addition, published: Published, title: str, under: str) -> News:
    words = "The record begins" if one.first else "Added"
    return News(
        _name(published.seed, f"addition {one.number}"),
        f"{words}: {title}",
        one.day,
        f"{under}corrections.html#added-{one.number}",
        f"{one.words}.",
    )


def _name(seed: str, what: str) -> str:
    return f"urn:uuid:{uuid.uuid5(_SPACE, f'{seed} {what}')}"


def atom(title: str, published: Published, news: Sequence[News]) -> str:
    """The feed as XML.

    Without a base address its links are relative to where it lies, as RFC 4287 (4.2.7.1) allows,
    and it does not name its own address.
    """
    latest = max((one.day for one in news), default=date(1970, 1, 1))
    base = published.base
    lines = [
        '<?xml version="1.0" encoding="utf-8"?>',
        '<feed xmlns="http://www.w3.org/2005/Atom" xml:lang="en-GB">',
        f"<id>{_name(published.seed, 'feed')}</id>",
        f"<title>{_xml(title)}: corrections and additions</title>",
        f"<updated>{_moment(latest)}</updated>",
        f"<author><name>{_xml(published.keeper or _NOT_NAMED)}</name></author>",
        f'<link rel="alternate" type="text/html" href={quoteattr(base or "index.html")}/>',
    ]
    if base:
        lines.append(f'<link rel="self" type="application/atom+xml" href="{base}feed.atom"/>')
    for one in news[:_MOST]:
        link = quoteattr(base + one.link)
        lines += [
            "<entry>",
            f"<id>{one.id}</id>",
            f"<title>{_xml(one.title)}</title>",
            f"<updated>{_moment(one.day)}</updated>",
            f'<link rel="alternate" type="text/html" href={link}/>',
            f'<content type="text">{_xml(capital(one.says))}</content>',
            "</entry>",
        ]
    return "\n".join([*lines, "</feed>", ""])


def _moment(day: date) -> str:
    return f"{day.isoformat()}T00:00:00Z"


def _xml(words: str) -> str:
    """Text for XML 1.0, without signs that it may not hold."""
    shown = "".join(c for c in words if c.isprintable() or c == " ")
    return escape(" ".join(shown.split()))


def sitemap(base: str, pages: Iterable[tuple[str, date | None]]) -> str:
    """The list of a site's pages with their absolute addresses, and when each last changed."""
    return "\n".join(
        [
            '<?xml version="1.0" encoding="utf-8"?>',
            '<urlset xmlns="http://www.sitemaps.org/schemas/sitemap/0.9">',
            *_places(base, pages),
            "</urlset>",
            "",
        ]
    )


def _places(base: str, pages: Iterable[tuple[str, date | None]]) -> Iterator[str]:
    for page, day in pages:
        address = canonical(base, page)
        changed = f"<lastmod>{day.isoformat()}</lastmod>" if day else ""
        yield f"<url><loc>{_xml(address)}</loc>{changed}</url>"


def canonical(base: str, page: str) -> str:
    """The one address of a page: a folder's first page is the folder.

    >>> canonical("https://iron.example/", "lapwing/index.html")
    'https://iron.example/lapwing/'
    """
    return base + page.removesuffix("index.html") if base else ""

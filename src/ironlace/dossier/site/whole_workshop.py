"""All machines of a workshop as one site: a first page, and each machine's pages in its folder."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, date
from pathlib import Path

from ironlace.dossier.account.whole import Account
from ironlace.dossier.faces import write_for_site
from ironlace.dossier.site.feed import atom, canonical, news_of, sitemap
from ironlace.dossier.site.front import Answer, front_of
from ironlace.dossier.site.pages import (
    build_site,
    pages_listed,
    picture_copies,
    site_environment,
    style_sheet,
)
from ironlace.dossier.site.published import Published
from ironlace.evidence.progress import Progress


@dataclass(frozen=True, slots=True)
class MachineOnSite:
    """A machine of the workshop: its account, what is published with it, the folder of its pages.

    `shown` is its picture as (file, width, height) seen from the first page, None where none is.
    """

    account: Account
    published: Published

    @property
    def folder(self) -> str:
        """The folder of its pages, with a stroke."""
        return f"{self.account.slug}/"

    @property
    def answers(self) -> tuple[Answer, ...]:
        """What is said of it first."""
        return front_of(self.account).answers

    @property
    def changed(self) -> date | None:
        """The day of its last change (UTC)."""
        last = self.account.colophon.last_change
        return last.astimezone(UTC).date() if last else None

    def picture(self, folder: Path) -> tuple[str, int, int] | None:
        """Its picture among the files written, the smallest copy that is wide enough."""
        copies = picture_copies(self.account, folder / self.account.slug)
        if not copies:
            return None
        copy = copies[min(1, len(copies) - 1)]
        return f"{self.folder}{copy.file}", copy.width, copy.height


def build_workshop_site(
    title: str,
    machines: Sequence[MachineOnSite],
    folder: Path,
    progress: Progress,
    whole: Published,
) -> None:
    """Write the whole workshop's files into an empty folder.

    Parameters
    ----------
    title
        What the workshop is called.
    machines
        In the order in which they stand on the first page.
    whole
        Address and keeper of the whole.
    """
    pages: list[tuple[str, date | None]] = [("index.html", _latest(machines))]
    for at, one in enumerate(machines):
        progress(f"writing the pages of {one.account.title}", at / len(machines))
        place = folder / one.account.slug
        place.mkdir()
        base = f"{whole.base}{one.folder}" if whole.base else ""
        published = replace(one.published, base=base, up="../index.html", keeper=whole.keeper)
        build_site(one.account, place, lambda _stage, _done: None, published)
        pages += [(one.folder + page, day) for page, day in pages_listed(one.account, place)]
    news = [
        news
        for one in machines
        for news in news_of(one.published, one.account.title, under=one.folder)
    ]
    news.sort(key=lambda one: one.day, reverse=True)
    (folder / "feed.atom").write_text(atom(title, whole, news), encoding="utf-8")
    if whole.base:
        (folder / "sitemap.xml").write_text(sitemap(whole.base, pages), encoding="utf-8")
    environment = site_environment()
    text = environment.get_template("workshop.html").render(
        title=title,
        machines=machines,
        pictures={one.account.slug: one.picture(folder) for one in machines},
        whole=whole,
        canonical=canonical(whole.base, "index.html"),
    )
    (folder / "index.html").write_text(text, encoding="utf-8")
    style = style_sheet()
    style = write_for_site(folder, style, [text]) + style
    (folder / "style.css").write_text(style, encoding="utf-8")
    progress("the site is written", 1.0)


def _latest(machines: Sequence[MachineOnSite]) -> date | None:
    return max((one.changed for one in machines if one.changed), default=None)

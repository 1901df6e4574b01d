"""The account on one bare page: HTML without style or script, for whatever still shows HTML.

It holds the same blocks as site and print, in the order of reading; pictures are those of the site.
"""

import re
from pathlib import Path

from ironlace.dossier.account.whole import Account
from ironlace.dossier.site.pages import account_environment
from ironlace.evidence.grades import Grade

PLAIN_FILE = "account.html"
_WIDTH = 960
"""Pixels of the longer edge that suffice on a bare page."""


def write_plain_page(account: Account, folder: Path) -> Path:
    """Write the page beside the folder ``site``, which must be there with its pictures."""
    environment = account_environment("plain", "site")
    page = environment.get_template("account.html").render(
        account=account,
        grades=list(Grade),
        known=account.anchors,
        files=_files(account, folder),
    )
    place = folder / PLAIN_FILE
    place.write_text(re.sub(r"\n\s*\n+", "\n", page).lstrip(), encoding="utf-8")
    return place


def _files(account: Account, folder: Path) -> dict[str, str]:
    """The picture of each photograph and drawing, by name, as an address from the page."""
    found: dict[str, str] = {}
    for plate in account.plates:
        copies = sorted(
            folder.glob(f"site/pictures/{plate.name.replace(' ', '-')}-*.jpg"), key=_edge
        )
        small = [copy for copy in copies if _edge(copy) <= _WIDTH]
        if copies:
            found[plate.name] = (small[-1] if small else copies[0]).relative_to(folder).as_posix()
    for path in sorted(folder.glob("site/drawings/drawing-*.svg")):
        words = re.fullmatch(r"drawing-(\d+)-(shown|map|sheet-\d+)", path.stem)
        if words:
            part = "" if words[2] == "shown" else f" {words[2].replace('-', ' ')}"
            found[f"drawing {words[1]}{part}"] = path.relative_to(folder).as_posix()
    return found


def _edge(copy: Path) -> int:
    return int(copy.stem.rpartition("-")[2])

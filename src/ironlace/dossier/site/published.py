"""What a site for strangers tells beside the account: its address, its keeper, what changed."""

import re
from dataclasses import dataclass

from ironlace.dossier.errors import DossierError
from ironlace.dossier.site.corrections import Addition, Correction

_BASE = re.compile(r"https?://[A-Za-z0-9.-]{1,253}(?::\d{1,5})?(?:/[\w.~%@!$&'()*+,;=:-]*)*", re.A)
"""An absolute address without question or place in it (RFC 3986)."""
_LONGEST = 400
"""Characters of an address."""


@dataclass(frozen=True, slots=True)
class Published:
    """What goes onto the web with an account.

    Attributes
    ----------
    seed
        What tells this record from every other, for names that never change (RFC 4122).
    base
        Absolute address of the site's folder, with a stroke at its end; empty where nobody said.
    keeper
        Who keeps the record, as it may be told; empty where nobody said.
    call
        The page of the call for reports, empty where none is called for.
    why_no_call
        Why not, in a sentence.
    corrections, additions
        What was corrected and what came in, the latest first.
    up
        Where the whole workshop's page is, seen from here; empty where the site is of one machine.
    """

    seed: str
    base: str = ""
    keeper: str = ""
    call: str = ""
    why_no_call: str = ""
    corrections: tuple[Correction, ...] = ()
    additions: tuple[Addition, ...] = ()
    up: str = ""

    @property
    def feed(self) -> str:
        """Where the feed is, seen from the machine's pages."""
        return f"{self.up.removesuffix('index.html')}feed.atom"


def base_address(text: str) -> str:
    """An address as it is typed, with a stroke at its end; empty stays empty.

    Raises
    ------
    DossierError
        When it cannot be the address of a folder of pages.

    >>> base_address("https://iron.example/lapwing")
    'https://iron.example/lapwing/'
    """
    told = text.strip()
    if not told:
        return ""
    if len(told) > _LONGEST or not _BASE.fullmatch(told) or "/../" in f"{told}/":
        raise DossierError(
            f"'{told[:80]}' is no address of a folder on the web: write it whole, such as "
            "https://name.example/folder/, without a question mark or a #."
        )
    return told.rstrip("/") + "/"

"""Small turns of phrase that every page shares."""

import re
import unicodedata


def shortened(line: str, longest: int) -> str:
    """Return a line cut to so many characters, the last an ellipsis.

    >>> shortened("a long shuttle", 8)
    'a long…'
    """
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"


def plain_file_name(name: str, title: str) -> str:
    """Return an entry's name and what is left of its title, to be kept on any disk.

    Only small letters, figures and hyphens.

    >>> plain_file_name("drawing 2", "Filigrée, left")
    'drawing-2-filigree-left'
    """
    bare = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.sub(r"[^a-z0-9]+", "-", bare.lower()).strip("-")[:40].strip("-")
    return "-".join(part for part in (name.replace(" ", "-"), words) if part)

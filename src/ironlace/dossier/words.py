"""Small turns of phrase that every page shares."""


def capital(words: str) -> str:
    """Words with a capital first letter, the rest as it is.

    >>> capital("struck, 1893")
    'Struck, 1893'
    """
    return words[:1].upper() + words[1:]


def shortened(line: str, longest: int) -> str:
    """Return a line cut to so many characters, the last an ellipsis.

    >>> shortened("a long shuttle", 8)
    'a long…'
    """
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"

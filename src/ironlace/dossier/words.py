"""Small turns of phrase that every page shares."""

from ironlace.evidence.edtf_dates import EdtfDate
from ironlace.evidence.errors import IronlaceError


def date_in_words(text: str | None) -> str:
    """An EDTF text as a person says it; the text itself when it is none.

    >>> date_in_words("1893-04~"), date_in_words(None), date_in_words("soon")
    ('about April 1893', '', 'soon')
    """
    if not text:
        return ""
    try:
        return EdtfDate.parse(text).in_words()
    except IronlaceError:
        return text


def shortened(line: str, longest: int) -> str:
    """Return a line cut to so many characters, the last an ellipsis.

    >>> shortened("a long shuttle", 8)
    'a long…'
    """
    return line if len(line) <= longest else line[: longest - 1].rstrip() + "…"

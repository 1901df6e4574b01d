"""Small turns of phrase that sentences of every room share."""

from collections.abc import Sequence


def capital(words: str) -> str:
    """Words with a capital first letter, the rest as it is.

    >>> capital("struck, 1893")
    'Struck, 1893'
    """
    return words[:1].upper() + words[1:]


def counted(number: int, noun: str) -> str:
    """A number with its noun, in the plural where it takes one.

    >>> counted(1, "report"), counted(3, "report")
    ('1 report', '3 reports')
    """
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"


def listed(words: Sequence[str]) -> str:
    """One or more words as a list in a sentence.

    >>> listed(["bed"]), listed(["bed", "arm", "pillar"])
    ('bed', 'bed, arm and pillar')
    """
    return words[0] if len(words) == 1 else f"{', '.join(words[:-1])} and {words[-1]}"

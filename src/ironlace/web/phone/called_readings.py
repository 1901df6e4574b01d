"""A reading called out at the bench becomes a measurement, claiming nothing that was not said."""

from typing import Any

from ironlace.evidence.errors import IronlaceError
from ironlace.evidence.grades import Grade
from ironlace.evidence.sources import SourceKind
from ironlace.record import Entry, parse_entry
from ironlace.web.phone.spoken_numbers import read_number

CALLED_IN = "read at the bench, called in by phone"
"""What is said of where such a reading comes from."""
_GRADES_WITHOUT = (Grade.SEEN, Grade.INFERRED, Grade.CONJECTURED)
"""How a value can be known that no instrument gave."""


class CalledReadingError(IronlaceError):
    """A reading lacks what makes it one."""

    http_status = 422


def measurement_from(told: dict[str, Any]) -> Entry:
    """Make a measurement of what a phone sent: `what`, `number`, `unit` and, if said, more.

    It is graded *measured* when an instrument was named. Otherwise the phone must have been told
    how the value is known.

    Raises
    ------
    CalledReadingError, SpokenNumberError, QuantityError, EntryError
        One sentence on what is missing or cannot be read.
    """
    said = {name: _line(told, name) for name in _SAID}
    for name, ask in _NEEDED.items():
        if not said[name]:
            raise CalledReadingError(ask)
    number = read_number(said["number"])
    error = f" ± {read_number(said['error']).lstrip('-')}" if said["error"] else ""
    if said["instrument"]:
        grade = Grade.MEASURED
    elif said["grade"] in _GRADES_WITHOUT:
        grade = Grade(said["grade"])
    else:
        raise CalledReadingError(
            "No instrument was named: say with what it is read, or how else you know it (seen, "
            "inferred or conjectured)."
        )
    spoken = any(letter.isalpha() for letter in said["number"])
    return parse_entry(
        {
            "kind": "measurement",
            "what": said["what"],
            "reads": f"{number}{error} {said['unit']}",
            "instrument": said["instrument"],
            "grade": grade.value,
            "sources": [
                {
                    "kind": (
                        SourceKind.INSTRUMENT if said["instrument"] else SourceKind.PERSON
                    ).value,
                    "says": CALLED_IN,
                }
            ],
            "note": f"Called out as '{said['number']}'." if spoken else "",
        }
    )


_SAID = ("what", "number", "unit", "instrument", "error", "grade")
_NEEDED = {
    "what": "It is not said what is read: choose or write it first.",
    "unit": "It is not said in what unit: choose or write it first.",
    "number": "There is no number yet: press the keys, or call it out.",
}


def _line(told: dict[str, Any], name: str) -> str:
    value = told.get(name, "")
    if not isinstance(value, str):
        raise CalledReadingError(f"'{name}' should be text: reload the page and try again.")
    return " ".join(value.split())

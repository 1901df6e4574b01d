"""What is wrong with an entry, in one sentence."""

from typing import Any

from pydantic import ValidationError

from ironlace.record.entries.kinds import EntryKind

_OF_THE_KIND = {
    "union_tag_invalid": "There is no entry of that kind",
    "union_tag_not_found": "The entry does not say its kind",
}
_ONE_OF = "cannot be {came}: use {expected}"
_FAULTS = {
    "missing": "is missing: fill it in",
    "string_too_short": "is empty: fill it in",
    "string_too_long": "is too long: use {max_length} characters at most",
    "enum": _ONE_OF,
    "literal_error": _ONE_OF,
    "extra_forbidden": "is no field of this kind of entry: leave it out, or mend its name",
    "string_pattern_mismatch": "cannot be {came}: it does not have the form of such a name",
    "greater_than": "cannot be {came}: give more than {gt}",
    "greater_than_equal": "cannot be {came}: give {ge} or more",
    "decimal_max_places": "is finer than a hundredth: round {came}",
    "decimal_max_digits": "is too large: check {came}",
    "decimal_whole_digits": "is too large: check {came}",
}
"""What is said of a field, by pydantic's sort of fault; `came` is what came."""

_WANTED = {
    "string": "text",
    "bool": "true or false",
    "decimal": "a number such as 2.5",
    "float": "a number",
    "int": "a whole number",
    "tuple": "a list",
    "list": "a list",
    "dict": "an object with names",
    "model": "an object with names",
}
_LONGEST_QUOTED = 60
"""Characters of what came that a sentence quotes: enough to find it by."""


def in_one_sentence(error: ValidationError) -> str:
    """Turn the first fault that pydantic found into a sentence for a person."""
    fault = error.errors(include_url=False)[0]
    place = [str(step) for step in fault["loc"] if str(step) not in set(EntryKind)]
    field = " ".join(place).replace("_", " ")
    subject = f"'{field}'" if field else "The entry"
    sort = fault["type"]
    if sort in _OF_THE_KIND:
        return f"{_OF_THE_KIND[sort]}: use one of {', '.join(EntryKind)}."
    if sort in _FAULTS:
        limits = {name: str(limit).replace("'", "") for name, limit in fault.get("ctx", {}).items()}
        return f"{subject} {_FAULTS[sort].format(came=_shortly(fault['input']), **limits)}."
    if sort.endswith(("_type", "_parsing")):
        wanted = next((words for stem, words in _WANTED.items() if sort.startswith(stem)), "")
        if wanted:
            return f"{subject} should be {wanted}, and {_shortly(fault['input'])} came."
    message = fault["msg"].removeprefix("Value error, ")
    return f"{subject}: {message[:1].lower() + message[1:]}".rstrip(".") + "."


def _shortly(came: Any) -> str:
    """What came, as a sentence can quote it."""
    text = " ".join(str(came).split())
    short = text if len(text) <= _LONGEST_QUOTED else f"{text[:_LONGEST_QUOTED]}..."
    return f"'{short}'"

"""The fields of an entry, each declared once: beside its type stand its words and its manners.

From that declaration come the form, the lines of a page, the account, the privacy of a public copy
and the manual; nothing else names a field.

>>> from typing import Annotated
>>> class Lamp(BaseModel):
...     shines: Annotated[str, Words("How it shines", example="softly")]
...     seller: Annotated[str, Words("Bought from", more=True, private=True)] = ""
>>> [(field.label, field.control.value, field.required) for field in fields_of(Lamp)]
[('How it shines', 'line', True), ('Bought from', 'line', False)]
"""

import inspect
from collections.abc import Iterator
from dataclasses import dataclass
from enum import Enum, StrEnum
from functools import cache
from typing import Any, Literal, get_args, get_origin

from pydantic import BaseModel
from pydantic.fields import FieldInfo

from ironlace.evidence.grades import Grade
from ironlace.evidence.sources import Source


class Control(Enum):
    """What sort of thing a field takes, and so how it is asked for.

    It follows from the field's type; types that need it said carry it in their `Annotated`.
    """

    LINE = "line"
    TEXT = "text"
    DATE = "date"
    QUANTITY = "quantity"
    MARKING = "marking"
    CHOICE = "choice"
    LINES = "lines"
    OTHER_READINGS = "other readings"
    READING_TABLE = "table of readings"
    PICTURES = "pictures"
    HAZARDS = "hazards"
    TICK = "tick"
    DECIMAL = "decimal"
    GRADE = "grade"
    SOURCES = "sources"


class InAccount(Enum):
    """Where in an account a field stands.

    Attributes
    ----------
    HEADING
        Heads the entry; a second one follows it after a comma, lighter.
    SAYS
        What the entry says, set a little larger; no heading then.
    LINE
        On the line under the heading, without its label.
    MATTER
        Paragraphs without a label.
    LABELLED
        Paragraphs that begin with the label. Where texts stand unless said otherwise.
    PAIR
        Label and value side by side. Where anything else stands unless said otherwise.
    SET_OFF
        Set off by a rule: the first such field as a strong sentence, the next as paragraphs.
    MARGIN
        In the margin, with the evidence.
    SEEN_ON
        Photographs, by their names.
    PLATES
        Photographs, shown; the phrase heads them where two fields show some.
    NOWHERE
        Not told of by itself.
    """

    HEADING = "heading"
    SAYS = "says"
    LINE = "line"
    MATTER = "matter"
    LABELLED = "labelled"
    PAIR = "pair"
    SET_OFF = "set off"
    MARGIN = "margin"
    SEEN_ON = "seen on"
    PLATES = "plates"
    NOWHERE = "nowhere"


@dataclass(frozen=True, slots=True)
class Words:
    """What a field of an entry is called and how it is treated; goes beside its type.

    Attributes
    ----------
    label
        What it is called, in the words of the trade: on the form, the page and in the account.
    help
        What to know before filling it in.
    example
        An answer as it may be written.
    more
        Whether the form shows it on request only.
    needed
        Whether the form asks for it although the entry can do without.
    unchosen
        Whether a new form begins with nothing chosen although the entry has a default: the default
        is what an entry means that came another way.
    choices
        For a `Literal`: value and words of each.
    private
        Whether a public copy leaves it out.
    unless
        For a private field: another field of the entry, and the values of it with which a public
        copy keeps this one all the same.
    hides
        For a yes or no: the answer that keeps the whole entry out of a public copy.
    account
        Where in an account it stands; None for the place usual for its control.
    phrase
        Its value where no label stands, such as ``"by {}"``.
    urgent
        The value that must not be missed: a section then begins with the entries that have it.
    kept_without
        What an entry says that was kept without the field: the default of that time.
    """

    label: str
    help: str = ""
    example: str = ""
    more: bool = False
    needed: bool = False
    unchosen: bool = False
    choices: tuple[tuple[str, str], ...] = ()
    private: bool = False
    unless: tuple[str, tuple[str, ...]] | None = None
    hides: bool | None = None
    account: InAccount | None = None
    phrase: str = "{}"
    urgent: str = ""
    kept_without: str = ""


@dataclass(frozen=True, slots=True)
class KindWords:
    """What a kind of entry is called and how it is treated; stands on its model as `words`.

    Attributes
    ----------
    one, many
        What one of them and several are called.
    lead
        What to know before writing one.
    by_hand
        Whether a person writes it on a form; else it comes of a study.
    on_request
        Whether an account leaves the kind out unless it is asked for.
    section, title, opening
        Section of an account that tells of the kind: its key, its title, its first sentence. An
        empty key for a kind that other sections tell of.
    """

    one: str
    many: str
    lead: str = ""
    by_hand: bool = True
    on_request: bool = False
    section: str = ""
    title: str = ""
    opening: str = ""


_USUAL_PLACE = {
    Control.TEXT: InAccount.LABELLED,
    Control.LINES: InAccount.LABELLED,
    Control.OTHER_READINGS: InAccount.LABELLED,
    Control.READING_TABLE: InAccount.NOWHERE,
    Control.PICTURES: InAccount.SEEN_ON,
    Control.GRADE: InAccount.NOWHERE,
    Control.SOURCES: InAccount.NOWHERE,
    Control.HAZARDS: InAccount.NOWHERE,
}


@dataclass(frozen=True, slots=True)
class EntryField:
    """One field of a kind of entry, as its model declares it."""

    name: str
    control: Control
    words: Words
    required: bool
    default: Any
    choices: tuple[tuple[str, str], ...] = ()

    @property
    def label(self) -> str:
        """What it is called."""
        return self.words.label

    @property
    def needed(self) -> bool:
        """Whether a form must be given it."""
        return self.required or self.words.needed

    @property
    def account(self) -> InAccount:
        """Where in an account it stands."""
        return self.words.account or _USUAL_PLACE.get(self.control, InAccount.PAIR)


@cache
def fields_of(model: type[BaseModel]) -> tuple[EntryField, ...]:
    """The fields of a kind of entry that have words, in the order of the form.

    Those the model itself declares come first, in that order, then those it inherits. A field
    without words is no person's to fill in, such as a checksum.

    Raises TypeError when a field with words has a type that no control takes.
    """
    own = inspect.get_annotations(model)
    names = [name for name in own if name in model.model_fields]
    names += [name for name in reversed(model.model_fields) if name not in own]
    return tuple(_made(model, names))


def words_of(model: type[BaseModel]) -> KindWords:
    """What a kind of entry is called."""
    found = getattr(model, "words", None)
    if not isinstance(found, KindWords):
        raise TypeError(f"{model.__name__} needs its KindWords as 'words'")
    return found


def _made(model: type[BaseModel], names: list[str]) -> Iterator[EntryField]:
    for name in names:
        info = model.model_fields[name]
        words = next((mark for mark in info.metadata if isinstance(mark, Words)), None)
        if words is None:
            continue
        yield EntryField(
            name,
            _control_of(model, name, info),
            words,
            required=info.is_required(),
            default=None if info.is_required() else info.default,
            choices=words.choices or _choices_of(info),
        )


def _control_of(model: type[BaseModel], name: str, info: FieldInfo) -> Control:
    said = next((mark for mark in info.metadata if isinstance(mark, Control)), None)
    if said is not None:
        return said
    hint = info.annotation
    if hint is Grade:
        return Control.GRADE
    if hint is bool:
        return Control.TICK
    if hint is str:
        return Control.LINE
    if hint == tuple[Source, ...]:
        return Control.SOURCES
    if _choices_of(info):
        return Control.CHOICE
    raise TypeError(f"{model.__name__}.{name} needs a Control beside its type")


def _choices_of(info: FieldInfo) -> tuple[tuple[str, str], ...]:
    hint = info.annotation
    if get_origin(hint) is Literal:
        return tuple((str(value), str(value)) for value in get_args(hint))
    inner = next(iter(get_args(hint)), hint) if get_origin(hint) is tuple else hint
    if isinstance(inner, type) and issubclass(inner, StrEnum):
        return tuple((one.value, one.value) for one in inner)
    return ()

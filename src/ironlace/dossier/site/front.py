"""What a stranger reads first: three answers with their grade, how each is known, what is not."""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from ironlace.dossier.account.blocks import FigureShown, Item, Plates, Voucher, all_blocks
from ironlace.dossier.account.findings_as_blocks import headline_of, sentences
from ironlace.dossier.account.whole import Account
from ironlace.dossier.rivals import rivals
from ironlace.evidence.findings import DATE_FINDING
from ironlace.evidence.grades import Grade
from ironlace.record.choices import Stage, Topic
from ironlace.record.entries import FindingEntry, Question, Statement, Treatment

_ASKED = (
    (Topic.KIND, "What is it?"),
    (Topic.MAKER, "Who made it?"),
    (Topic.MADE, "When was it made?"),
)
"""What a stranger asks first, in this order."""
_BESIDES = (Topic.MODEL, Topic.PLACE, Topic.SHUTTLE)
"""What else stands on the first page where it is known."""
_SENTENCES = 3
"""Of a finding: what is told in answer to how it is known."""
_PAIRS = 3
"""Pairs of photographs before and after on the first page; the rest stand with the treatments."""


@dataclass(frozen=True, slots=True)
class Known:
    """One statement behind an answer: its words, its grade, what vouches for it, where it stands.

    `note` is where it stands how it was worked out, empty for what was not.
    """

    name: str
    words: str
    grade: Grade
    vouchers: tuple[Voucher, ...]
    note: str = ""


@dataclass(frozen=True, slots=True)
class Answer:
    """An answer on the first page: the question, what is said, its grade, and how it is known.

    Nothing is said where the record does not say it: then there is no grade.
    """

    asks: str
    says: str
    grade: Grade | None
    known: tuple[Known, ...]


@dataclass(frozen=True, slots=True)
class Front:
    """The first page: three answers, what is known besides, what is not, how it changed.

    `unknown` are sentences with the entry that each is about, '' for none; `odds` is the plot of
    the date as reports came in; `pairs` are photographs before and after a treatment, with its
    name and what was done.
    """

    answers: tuple[Answer, ...]
    besides: tuple[Answer, ...]
    unknown: tuple[tuple[str, str], ...]
    odds: FigureShown | None
    pairs: tuple[tuple[str, str, Plates], ...]


def front_of(account: Account) -> Front:
    """Choose what stands on the first page of an account."""
    items = {block.name: block for block in account.blocks() if isinstance(block, Item)}
    return Front(
        tuple(_answer(account, topic, asks, items) for topic, asks in _ASKED),
        tuple(
            answer
            for topic in _BESIDES
            if (answer := _answer(account, topic, "", items)).grade is not None
        ),
        tuple(_unknown(account)),
        _odds(items, _dates(account)),
        tuple(_pairs(account)),
    )


def _dates(account: Account) -> list[str]:
    return [n for n, e in account.record.of(FindingEntry) if e.finding.about == DATE_FINDING]


def _answer(account: Account, topic: Topic, asks: str, items: dict[str, Item]) -> Answer:
    told = next((line for line in account.summary if line[0] == topic.value), None)
    known = tuple(_known(account, topic, items))
    asks = asks or topic.value
    if told is None:
        return Answer(asks, "The record does not say.", None, known)
    return Answer(asks, told[1], told[2], known)


def _known(account: Account, topic: Topic, items: dict[str, Item]) -> Iterator[Known]:
    if topic is Topic.MADE:
        for name in _dates(account):
            entry = account.record.named(name)
            if name in items and isinstance(entry, FindingEntry):
                finding = entry.finding
                words = " ".join(sentences(finding.sentence)[:_SENTENCES]) or headline_of(finding)
                yield Known(name, words, finding.grade, (), items[name].margin.note)
    for name, entry in account.record.of(Statement):
        if entry.about is topic:
            by = f", as claimed by {entry.claimed_by}" if entry.claimed_by else ""
            vouchers = items[name].margin.vouchers if name in items else ()
            yield Known(name, f"{entry.says_in_words()}{by}", entry.grade, vouchers)


def _unknown(account: Account) -> Iterator[tuple[str, str]]:
    """Open questions; then what nobody said, what is disputed, and what is merely conjectured."""
    for name, question in account.record.of(Question):
        if not question.answer:
            yield " ".join(question.asks.split()), name
    dated = bool(_dates(account))
    for topic in (*(topic for topic, _ in _ASKED), Topic.PLACE):
        said = [(n, s) for n, s in account.record.of(Statement) if s.about is topic]
        if not said:
            if not (topic is Topic.MADE and dated):
                yield f"The {topic.value}: nobody has said.", ""
        elif rivals(topic, [s for _, s in said]):
            yield f"The {topic.value}: what is said of it cannot all be true.", said[0][0]
        elif all(s.grade is Grade.CONJECTURED for _, s in said) and not (
            topic is Topic.MADE and dated
        ):
            yield f"The {topic.value}: only conjectured.", said[0][0]


def _odds(items: dict[str, Item], dates: list[str]) -> FigureShown | None:
    for name in reversed(dates):
        for block in all_blocks(items[name].below) if name in items else ():
            if isinstance(block, FigureShown):
                return block
    return None


def _pairs(account: Account) -> Iterable[tuple[str, str, Plates]]:
    at_hand = {plate.name for plate in account.plates if plate.picture}
    found = []
    for name, done in account.record.of(Treatment):
        before = [photo for photo in done.before if photo in at_hand]
        after = [photo for photo in done.after if photo in at_hand]
        if before and after and done.stage is Stage.DONE:
            columns = (("before", (before[0],)), ("after", (after[0],)))
            found.append((name, done.what, Plates(columns)))
    return found[:_PAIRS]

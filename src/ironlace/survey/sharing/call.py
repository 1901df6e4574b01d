"""The call for reports: what to look for, which reports would tell most, what becomes of a name."""

import re
from dataclasses import dataclass
from typing import Final

from ironlace.evidence.wording import capital
from ironlace.survey.answers.next_report import TELLS_NOTHING, NextReport
from ironlace.survey.errors import ReportsError
from ironlace.survey.sharing.report_block import KNOWN, NAMED, empty_form, folded

_ADDRESS = re.compile(r"[A-Za-z0-9._%+'-]{1,64}@[A-Za-z0-9-]{1,63}(?:\.[A-Za-z0-9-]{1,63}){1,8}")
"""Address of a mailbox: the usual part of RFC 5321, with nothing that a link could be bent by."""
_PAGE = re.compile(r"https?://[^\s<>\"'`\\{}|^]{3,400}", re.I)
_KINDS_TOLD = 3
"""Kinds of reports that a call names: a stranger reads three lines."""

LIGHT: Final = (
    "Wipe the place with a dry, soft cloth. Do not scrape, and use no solvent: the black is "
    "lacquer.",
    "Switch the ceiling light off. Hold a torch, or a second phone's lamp, low beside the number, "
    "so that the light grazes the metal and the strokes throw shadows.",
    "Hold the phone straight above, a hand's width away, tap on the number to focus, and take "
    "three pictures with the lamp left, right and above.",
    "Write down what you read before you look at anybody else's number: dots, rings and gaps too, "
    "and ? for what you cannot read.",
)
"""How to photograph a struck number with a telephone: raking light, common practice."""

CAUTION: Final = (
    "Take needle and belt off before you turn a machine over, and have help: the head is heavy and "
    "the hinges may be worn."
)
NAME: Final = (
    "You choose how you are named: by your name, by your initials, or not at all. Unless you "
    "choose, you are not named. Your address is used to answer you and is not kept with the "
    "report; the place is published only if you say so."
)
DISAGREES: Final = (
    "A number that fits nothing is worth most: send it just as you read it. Machines that look "
    "ordinary count as well as rare ones."
)


@dataclass(frozen=True, slots=True)
class Call:
    """A call for reports.

    Attributes
    ----------
    machine
        What is looked for, in words.
    where
        Where on the machine the number sits, in words; empty if nobody said.
    tells_most
        Which reports would tell most, one sentence each, the best first.
    why
        Why they are asked for.
    keeper
        Who asks, as they wish to be named; empty if unsaid.
    mail, page
        Address that reports go to, and of the call itself; empty if none was given.
    """

    machine: str
    where: str
    tells_most: tuple[str, ...]
    why: tuple[str, ...]
    keeper: str = ""
    mail: str = ""
    page: str = ""

    def as_text(self) -> str:
        """The call as plain text for a mailing list."""
        parts = [
            f"Wanted: the numbers of other machines like {self.machine}",
            *self.why,
            "What to look for\n" + self.where_sits(),
            "What would tell most\n" + _listed(self.tells_most) + f"\n{DISAGREES}",
            "How to photograph it\n" + _listed((*LIGHT, CAUTION)),
            "Your name\n" + NAME,
            "How to report\n" + self.how_to_report(),
            empty_form(self.machine),
        ]
        return "\n\n".join(_wrapped(part) if "==" not in part else part for part in parts) + "\n"

    def where_sits(self) -> str:
        """Where the number sits."""
        if self.where:
            return f"The number of our machine is struck here: {self.where}."
        return "Look for struck figures on the bed, its edge and its underside."

    def how_to_report(self) -> str:
        """To whom to write, or that nobody was named."""
        by = f" The reports are gathered by {self.keeper}." if self.keeper else ""
        to = f"Write to {self.mail}" if self.mail else "Answer whoever gave you this call"
        at = f" There is a form at {self.page}." if self.page else ""
        return (
            f"{to}, with the lines below filled in and a photograph if you have one.{at}{by}\n"
            f"How you know it: {'; '.join(KNOWN)}.\nYou may be named: {'; '.join(NAMED)}."
        )


def call_of(
    machine: str,
    where: str,
    found: NextReport | None,
    *,
    keeper: str = "",
    mail: str = "",
    page: str = "",
) -> Call:
    """Make a call for reports out of what would tell most.

    Parameters
    ----------
    found
        What to ask for next; None while there are no reports to work it out from.

    Raises
    ------
    ReportsError
        When an address cannot be one: a line in it could change what a mail says and to whom.
    """
    mail, page = mail.strip(), page.strip()
    if mail and not _ADDRESS.fullmatch(mail):
        raise ReportsError(
            f"'{folded(mail)[:60]}' is no address of a mailbox: write it as name@place.example, "
            "and nothing else."
        )
    if page and not _PAGE.fullmatch(page):
        raise ReportsError(
            f"'{folded(page)[:60]}' is no address of a page: it begins with https:// and holds no "
            "blanks."
        )
    most, why = _told(found)
    return Call(folded(machine), folded(where).rstrip("."), most, why, folded(keeper), mail, page)


_TO_STRANGERS: Final = {
    "a mark checked glyph by glyph on a raking-light photograph": "A number checked sign by sign "
    "on a photograph with the light from the side: a dot that is missed can change the date.",
    "a mark reported as carefully as those so far": "A number that you read from the metal with "
    "care, without a photograph.",
    "a number passed on by word, its dots not told": "A number that somebody told you: it tells "
    "less, and still something.",
}
"""Kinds of reports, by what they are called at home, in words for those who were never told."""


def _told(found: NextReport | None) -> tuple[tuple[str, ...], tuple[str, ...]]:
    if found is None:
        return (
            ("Any number, read with care from a machine before you.",),
            ("One number fits almost any theory of how these machines were numbered. Four or five "
             "from other owners confirm it or sink it.",),
        )  # fmt: skip
    telling = [kind for kind in found.kinds if kind.bits >= TELLS_NOTHING][:_KINDS_TOLD]
    said = (_TO_STRANGERS.get(kind.what, f"{capital(kind.what)}.") for kind in telling)
    most = tuple(dict.fromkeys(said))
    if found.settled or not most:
        return (
            most or ("A machine with a dated paper: a receipt, a letter, a bill of sale.",),
            ("We believe we know how these machines were numbered. A report that speaks against it "
             "is what would teach us something.",),
        )  # fmt: skip
    needed = next((power.needed for power in found.power if power.needed), None)
    hope = (
        f" With {needed} more we may know."
        if needed and needed > 1
        else " One more may decide it."
        if needed
        else ""
    )
    return most, (
        "We have a theory of how these machines were numbered, and other owners' numbers confirm "
        f"it or sink it.{hope}",
    )


def _listed(lines: tuple[str, ...]) -> str:
    return "\n".join(f"- {line}" for line in lines)


def _wrapped(text: str) -> str:
    from textwrap import wrap

    return "\n".join(
        "\n".join(wrap(line, 72, break_long_words=False, break_on_hyphens=False))
        for line in text.split("\n")
    )

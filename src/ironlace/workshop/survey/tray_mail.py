"""An e-mail that came in: its words and its photographs, by Python's own reader of mail.

Nothing packed is opened and no address is kept. A mail that asks for too much is refused with one
sentence before it is taken apart.
"""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from email import policy
from email.errors import MessageError
from email.message import EmailMessage
from email.parser import BytesParser
from html.parser import HTMLParser
from typing import Final, cast

from ironlace.evidence.errors import IronlaceError

MOST_MAIL: Final = 8_000_000
"""Bytes of a mail: two photographs of a telephone. A judgement."""
MOST_LAID_IN: Final = 60_000_000
"""Bytes of one thing laid into the tray: a photograph of a good camera. A judgement."""
MOST_WORDS: Final = 200_000
"""Bytes of words in a mail, or of a text file: a long thread. A judgement."""
_MOST_PARTS = 60
"""Parts of a mail, all levels together: a mail forwarded twice has some ten. A judgement."""
_DEEPEST = 8
"""Levels of parts within parts: forwarded twice, with pictures in the text, makes six."""
_MOST_HEADER = 64_000
"""Bytes before the first empty line: letters carry some 5,000."""
_MOST_PHOTOGRAPHS = 6
"""Photographs taken from one mail (a judgement)."""

_PHOTOGRAPHS = ("image/jpeg", "image/png", "image/heic", "image/heif", "image/tiff")
_PART = re.compile(rb"^content-type:\s*(?:multipart|message)/", re.I | re.M)
_DASHES = re.compile(rb"^--", re.M)
"""Where a part begins, or a signature."""
_MOST_DASHES = 1_000
"""Lines that may begin a part: each costs a search of the lines about it. A judgement."""
_HEADER = re.compile(r"[A-Za-z][A-Za-z0-9-]{1,40}:[ \t]")
_OF_MAIL = re.compile(r"^(?:from|received|mime-version|message-id|content-type|subject):", re.I)
_BREAKS = frozenset(
    [
        "address",
        "article",
        "blockquote",
        "br",
        "dd",
        "div",
        "dl",
        "dt",
        "footer",
        "h1",
        "h2",
        "h3",
        "h4",
        "h5",
        "h6",
        "header",
        "hr",
        "li",
        "ol",
        "p",
        "pre",
        "section",
        "table",
        "td",
        "th",
        "tr",
        "ul",
    ]
)
_UNSEEN = frozenset(["head", "script", "style", "template", "title"])


class MailError(IronlaceError):
    """An e-mail cannot be taken in."""

    http_status = 422


@dataclass(frozen=True, slots=True)
class Letter:
    """What a mail says and brings.

    Attributes
    ----------
    words
        Its text, and that of text files attached to it.
    photographs
        Name and bytes of each photograph attached.
    left
        A sentence for each thing in it that was not taken.
    """

    words: str
    photographs: tuple[tuple[str, bytes], ...] = ()
    left: tuple[str, ...] = ()


def too_large(came_as: object) -> str:
    """What is said of a thing over `MOST_LAID_IN`."""
    return f"{came_as} is larger than {MOST_LAID_IN // 1_000_000} MB: save the part that matters."


def looks_like_mail(data: bytes) -> bool:
    """Whether a text begins with the headers of a mail."""
    lines = data[:4_000].lstrip(b"\xef\xbb\xbf\r\n").decode("latin-1").splitlines()
    if lines and lines[0].startswith(("From ", ">From ")):
        lines = lines[1:]
    heads = []
    for line in lines:
        if not line:
            break
        if line[0] in " \t":
            continue
        heads.append(line)
    known = sum(_OF_MAIL.match(line) is not None for line in heads)
    return known >= 2 and all(_HEADER.match(f"{line} ") for line in heads[:4])


def letter_of(data: bytes, came_as: str) -> Letter:
    """Take a mail apart.

    Parameters
    ----------
    data
        The mail as its program saves it (RFC 5322).
    came_as
        Its name, for the refusal.

    Raises
    ------
    MailError
        When it is larger, deeper or of more parts than a letter is, or no letter at all.
    """
    if len(data) > MOST_MAIL:
        raise MailError(
            f"{came_as} is {len(data) / 1e6:.1f} MB and a mail may have {MOST_MAIL / 1e6:.0f}: "
            "save its text and its photographs, and take those in."
        )
    if len(_PART.findall(data)) > _MOST_PARTS:
        raise MailError(
            f"{came_as} has mails within mails, more than {_MOST_PARTS}: save its text, and take "
            "that in."
        )
    if len(_DASHES.findall(data)) > _MOST_DASHES:
        raise MailError(
            f"{came_as} has more parts than a letter has: save its text, and take that in."
        )
    head = re.search(rb"\r?\n\r?\n", data)
    if (head.start() if head else len(data)) > _MOST_HEADER:
        raise MailError(
            f"{came_as} has headers of more than {_MOST_HEADER // 1000} kB, as no letter has: save "
            "its text, and take that in."
        )
    try:
        read = BytesParser(policy=policy.default).parsebytes(data)
        return _taken_apart(read, came_as)
    except (
        MessageError,
        RecursionError,
        ValueError,
        LookupError,
        AttributeError,
        TypeError,
    ) as error:
        # the library's reader fails in many ways on mail that breaks the rules
        raise MailError(
            f"{came_as} cannot be read as a mail: open it, copy its text, and take that in."
        ) from error


def _taken_apart(mail: EmailMessage, came_as: str) -> Letter:
    plain: list[str] = []
    pages: list[str] = []
    photographs: list[tuple[str, bytes]] = []
    left: list[str] = []
    for part in _parts(mail, came_as):
        kind = part.get_content_type()
        name = _name(part)
        if kind == "text/plain" or (kind == "text/html" and not part.is_attachment()):
            words = _words(part)
            if len(words) > MOST_WORDS:
                raise MailError(
                    f"{came_as} has {len(words) // 1000} kB of text and {MOST_WORDS // 1000} are "
                    "read: copy the part that matters, and take that in."
                )
            (plain if kind == "text/plain" else pages).append(words)
        elif kind in _PHOTOGRAPHS and len(photographs) < _MOST_PHOTOGRAPHS:
            content = part.get_payload(decode=True)
            if isinstance(content, bytes) and content:
                photographs.append((name or "photograph", content))
        else:
            left.append(f"{name or kind} was not taken: save it, and take it in by itself.")
    pages = [text_of_page(page) for page in pages]
    return Letter("\n\n".join((*plain, *pages)), tuple(photographs), tuple(left[:20]))


def _parts(mail: EmailMessage, came_as: str) -> Iterator[EmailMessage]:
    """The parts that hold something, those of forwarded mails too."""
    waiting = [(mail, 0)]
    seen = 0
    while waiting:
        part, depth = waiting.pop()
        seen += 1
        if depth > _DEEPEST or seen > _MOST_PARTS:
            raise MailError(
                f"{came_as} is packed deeper than a letter forwarded twice: save its text, and "
                "take that in."
            )
        if part.is_multipart():
            within = cast(list[EmailMessage], part.get_payload())
            waiting += [(one, depth + 1) for one in reversed(within)]
        else:
            yield part


def _words(part: EmailMessage) -> str:
    content = part.get_payload(decode=True)
    if not isinstance(content, bytes):
        return ""
    for charset in (part.get_content_charset() or "utf-8", "utf-8", "cp1252"):
        try:
            return content.decode(charset)
        except (LookupError, UnicodeDecodeError):
            continue
    return content.decode("latin-1")


def _name(part: EmailMessage) -> str:
    """The name of an attached file, with nothing in it that a path or a line could be bent by."""
    name = part.get_filename() or ""
    plain = re.sub(r"[^\w .()-]", "_", name.replace("\\", "/").rpartition("/")[2])
    return plain.strip(" .")[:80]


def text_of_page(page: str) -> str:
    """The words of an HTML text, each block on lines of its own.

    >>> text_of_page("<p>a&nbsp;b<br>c</p><style>x</style>").split()
    ['a', 'b', 'c']
    """
    reader = _PageReader()
    reader.feed(page)
    reader.close()
    return "".join(reader.found)


class _PageReader(HTMLParser):
    """Gathers what is seen of a page."""

    def __init__(self) -> None:
        super().__init__(convert_charrefs=True)
        self.found: list[str] = []
        self._unseen = 0
        self._as_it_stands = 0

    def handle_starttag(self, tag: str, attrs: object) -> None:  # noqa: ARG002  (its reader's)
        """Begin a line with each block."""
        self._unseen += tag in _UNSEEN
        self._as_it_stands += tag == "pre"
        if tag in _BREAKS:
            self.found.append("\n")

    def handle_endtag(self, tag: str) -> None:
        """End the line with the block."""
        self._unseen -= tag in _UNSEEN and self._unseen > 0
        self._as_it_stands -= tag == "pre" and self._as_it_stands > 0
        if tag in _BREAKS and tag != "br":
            self.found.append("\n")

    def handle_data(self, data: str) -> None:
        """Take words that are seen; a break of lines in the source is a blank."""
        if not self._unseen:
            self.found.append(data if self._as_it_stands else re.sub(r"[ \t\r\n\f]+", " ", data))

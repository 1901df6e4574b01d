"""Hours and money as people write them: `1h30`, `1:30`, `90 min`, `2,5`, `12,50`, `1.234,50`.

What is read is a decimal number to two places. A figure that could be two amounts (`1,234`) is
asked about, never guessed.
"""

import re
from decimal import ROUND_HALF_EVEN, Decimal

from ironlace.evidence.errors import IronlaceError

_PLACES = Decimal("0.01")
_MINUTES_IN_HOUR = 60
"""Of a clock."""
_SPACES = re.compile(r"(?<=\d)[ '’\u00a0\u202f](?=\d{3}\b)")
_HOURS = r"(?:h|hr|hrs|hour|hours)\.?"
_MINUTES = r"(?:m|min|mins|minute|minutes)\.?"
_CLOCK = re.compile(
    rf"(?P<hours>\d+) ?(?::|{_HOURS}) ?(?:and )?(?P<minutes>\d{{1,2}}) ?(?:{_MINUTES})?", re.I
)
_ONLY_MINUTES = re.compile(rf"(?P<minutes>\d+(?:[.,]\d+)?) ?{_MINUTES}", re.I)
_ONLY_HOURS = re.compile(rf"(?P<hours>.+?) ?(?:{_HOURS})?", re.I)
_FRACTIONS = {"¼": "25", "½": "5", "¾": "75"}
_WITH_FRACTION = re.compile(r"(?P<whole>\d*) ?(?P<part>[¼½¾]|[1-3]/[24])")


class AmountError(IronlaceError):
    """Hours or money cannot be read, or could be two amounts."""


def read_hours(text: str) -> Decimal:
    """Read hours worked, in hours to two places.

    Raises AmountError when they cannot be read.

    >>> [str(read_hours(text)) for text in ("2,5", "1h30", "1:30", "90 min", "1 1/2 h", "20 min")]
    ['2.5', '1.50', '1.50', '1.50', '1.5', '0.33']
    """
    plain = " ".join(text.split())
    if clock := _CLOCK.fullmatch(plain):
        minutes = int(clock["minutes"])
        if minutes >= _MINUTES_IN_HOUR:
            raise AmountError(f"'{plain}' has {minutes} minutes in an hour: write 59 at most.")
        return _to_places(Decimal(clock["hours"]) + Decimal(minutes) / _MINUTES_IN_HOUR)
    if only := _ONLY_MINUTES.fullmatch(plain):
        return _to_places(Decimal(only["minutes"].replace(",", ".")) / _MINUTES_IN_HOUR)
    hours = _ONLY_HOURS.fullmatch(plain)
    found = _number(hours["hours"]) if hours else None
    if found is None:
        raise AmountError(f"'{plain}' does not tell hours: write 2.5, 2,5, 1h30, 1:30 or 90 min.")
    return found


def read_money(text: str) -> Decimal:
    """Read an amount of money; its currency stands apart.

    Raises AmountError when it cannot be read, or could be two amounts.

    >>> [str(read_money(text)) for text in ("12,50", "12.50", "1 234,50", "1.234,50", "1,234.50")]
    ['12.50', '12.50', '1234.50', '1234.50', '1234.50']
    """
    plain = " ".join(text.split())
    found = _number(plain)
    if found is None:
        raise AmountError(
            f"'{plain}' is not an amount: write the figure alone, such as 12.50 or 12,50; its "
            "currency has a field of its own."
        )
    return found


def read_rate(text: str) -> Decimal:
    """Read what one of something is worth, such as the 1.1712 of a rate of exchange.

    Raises AmountError when it cannot be read, or could be two figures.

    >>> [str(read_rate(text)) for text in ("1,1712", "0.0085", "24")]
    ['1.1712', '0.0085', '24']
    """
    plain = " ".join(text.split())
    if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", plain):
        point = plain.replace(",", ".")
        whole = point.replace(".", "")
        raise AmountError(f"'{plain}' could be two figures: write {whole} or {point}0.")
    found = _number(plain)
    if found is None:
        raise AmountError(f"'{plain}' is not a rate: write the figure alone, such as 1.1712.")
    return found


def _number(text: str) -> Decimal | None:
    """A number with a point or a comma, its thousands parted or not; None when it is none."""
    if fraction := _WITH_FRACTION.fullmatch(text):
        part = fraction["part"]
        above, _, below = part.partition("/")
        share = Decimal(above) / int(below) if below else Decimal(f"0.{_FRACTIONS[part]}")
        return Decimal(fraction["whole"] or 0) + share
    plain = _SPACES.sub("", text)
    if re.fullmatch(r"[1-9]\d{0,2}[.,]\d{3}", plain):
        thousands = re.sub(r"[.,]", "", plain)
        raise AmountError(
            f"'{text}' could be two amounts: write {thousands} or {plain[:-1].replace(',', '.')}."
        )
    if re.fullmatch(r"[1-9]\d{0,2}(?:\.\d{3})+(?:,\d*)?", plain):
        plain = plain.replace(".", "").replace(",", ".")
    elif re.fullmatch(r"[1-9]\d{0,2}(?:,\d{3})+(?:\.\d*)?", plain):
        plain = plain.replace(",", "")
    plain = re.sub(r",-?\Z|\.-\Z", "", plain).replace(",", ".")
    if not re.fullmatch(r"\d+(?:\.\d*)?|\.\d+", plain):
        return None
    return Decimal(plain)


def _to_places(amount: Decimal) -> Decimal:
    return amount.quantize(_PLACES, ROUND_HALF_EVEN)

"""A drawing told on its page: the shares of its outline by grade, and how it came about."""

from dataclasses import dataclass

from ironlace.evidence.grades import Grade
from ironlace.ornament import drawing_from_svg
from ironlace.record import DrawingEntry

BAR = 1000
"""Length of the whole bar in its own units."""
LEAST_SHOWN = 0.0005
"""A smaller share would be told as 0.0 %."""


@dataclass(frozen=True, slots=True)
class Share:
    """A grade's share of an outline, and its place on the bar.

    Attributes
    ----------
    grade
        The grade.
    part
        0 to 1.
    begins, ends
        On a bar of the length `BAR`.
    """

    grade: Grade
    part: float
    begins: float
    ends: float

    @property
    def percent(self) -> str:
        """The share in words, such as ``91.6 %``."""
        return f"{100 * self.part:.1f} %"


def shares_of(svg: str) -> list[Share]:
    """The shares of a drawing's outline by grade, the firmest first; none of no length."""
    lengths = drawing_from_svg(svg).length_by_grade()
    whole = sum(lengths.values())
    shares: list[Share] = []
    at = 0.0
    for grade, length in lengths.items():
        part = length / whole if whole > 0 else 0.0
        if part >= LEAST_SHOWN:
            end = at + BAR * part
            shares.append(Share(grade, part, round(at, 2), round(end, 2)))
            at = end
    return shares


def standing_in_words(grade: Grade, shares: list[Share]) -> str:
    """The grade of a whole drawing, and why it is that one."""
    if not shares:
        return "Nothing is drawn yet."
    if len(shares) == 1:
        return f"All of its outline is {shares[0].grade.value}, and so is the drawing."
    weak = next((share for share in shares if share.grade is grade), None)
    if weak is None:
        return f"The drawing as a whole is told as {grade.value}."
    return (
        f"The drawing as a whole is told as {grade.value}: it is no firmer than its weakest part, "
        f"and {weak.percent} of its outline is {grade.value}."
    )


def origin_in_words(entry: DrawingEntry) -> str:
    """How a drawing came about, in one sentence."""
    inputs = entry.finding.inputs
    pictures = ", ".join(entry.photographs)
    if "orders" in inputs:
        return "Changed by hand from an earlier drawing, each change kept with what it stands on."
    if "edited" in inputs:
        return "Changed elsewhere and brought back: only what lies where it lay kept its evidence."
    if pictures:
        return (
            f"Traced from {pictures}: the picture laid flat by its measure, the gilt told from "
            "the japan, and the edge of the gilt followed."
        )
    return "Drawn without a photograph."

"""Dates that do not fit the others: which they are, and what follows for the date that is told."""

import math
import re
from dataclasses import dataclass

from ironlace.survey.answers.comparison import Comparison, percent
from ironlace.survey.answers.dated_evidence import (
    PROBABLY_WRONG,
    doubtful_dates,
    gain_of_running_numbers,
)
from ironlace.survey.answers.dates_by_theory import BOTH, DatesAsked, SaidByTheory
from ironlace.survey.answers.one_date import FIXES, hangs_on_few, one_of_them_is_wrong
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.reports.anchors import Anchor, anchors_of
from ironlace.survey.reports.table import DatedEvidence, Report
from ironlace.survey.schemes.library import Candidate
from ironlace.survey.schemes.scheme import Scheme


def turned_by_dates(found: Comparison, asking: DatesAsked, leads: str, weight: float) -> str:
    """That dated examples turn what the marks say; '' where they do not.

    Two kinds of evidence that contradict each other bear no date that is more than conjectured.
    """
    if not asking.further or leads in (found.best.name, *found.beside(found.best.name)):
        return ""
    if found.odds < _MARKS_DECIDE:
        return ""
    return (
        f"with the dated examples '{found.called(leads)}' leads, {percent(weight)}: marks and "
        "dates contradict each other, so look at both again."
    )


_MARKS_DECIDE = 10.0
"""Odds by the marks alone from which it is a contradiction when dates favour another theory; a
judgement: below, it is only that few marks say little."""


def dates_that_do_not_fit(
    found: Comparison, best: SaidByTheory, asking: DatesAsked
) -> tuple[Anchor, ...]:
    """Dates that do not fit the scheme that leads, those that came with reports by its odds."""
    wrong = [anchor for anchor, chance in best.doubtful if chance > PROBABLY_WRONG]
    came = {
        id_ for id_, _ in doubtful_dates(found.of(best.name).candidate, found.reports, asking.given)
    }
    wrong += [
        anchor
        for report in found.reports
        if report.id in came
        for anchor in anchors_of([report])
        if anchor not in wrong
    ]
    return tuple(dict.fromkeys(wrong))


@dataclass(frozen=True)
class Misfits:
    """Dates that do not fit the theory that leads, of how many, and what that theory says."""

    wrong: tuple[Anchor, ...]
    of: int
    given: Assumptions
    by: SaidByTheory

    @property
    def on_few(self) -> str:
        """That a date between numbers hangs on one date or two; '' where it does not."""
        if not self.by.on_a_line:
            return ""
        fixed = [anchor for anchor, _ in self.by.doubtful if anchor.kind in FIXES]
        agree = [anchor for anchor in fixed if anchor not in self.wrong]
        return hangs_on_few(agree if len(fixed) > BOTH else fixed)

    @property
    def too_many(self) -> bool:
        """Whether so many are seldom wrong by chance, at the rate that is taken for granted."""
        from scipy.special import bdtrc

        rate = self.given.wrong_date_rate
        return len(self.wrong) > 1 and bool(bdtrc(len(self.wrong) - 1, self.of, rate) < _SELDOM)

    @property
    def sentence(self) -> str:
        """Name them; '' where there is none."""
        if not self.wrong:
            return one_of_them_is_wrong(self.by.doubtful)
        if self.on_few and self.of <= BOTH:
            return "They do not rise with the numbers."
        if len(self.wrong) == 1:
            both = self.by.apart.sentence() if self.by.apart else ""
            if self.by.begun_again:
                return (
                    f"Look again at {self.wrong[0].in_words()}: it does not fit the other dates, "
                    "but lies where it would had the numbers begun again; then this date holds for "
                    f"one of two machines of that number. {both}"
                ).rstrip()
            return (
                f"Look again at {self.wrong[0].in_words()}: it does not fit the other dates and is "
                f"probably wrong, or of a machine of another series. {both}"
            ).rstrip()
        named = "; ".join(anchor.in_words() for anchor in self.wrong[:_NAMED])
        more = f"; and {len(self.wrong) - _NAMED} more" if len(self.wrong) > _NAMED else ""
        said = f"{len(self.wrong)} of {self.of} dates do not fit the others ({named}{more})"
        if self.too_many:
            return (
                f"{said}: too many to be slips, so the numbers may have begun again, or two series "
                "be among them; then this date holds for one of them alone."
            )
        return (
            f"{said}: look at each again; they are probably wrong, or of machines of another "
            "series."
        )


_SELDOM = 0.05
"""Chance of so many wrong dates or more from which the theory is doubted instead; a judgement."""


_NAMED = 3
"""Dates named in one sentence."""


_OUT_OF_STEP = -math.log(4.0)
"""Dates four times less probable along a rising line than without order are pointed out; tuned, on
what was not kept."""


def against_the_run(asking: DatesAsked) -> list[str]:
    """Say so when dates do not rise with the numbers: then no line through them can date any."""
    plain = Scheme.parse("number overall")
    if len(asking.known) < 2 or not all(_PLAIN_NUMBER.fullmatch(str(a.mark)) for a in asking.known):
        return []
    read = [Report(a.source, a.mark, dated=DatedEvidence(a.date, a.kind)) for a in asking.known]
    if gain_of_running_numbers(Candidate("", plain), read, asking.given) > _OUT_OF_STEP:
        return []
    return [
        "The dates of the dated examples do not rise with the numbers: look at those dates again, "
        "or the number does not run on."
    ]


_PLAIN_NUMBER = re.compile(r"[0-9]+")

"""Over how many months or years a total runs, where the first or the last date may be misread."""

from collections.abc import Sequence

import numpy as np

from ironlace.evidence.arrays import Ints
from ironlace.survey.answers.other_readings import HARDLY_AMISS, chance_of_another_date
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.marks_as_arrays import lay_out_reports
from ironlace.survey.likelihood.summed_unknowns import explain
from ironlace.survey.reports.table import Report
from ironlace.survey.schemes.face_value import FaceValue
from ironlace.survey.schemes.scheme import Scheme


def spans_of(values: Sequence[FaceValue], amiss: Sequence[float]) -> tuple[int, ...]:
    """How many months, weeks or years lie from the first to the last seen, both included.

    Four spans: the shortest and the likeliest, the longest that is not ruled out, and that of all
    dates as they were read; none where a series has no date.

    Parameters
    ----------
    amiss
        Chance of each date not to be the one read, shape (values,).
    """
    at = _places_in_time(values)
    if at is None:
        return ()
    chance = np.asarray(amiss)
    found = []
    for most in (HARDLY_AMISS, 0.5, 1.0 - HARDLY_AMISS, 1.0):
        kept = at[chance <= most]
        found.append(int(kept.max() - kept.min()) + 1 if len(kept) else 1)
    return tuple(found)


def _places_in_time(values: Sequence[FaceValue]) -> Ints | None:
    """The month, week or year of each, numbered on; None where one has no year, shape (values,)."""
    if not values or any(v.year is None or v.letter for v in values):
        return None
    years = np.array([v.year for v in values if v.year is not None], dtype=np.int64)
    if "W" in values[0].series:
        return np.asarray(years * 53 + np.array([v.week or 0 for v in values]))
    if "-" in values[0].series:
        return np.asarray(years * 12 + np.array([v.month or 0 for v in values]))
    return years


def dates_amiss(
    used: Sequence[tuple[Report, FaceValue]], scheme: Scheme, state: Posterior, given: Assumptions
) -> list[float]:
    """Chance of each report at either end of the time not to bear the date it shows.

    From both ends inwards, until one is hardly amiss; those between decide nothing and have 0.
    """
    amiss = [0.0] * len(used)
    at = _places_in_time([value for _, value in used])
    if at is None:
        return amiss
    order = np.argsort(at, kind="stable").tolist()
    for inwards in (order, order[::-1]):
        for i in inwards[:_MOST_AMISS]:
            amiss[i] = chance_of_another_date(used[i][0].mark, scheme, state, given)
            if amiss[i] <= HARDLY_AMISS:
                break
    return amiss


_MOST_AMISS = 40
"""So many reports at either end are looked at, some hundredths of a second each. Where all of them
are amiss those behind are taken as read, and the answer stays conjectured."""


def learned_of(reports: Sequence[Report], scheme: Scheme, given: Assumptions) -> Posterior:
    """What reports teach of a theory that a person named."""
    read = lay_out_reports(reports, given)
    some = read if read.reports <= _MOST_LEARNED_FROM else read.evenly(_MOST_LEARNED_FROM)
    _, summed = explain(some, scheme, given)
    return Posterior(summed.places, summed.weights)


_MOST_LEARNED_FROM = 2_000
"""So many reports teach enough of a theory to tell a date far from the others."""

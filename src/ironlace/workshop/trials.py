"""Trials of a record, with what their seams' findings say."""

from collections.abc import Mapping
from typing import Any

from ironlace.evidence.analyses import AskedError
from ironlace.evidence.edtf_dates import date_in_words
from ironlace.evidence.findings import Finding, Sha256, checksum_of
from ironlace.evidence.grades import Grade
from ironlace.record import FindingEntry, Record, TrialEntry
from ironlace.running.seam.balance_analysis import BALANCE, LOCK
from ironlace.running.seam.seam_analysis import (
    AWAY,
    AWAY_SPREAD,
    CV,
    MEAN,
    SEAM,
    SINGLE,
    SKIPS,
    SPREAD,
    STITCHES,
)
from ironlace.running.tension.tension_told import TENSION
from ironlace.running.trials.trials_told import TrialsOfMachine
from ironlace.running.trials.trials_weighed import SeamBrief, Trial
from ironlace.workshop.store.folder import Workshop

_EIGHTH = "tension added by an eighth of a turn"
"""Result of the tension's finding that tells what a turn of the screw does."""


def trials_of(_workshop: Workshop, record: Record, _asked: Any) -> TrialsOfMachine:
    """The trials of a record in their order, each with the seam and balance that are kept of it."""
    seams, locks = _by_picture(record)
    trials = tuple(
        Trial(
            name,
            date_in_words(entry.date) if entry.date else "",
            entry.changed,
            entry.to,
            entry.also,
            entry.eighths,
            entry.seam[0] if entry.seam else "",
            next((seams[one] for one in entry.seam if one in seams), None),
            next((locks[one] for one in entry.seam if one in locks), None),
        )
        for name, entry in record.of(TrialEntry)
    )
    return TrialsOfMachine(trials, _per_eighth(record))


def trials_checksums(record: Record) -> Mapping[str, Sha256]:
    """One checksum of all that the trials and their findings say: any of them changes it."""
    said = [
        [name, entry.model_dump(mode="json", exclude={"note", "came"})]
        for name, entry in record.of(TrialEntry)
    ]
    about = {SEAM.about, BALANCE.about, TENSION.about}
    found = [
        [name, entry.finding.fingerprint()]
        for name, entry in record.of(FindingEntry)
        if entry.finding.about in about
    ]
    return {"the trials and their seams": checksum_of([said, found])}


def _by_picture(
    record: Record,
) -> tuple[dict[str, SeamBrief], dict[str, tuple[float, float, float]]]:
    """By picture: the seam that is kept of it, and the lock of a balance it has a part in."""
    seams: dict[str, SeamBrief] = {}
    locks: dict[str, tuple[float, float, float]] = {}
    for _, entry in record.of(FindingEntry):
        finding = entry.finding
        try:
            if finding.about == SEAM.about and (brief := _brief(finding)) is not None:
                seams[SEAM.asked_of(finding).photograph] = brief
            elif finding.about == BALANCE.about and (lock := _lock(finding)) is not None:
                asked = BALANCE.asked_of(finding)
                locks[asked.upper] = locks[asked.under] = lock
        except AskedError:
            continue  # kept by another version that asked for something else
    return seams, locks


def _brief(finding: Finding) -> SeamBrief | None:
    """What a kept seam brings to the log; None where it had too few sure stitches."""
    told = {result.name: result.value for result in finding.results}
    numbers = {name: float(value) for name, value in told.items() if isinstance(value, int | float)}
    if not {SINGLE, MEAN, SPREAD, AWAY, AWAY_SPREAD, CV} <= numbers.keys():
        return None
    return SeamBrief(
        int(numbers[SINGLE]),
        numbers[MEAN],
        numbers[SPREAD],
        numbers[AWAY],
        numbers[AWAY_SPREAD],
        numbers[CV],
        int(numbers[STITCHES]),
        int(numbers[SKIPS]),
        finding.grade is Grade.MEASURED,
    )


def _lock(finding: Finding) -> tuple[float, float, float] | None:
    told = next((one for one in finding.results if one.name == LOCK), None)
    if told is None or told.interval is None:
        return None
    ends = told.interval.low, told.value, told.interval.high
    low, value, high = (float(one) if isinstance(one, int | float) else None for one in ends)
    return None if low is None or value is None or high is None else (low, value, high)


def _per_eighth(record: Record) -> float | None:
    """What an eighth of a turn adds by the latest finding of the tension, gf."""
    for _, entry in reversed(list(record.of(FindingEntry))):
        if entry.finding.about != TENSION.about:
            continue
        for result in entry.finding.results:
            if result.name == _EIGHTH and isinstance(result.value, float):
                return result.value
    return None

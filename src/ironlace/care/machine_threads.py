"""Several screws of one machine judged together: a maker kept few taps.

Each screw by itself says how likely its readings are under each family of threads. How often a
family was used at that machine is unknown; its shares have a Dirichlet prior that favours few
families (Polya's urn: what was met once is met again the likelier). The sums over all ways to share
the screws out are exact, by going forward and backward over the counts.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Annotated, Any, Final

import numpy as np

from ironlace.care.errors import CareError
from ironlace.care.thread_forms import FAMILIES, LikelyForm, ThreadReadings, name_thread
from ironlace.evidence import usual_figures
from ironlace.evidence.analyses import Analysis, Ask, Nothing
from ironlace.evidence.answers import Answer, Table
from ironlace.evidence.arrays import Floats
from ironlace.evidence.findings import Result
from ironlace.evidence.grades import Grade
from ironlace.evidence.progress import Steps
from ironlace.evidence.word_tables import WordTableError, rows_of_words
from ironlace.evidence.wording import counted

COLUMNS: Final = (
    *("screw", "pitch_mm", "pitch_sd_mm", "diameter_mm", "diameter_sd_mm"),
    *("angle_deg", "angle_sd_deg"),
)
"""Of the table of screws; `screw`, `pitch_mm` and `diameter_mm` must be filled in."""
MOST_SCREWS: Final = 20
"""Judged together: more than anybody measures of one head, and its sums stay small."""
_FEW_TAPS: Final = 0.5
"""Of the Dirichlet prior, each family: below one it favours few families (a judgement)."""
_PITCH_SHARE: Final = 0.005
"""One standard deviation of a pitch for which none was stated, as a share (a judgement)."""
_DIAMETER_SD_MM: Final = 0.02
"""The same of a diameter by caliper (a judgement)."""
_ANGLE_SD_DEG: Final = 3.0
"""The same of an angle by gauge (a judgement)."""
_SURE: Final = 0.9
"""A chance below which a screw's family is conjecture (a judgement)."""


@dataclass(frozen=True)
class MachineThreadsAsked:
    """What is asked for the screws of one machine."""

    screws: Annotated[
        str,
        Ask(
            "Screws of this machine",
            "A line each under the headings screw, pitch_mm, pitch_sd_mm, diameter_mm, "
            "diameter_sd_mm, angle_deg, angle_sd_deg; what was not read stays empty.",
            long=True,
            table=True,
            example="screw,pitch_mm,pitch_sd_mm,diameter_mm,diameter_sd_mm,angle_deg,angle_sd_deg\n"
            "needle plate,0.7945,0.002,4.72,0.02,56,3\npresser foot,1.061,0.003,4.70,0.02,,\n"
            "face plate,0.633,0.002,3.93,0.02,54,3",
            usual_cells=usual_figures.SCREWS_MM,
        ),
    ]


@dataclass(frozen=True)
class ScrewTogether:
    """A screw by itself and beside the others: the chances of its families, its forms."""

    name: str
    alone: dict[str, float]
    together: dict[str, float]
    forms: tuple[LikelyForm, ...]

    @property
    def family(self) -> str:
        """The likeliest beside the others."""
        return max(self.together, key=lambda one: self.together[one])


@dataclass(frozen=True)
class MachineThreads:
    """All screws of a machine; `used` is how many of them are expected of each family."""

    asked: MachineThreadsAsked
    screws: tuple[ScrewTogether, ...]
    used: dict[str, float]


def machine_threads(_inputs: Nothing, asked: MachineThreadsAsked, _steps: Steps) -> MachineThreads:
    """Judge the screws together.

    Raises
    ------
    CareError
        When the table cannot be read, or has fewer than two screws or more than 20.
    """
    read = _screws(asked.screws)
    named = [name_thread(readings) for _, readings in read]
    alone = np.array([[one.families[family] for family in FAMILIES] for one in named])
    together = judged_together(alone)
    screws = []
    for (name, _), one, before, after in zip(read, named, alone, together, strict=True):
        gain = dict(zip(FAMILIES, after / np.maximum(before, 1e-12), strict=True))
        forms = sorted(
            (LikelyForm(f.form, f.probability * gain[f.form.family]) for f in one.forms),
            key=lambda f: -f.probability,
        )
        screws.append(ScrewTogether(name, dict(one.families), _by_family(after), tuple(forms)))
    return MachineThreads(asked, tuple(screws), _by_family(together.sum(axis=0)))


def _by_family(shares: Floats) -> dict[str, float]:
    return {family: float(one) for family, one in zip(FAMILIES, shares, strict=True)}


def judged_together(alone: Floats, few: float = _FEW_TAPS) -> Floats:
    """The chances of each screw's families, given all others.

    Parameters
    ----------
    alone
        How likely each screw's readings are under each family, up to a factor, shape (n, 5).
    few
        Of the Dirichlet prior: the smaller, the fewer families a maker is held to have used.

    Returns
    -------
    ndarray
        Shape (n, 5), each row summing to 1.

    Examples
    --------
    A screw that might be either is what its neighbours are:

    >>> told = [[0.5, 0.5, 0, 0, 0], [0.99, 0.01, 0, 0, 0], [0.99, 0.01, 0, 0, 0]]
    >>> bool(judged_together(np.array(told))[0, 0] > 0.75)
    True
    """
    count, families = alone.shape
    side = (count + 1,) * (families - 1)
    counted_ = np.indices(side).astype(float)  # counts of all families but the last
    seen = counted_.sum(axis=0)

    def urn(n: int, family: int) -> Floats:
        """Weight of drawing a family after n draws, by the counts so far; 0 where impossible."""
        had = counted_[family] if family < families - 1 else n - seen
        return np.where((had >= 0) & (seen <= n), np.maximum(had, 0.0) + few, 0.0)

    ahead = [np.zeros(side)]
    ahead[0][(0,) * (families - 1)] = 1.0
    for n, row in enumerate(alone):
        after = np.zeros(side)
        for family, likely in enumerate(row):
            after += _drawn(ahead[-1] * urn(n, family) * likely, family)
        ahead.append(after / after.sum())
    behind = np.ones(side)
    found = np.empty(alone.shape)
    for n in range(count - 1, -1, -1):
        before = np.zeros(side)
        for family, likely in enumerate(alone[n]):
            share = urn(n, family) * likely * _drawn(behind, family, back=True)
            found[n, family] = float((ahead[n] * share).sum())
            before += share
        behind = before / before.max()
    told: Floats = found / found.sum(axis=1, keepdims=True)
    return told


def _drawn(weights: Floats, family: int, *, back: bool = False) -> Floats:
    """Weights moved by one along the counts of a family; the last family's stay in place."""
    if family == weights.ndim:
        return weights
    moved = np.zeros_like(weights)
    into: list[Any] = [slice(None)] * weights.ndim
    out: list[Any] = [slice(None)] * weights.ndim
    into[family], out[family] = slice(1, None), slice(None, -1)
    if back:
        into, out = out, into
    moved[tuple(into)] = weights[tuple(out)]
    return moved


def _screws(table: str) -> list[tuple[str, ThreadReadings]]:
    try:
        rows = rows_of_words(
            table, COLUMNS, ("screw", "pitch_mm", "diameter_mm"), ("screw", "screws")
        )
    except WordTableError as error:
        raise CareError(str(error)) from error
    if not 2 <= len(rows) <= MOST_SCREWS:
        raise CareError(
            f"The table has {counted(len(rows), 'screw')}: give 2 to {MOST_SCREWS} of one machine."
        )
    found = []
    for number, row in enumerate(rows, 1):
        name = row.get("screw", "") or f"screw {number}"
        pitch, diameter = (_figure(name, row, key) for key in ("pitch_mm", "diameter_mm"))
        if pitch is None or diameter is None:
            raise CareError(f"'{name[:40]}' needs both pitch_mm and diameter_mm: measure it.")
        readings = ThreadReadings(
            pitch,
            _figure(name, row, "pitch_sd_mm") or _PITCH_SHARE * pitch,
            diameter,
            _figure(name, row, "diameter_sd_mm") or _DIAMETER_SD_MM,
            _figure(name, row, "angle_deg"),
            _figure(name, row, "angle_sd_deg") or _ANGLE_SD_DEG,
        )
        found.append((name, readings))
    return found


def _figure(name: str, row: dict[str, str], column: str) -> float | None:
    words = row.get(column, "")
    if not words:
        return None
    try:
        value = float(words.replace(",", "."))
    except ValueError:
        value = float("nan")
    if not 0.0 < value < 1000.0:
        raise CareError(f"'{name[:40]}' has '{words[:30]}' under {column}: give a number over 0.")
    return value


def machine_threads_answer(found: MachineThreads) -> Answer:
    """Tell which families the maker used, and which screws look otherwise beside the others."""
    ranked = sorted(found.used.items(), key=lambda one: -one[1])
    first, count = ranked[0]
    sure = [one for one in found.screws if one.together[one.family] >= _SURE]
    grade = Grade.INFERRED if len(sure) == len(found.screws) else Grade.CONJECTURED
    said = [
        f"Of {len(found.screws)} screws about {count:.0f} are {_told(first)}"
        + (f", about {ranked[1][1]:.0f} {_told(ranked[1][0])}." if ranked[1][1] >= 0.5 else "."),
        f"{counted(len(sure), 'screw')} of {len(found.screws)} can be told with 90 % or more; the "
        "others want an angle, or more threads.",
    ]
    changed = [
        one
        for one in found.screws
        if max(one.alone, key=lambda f, a=one.alone: a[f]) != one.family  # type: ignore[misc]
    ]
    said += [
        f"'{one.name[:40]}' by itself looks {_told(max(one.alone, key=lambda f: one.alone[f]))}; "
        f"beside the others it is {_told(one.family)}."
        for one in changed
    ]
    rows = tuple(
        (
            one.name,
            _told(one.family),
            f"{100 * one.together[one.family]:.0f} %",
            f"{100 * one.alone[one.family]:.0f} %",
            one.forms[0].form.size if one.family != "none" else "",
        )
        for one in found.screws
    )
    heads = ("Screw", "Family", "Chance", "By itself", "Likeliest form")
    results = (
        Result(name="family of most screws", value=_told(first), grade=grade),
        *(Result(name=one.name, value=_told(one.family), grade=grade) for one in found.screws),
    )
    figures = {
        "used": found.used,
        "screws": [
            {"screw": one.name, "families": one.together, "alone": one.alone}
            for one in found.screws
        ],
    }
    return Answer(
        results, tuple(said), figures, (Table("Screws of one machine, together", heads, rows),)
    )


def _told(family: str) -> str:
    return "a maker's own" if family == "none" else family


def rows_of_screws(screws: Sequence[tuple[str, ThreadReadings]]) -> list[dict[str, str]]:
    """The rows of the table for screws that were read one by one."""
    found = []
    for name, read in screws:
        row = {
            "screw": name,
            "pitch_mm": f"{read.pitch_mm:.5g}",
            "pitch_sd_mm": f"{read.pitch_sd_mm:.3g}",
            "diameter_mm": f"{read.major_mm:.5g}",
            "diameter_sd_mm": f"{read.major_sd_mm:.3g}",
        }
        if read.angle_deg is not None:
            row |= {
                "angle_deg": f"{read.angle_deg:.4g}",
                "angle_sd_deg": f"{read.angle_sd_deg:.3g}",
            }
        found.append(row)
    return found


MACHINE_THREADS = Analysis(
    key="machine-threads",
    about="threads of one machine",
    question="Which threads did the maker use?",
    section="care",
    inputs=Nothing,
    asked=MachineThreadsAsked,
    work=machine_threads,
    answer=machine_threads_answer,
    method="ironlace.care: screws of one machine under shares of families that favour few",
    published="Polya's urn; ISO 261, ASME B1.1, BS 84, BS 93 in secondary tables",
)

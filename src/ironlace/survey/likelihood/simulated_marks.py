"""Marks as a scheme would have them struck, worn and reported: for planning and for trials."""

from dataclasses import dataclass, replace

import numpy as np

from ironlace.evidence.arrays import Floats
from ironlace.evidence.markings import Marking, parse_marking
from ironlace.survey.likelihood.assumptions import Assumptions
from ironlace.survey.likelihood.dated_counts import (
    LATE,
    LATE_STARTS,
    LimitWithTrend,
    TrackedCount,
)
from ironlace.survey.likelihood.field_tables import (
    LETTERS,
    MONTHS,
    WEEKS,
    LettersInUse,
    LimitOfCount,
    Neighbourhood,
    Unknown,
    YearsOfMaking,
)
from ironlace.survey.likelihood.further_marks import Posterior
from ironlace.survey.likelihood.mark_cuts import IDLE_KINDS, IDLE_RATES, cut
from ironlace.survey.likelihood.marks_as_arrays import lay_out
from ironlace.survey.likelihood.order_of_numbers import HOW_OFTEN, OUT_OF_LINE
from ironlace.survey.likelihood.reading_errors import CHARACTERS, STRAY_KINDS, confusion
from ironlace.survey.likelihood.running_numbers import (
    at_levels,
    ladder,
    levels,
    near_weights,
    series_weights,
)
from ironlace.survey.likelihood.within_year import WEIGHTS
from ironlace.survey.schemes.scheme import Field, FieldKind, Scheme, Separator

Place = tuple[int, float]
"""An option and a value of one unknown."""


def unknowns_of(scheme: Scheme, assumptions: Assumptions) -> tuple[Unknown, ...]:
    """The unknowns of a scheme, in the order in which posteriors hold them."""
    longest = "".join(_longest(part) for part in scheme.parts)
    cuts = cut(lay_out([parse_marking(longest)], assumptions), scheme, assumptions)
    return cuts.unknowns


def _longest(part: Field | Separator) -> str:
    """Some text that the part can certainly cover."""
    if isinstance(part, Separator):
        return part.glyph
    if part.kind is FieldKind.LETTER:
        return (part.text or LETTERS)[0]
    if part.kind is FieldKind.CONSTANT:
        return part.text
    if part.as_dots:
        return "·" * 5
    if part.kind in (FieldKind.MONTH, FieldKind.WEEK, FieldKind.YEAR):
        return "A" if part.as_letter else "5".rjust(part.figures or 1, "1")
    return "5".rjust(part.figures or 1, "0")


def draw_unknowns(
    scheme: Scheme,
    assumptions: Assumptions,
    rng: np.random.Generator,
    posterior: Posterior | None = None,
) -> tuple[Place, ...]:
    """Draw a value of everything unknown: from a posterior, or from the prior without one.

    A scheme that none of the reports could have come from has learned nothing: its posterior is
    the prior.
    """
    if posterior is not None and posterior.places:
        cell = int(rng.choice(len(posterior.weights), p=posterior.weights))
        return tuple((int(places[cell, 0]), float(places[cell, 1])) for places in posterior.places)
    return tuple(_from_prior(unknown, rng) for unknown in unknowns_of(scheme, assumptions))


def _from_prior(unknown: Unknown, rng: np.random.Generator) -> Place:
    """A value of one unknown drawn from its prior, a step of a fine grid wide."""
    option = int(rng.choice(len(unknown.option_weights), p=unknown.option_weights))
    steps = np.linspace(unknown.low, unknown.high, _STEPS + 1)
    chances = unknown.prior((steps[:-1] + steps[1:]) / 2.0, option)
    step = int(rng.choice(_STEPS, p=chances / chances.sum()))
    return option, float(rng.uniform(steps[step], steps[step + 1]))


_STEPS = 400
"""Steps of a range from which a value is drawn: each far narrower than any prior."""


def draw_marks(
    scheme: Scheme,
    places: tuple[Place, ...],
    count: int,
    assumptions: Assumptions,
    rng: np.random.Generator,
    *,
    junk: bool = True,
) -> list[Marking]:
    """Draw reports of so many machines numbered by a scheme.

    Parameters
    ----------
    places
        A value for each unknown, from `draw_unknowns`.
    junk
        Whether now and then a report has nothing to do with the scheme.
    """
    unknowns = unknowns_of(scheme, assumptions)
    matrix = confusion(assumptions)
    idle = places[-1][0] if scheme.dots_without_meaning else None
    found: list[Marking] = []
    while len(found) < count:
        odd = [junk and rng.random() < assumptions.junk_rate for _ in range(count - len(found))]
        struck = [_one(scheme, unknowns, places, assumptions, rng) for o in odd if not o]
        _in_order(unknowns, places, struck, assumptions, rng)
        turn = iter(struck)
        for is_odd in odd:
            if is_odd:
                text = _junk(rng)
            else:
                one = next(turn)
                _keep_parity(scheme, one)
                texts = [
                    text if "·" in text else _misread(text, matrix, assumptions, rng)
                    for text in one.texts
                ]
                text = _with_separators(scheme, texts, idle, assumptions, rng)
            if any(c.isalnum() for c in text):
                found.append(parse_marking(text))
    return found


@dataclass
class _Struck:
    """One machine: the text of each field, its date, and its number where that must rise."""

    texts: list[str]
    date: dict[FieldKind, float]
    tracked: int = -1
    number: int = 0


def _one(
    scheme: Scheme,
    unknowns: tuple[Unknown, ...],
    places: tuple[Place, ...],
    assumptions: Assumptions,
    rng: np.random.Generator,
) -> _Struck:
    found = _Struck([""] * len(scheme.fields), {})
    at = 0
    late: list[tuple[int, TrackedCount | LimitWithTrend, Place]] = []
    for f, part in enumerate(scheme.fields):
        if part.kind in (FieldKind.MONTH, FieldKind.WEEK):
            top = MONTHS if part.kind is FieldKind.MONTH else WEEKS
            value = int(rng.integers(1, top + 1))
            found.date[part.kind] = (value - 0.5) / top
            struck = LETTERS[value - 1] if part.as_letter else f"{value:0{part.figures or 1}d}"
            found.texts[f] = "·" * value if part.as_dots else struck
        elif part.kind is FieldKind.CONSTANT:
            found.texts[f] = part.text
        else:
            unknown, place = unknowns[at], places[at]
            at += 1
            if isinstance(unknown, TrackedCount | LimitWithTrend):
                late.append((f, unknown, place))
            else:
                found.texts[f] = _text(part, unknown, place, assumptions, found.date, rng)
    for f, tracked, place in late:
        found.tracked = f
        found.number = _tracked(tracked, place, found.date, assumptions, rng)
        found.texts[f] = f"{found.number:0{tracked.part.figures or 1}d}"
    return found


def _in_order(
    unknowns: tuple[Unknown, ...],
    places: tuple[Place, ...],
    struck: list[_Struck],
    assumptions: Assumptions,
    rng: np.random.Generator,
) -> None:
    """Put numbers that must rise in the order of their dates, but for a few out of line."""
    for unknown, place in zip(unknowns, places, strict=True):
        if not isinstance(unknown, TrackedCount):
            continue
        yearly = unknown.within_year is not None
        if not yearly and place[0] != unknown.in_order:
            continue
        rate = float(rng.choice(OUT_OF_LINE, p=HOW_OFTEN))
        series: dict[float, list[_Struck]] = {}
        for one in struck:
            if rng.random() >= rate:
                year = one.date.get(FieldKind.YEAR, 0.0)
                series.setdefault(year if yearly else 0.0, []).append(one)
        for members in series.values():
            # equal dates leave the order open
            members.sort(key=lambda one: (*_when(one.date), rng.random()))
            numbers = [one.number for one in members]
            if yearly:
                numbers = _drawn_in_order(unknown, place, members, assumptions, rng)
            else:
                numbers.sort()
            for one, number in zip(members, numbers, strict=True):
                one.texts[one.tracked] = f"{number:0{unknown.part.figures or 1}d}"


_TRIES = 400
"""Drawings until numbers near a line come in order; seldom more than a few are needed."""


def _drawn_in_order(
    tracked: TrackedCount,
    place: Place,
    members: list[_Struck],
    assumptions: Assumptions,
    rng: np.random.Generator,
) -> list[int]:
    """Numbers of one year, drawn again until they rise from month to month."""
    numbers = [one.number for one in members]
    when = [_when(one.date) for one in members]
    for _ in range(_TRIES):
        rises = all(
            numbers[j] <= numbers[i]
            for i in range(len(numbers))
            for j in range(i)
            if when[j] < when[i]
        )
        if rises:
            return numbers
        numbers = [_tracked(tracked, place, one.date, assumptions, rng) for one in members]
    return sorted(numbers)


def _keep_parity(scheme: Scheme, struck: _Struck) -> None:
    """Take the next number up where odd or even is the rule and this one is not."""
    letter = next((f for f, p in enumerate(scheme.fields) if p.kind is FieldKind.LETTER), None)
    for f, part in enumerate(scheme.fields):
        if not part.parity:
            continue
        odd = part.parity == "odd"
        if part.parity.startswith("odd for") and letter is not None:
            odd = struck.texts[letter] == part.parity[-1]
        number = int(struck.texts[f])
        if number % 2 != odd:
            struck.texts[f] = f"{number + 1:0{part.figures or 1}d}"


def _when(date: dict[FieldKind, float]) -> tuple[float, float]:
    within = date.get(FieldKind.MONTH, date.get(FieldKind.WEEK, 0.5))
    return date.get(FieldKind.YEAR, 0.0), within


def _text(
    part: Field,
    unknown: Unknown,
    place: Place,
    assumptions: Assumptions,
    date: dict[FieldKind, float],
    rng: np.random.Generator,
) -> str:
    option, value = place
    node = np.array([value])
    if isinstance(unknown, YearsOfMaking):
        year = int(rng.choice(unknown.values, p=unknown.year_chances(node, option)[:, 0]))
        date[FieldKind.YEAR] = year
        if part.start is None:
            return f"{year:04d}"[-(part.figures or 2) :]
        step = year - part.start + 1
        return LETTERS[(step - 1) % len(LETTERS)] if part.as_letter else str(step)
    if isinstance(unknown, LettersInUse):
        return str(rng.choice(list(part.text or LETTERS), p=unknown.chances(option)))
    highest = assumptions.highest_number
    if isinstance(unknown, LimitOfCount):
        number = _in_series(value, unknown.spread, highest, rng)
    elif isinstance(unknown, Neighbourhood):
        number = _near(value, unknown.spreads[option], highest, rng)
    else:
        raise TypeError(f"{type(unknown).__name__} stands for no field that can be drawn.")
    number += (part.start or 1) - 1 if part.kind is FieldKind.NUMBER else 0
    return f"{number:0{part.figures or 1}d}"


def _near(level: float, spread: float, highest: int, rng: np.random.Generator) -> int:
    rungs = ladder(highest)
    width = np.diff(np.concatenate([[0], rungs]))
    weights = at_levels(near_weights(highest, spread), spread, np.array([level]))[:, 0] * width
    cell = int(rng.choice(len(rungs), p=weights / weights.sum()))
    return int(rungs[cell] - rng.integers(0, width[cell]))


def _tracked(
    tracked: TrackedCount | LimitWithTrend,
    place: Place,
    date: dict[FieldKind, float],
    assumptions: Assumptions,
    rng: np.random.Generator,
) -> int:
    option, level = place
    start = (tracked.part.start or 1) - 1
    year, within = _when(date)
    year -= (assumptions.first_year + assumptions.last_year) / 2.0
    if isinstance(tracked, LimitWithTrend):
        level += tracked.growth(option) * year
        return start + _in_series(level, tracked.spread, assumptions.highest_number, rng)
    if option == tracked.in_order:
        spread = tracked.series_spread
        return start + _in_series(level, spread, assumptions.highest_number, rng)
    growth, spread = tracked.habit(option)
    if tracked.within_year is not None:
        if rng.random() < LATE:
            part_of_year = float(np.log(within * rng.choice(LATE_STARTS)))
        else:
            part_of_year = float(rng.choice(tracked.places(option, within), p=WEIGHTS))
        centre = level + growth * year + part_of_year
    else:
        centre = level + growth * (year + within)
    lattice = levels(spread)
    centre = float(np.clip(centre, lattice[0], lattice[-1]))
    return start + _near(centre, spread, assumptions.highest_number, rng)


def _in_series(level: float, spread: float, highest: int, rng: np.random.Generator) -> int:
    """A number from a series that goes up to about e to the `level`."""
    rungs = ladder(highest)
    weights = at_levels(series_weights(highest, spread), spread, np.array([level]))[:, 0] * rungs
    rung = int(rng.choice(rungs, p=weights / weights.sum()))
    return int(rng.integers(1, rung + 1))


def _misread(text: str, matrix: Floats, assumptions: Assumptions, rng: np.random.Generator) -> str:
    pairs = len(text) - 1
    if pairs > 0 and rng.random() < min(assumptions.transposed_rate * pairs, 0.5):
        left = int(rng.integers(pairs))
        text = text[:left] + text[left + 1] + text[left] + text[left + 2 :]
    read = []
    for c in text:
        chances = matrix[CHARACTERS.index(c)][:-1]
        read.append(CHARACTERS[int(rng.choice(len(chances), p=chances / chances.sum()))])
    return "".join(read)


def _with_separators(
    scheme: Scheme,
    texts: list[str],
    idle: int | None,
    assumptions: Assumptions,
    rng: np.random.Generator,
) -> str:
    kinds = list(STRAY_KINDS)
    chances = np.array(list(STRAY_KINDS.values()))
    idle_kinds, idle_chances = list(IDLE_KINDS), np.array(list(IDLE_KINDS.values()))
    body = "".join(texts)
    ends = np.cumsum([0, *(len(t) for t in texts)])
    meant = dict(zip(ends.tolist(), scheme.gaps, strict=True))
    out = []
    for place in range(len(body) + 1):
        gap = list(meant.get(place, ()))
        inside = 0 < place < len(body)
        if not gap and idle is not None and inside:
            if idle < len(IDLE_RATES):
                if rng.random() < IDLE_RATES[idle]:
                    out.append(str(rng.choice(idle_kinds, p=idle_chances / idle_chances.sum())))
                out.append(body[place : place + 1])
                continue
            if (len(body) - place) % 3 == 0:
                gap = [Separator("dot")]
        if gap:
            for separator in gap:
                struck = not separator.sometimes or rng.random() < 0.5
                if not struck or rng.random() < assumptions.worn_rate:
                    continue
                glyph = separator.glyph
                if rng.random() < assumptions.changed_rate:
                    other = np.where(np.array(kinds) == glyph, 0.0, chances)
                    glyph = str(rng.choice(kinds, p=other / other.sum()))
                out.append(glyph)
        elif rng.random() < assumptions.stray_rate:
            out.append(str(rng.choice(kinds, p=chances / chances.sum())))
        out.append(body[place : place + 1])
    return "".join(out).strip()


def _junk(rng: np.random.Generator) -> str:
    groups = [_junk_group(rng)]
    while rng.random() < 0.55 and len(groups) < 6:
        groups.append(_junk_group(rng))
    separators = ["·", " ", "°", "-", "/"]
    joined = groups[0]
    for group in groups[1:]:
        joined += str(rng.choice(separators, p=[0.53, 0.21, 0.105, 0.105, 0.05])) + group
    return joined


def _junk_group(rng: np.random.Generator) -> str:
    count = int(rng.geometric(0.32))
    figures = rng.random(count) < 0.905
    return "".join(
        str(rng.integers(0, 10)) if figure else str(rng.choice(list(LETTERS))) for figure in figures
    )


def read_worse(
    marks: list[Marking], before: Assumptions, after: Assumptions, rng: np.random.Generator
) -> list[Marking]:
    """Marks as they would come had they been read, or passed on, with less care.

    Each is what came before with more slips on top, so that it cannot tell more than that did.

    Parameters
    ----------
    before, after
        Rates with which the marks were drawn, and higher ones that they are to have.
    """

    def more(name: str) -> float:
        low, high = float(getattr(before, name)), float(getattr(after, name))
        return max((high - low) / (1.0 - low), 0.0)

    misread = confusion(replace(after, misread_rate=max(more("misread_rate"), 1e-9)))
    kinds, chances = list(STRAY_KINDS), np.array(list(STRAY_KINDS.values()))
    found: list[Marking] = []
    for mark in marks:
        out: list[str] = []
        if rng.random() < more("junk_rate"):
            out = list(_junk(rng))
        else:
            parted = True
            for glyph in mark.glyphs:
                text = str(glyph)
                if glyph.is_separator:
                    if rng.random() >= more("worn_rate"):
                        out.append(text)
                    parted = True
                    continue
                if not parted and rng.random() < more("stray_rate"):
                    out.append(str(rng.choice(kinds, p=chances / chances.sum())))
                out.append(_misread(text, misread, after, rng) if text in CHARACTERS else text)
                parted = False
        text = "".join(out).strip()
        found.append(parse_marking(text) if any(c.isalnum() for c in text) else mark)
    return found

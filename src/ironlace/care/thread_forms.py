"""Which standard a thread is cut to, if any: from its pitch, its diameter and its flank angle.

The five families (metric, unified, Whitworth, BA, none of these) have equal shares beforehand
unless said otherwise. Each standard form says what pitch, angle and diameter it would have: the
pitch as measured, the angle with heavy tails (a wrong angle must not outvote a sure pitch), the
diameter below the nominal one by the allowance and tolerance of cut threads and by wear. A maker's
own thread may have any pitch about as coarse as is usual for its diameter, and any angle that was
cut; but his lathe's lead screw had whole threads to the inch, or a whole pitch in mm, and so most
often had his taps: that a pitch is a whole number to the inch therefore says little for a standard.
"""

import math
import tomllib
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import cache
from importlib.resources import files
from typing import Final

from ironlace.care.errors import CareError

FAMILIES: Final = ("metric", "unified", "Whitworth", "BA", "none")
INCH_MM: Final = 25.4
"""Exactly."""
_TAIL: Final = 4.0
"""Degrees of freedom of the angle's likelihood (Student's t): heavy tails."""
_ANGLE_ASTRAY: Final = 0.01
"""Share of angles that are read wrongly altogether: a flank in shade, a burr (judged)."""
_ANGLES_DEG: Final = 40.0
"""Over how many degrees such a one may lie."""
_PITCH_TAIL: Final = 6.0
"""The same for the pitch: an error of five standard deviations is rare and not impossible."""
_CUT_PITCH: Final = 4e-4
"""Share by which a cut thread's own pitch lies off its nominal one: lead screws, wear (judged)."""
_CUT_ANGLE_DEG: Final = 0.7
"""The same for its angle."""
_WORN_SHARE: Final = 0.06
"""Of the pitch, by which worn crests make a thread thinner: one standard deviation (judged)."""
_ROUND_MM: Final = 0.01
"""What a caliper's jaws and the crests' rounding leave in doubt (judged)."""
_STRAY: Final = 0.004
"""Share of threads that are thinner than any tolerance or wear (judged)."""
_USUAL_SPREAD: Final = 0.28
"""Spread of the logarithm of pitches about what is usual for a diameter (standard forms)."""
_OWN_LOW_MM, _OWN_HIGH_MM = 0.7, 8.5
"""Diameters over which a maker's own threads lie evenly: those of the list."""
_OWN_WHOLE_INCH: Final = 0.5
"""Share of makers' own threads with whole threads to the inch (common practice, no source; what
another share would change is told in decision 0056)."""
_OWN_WHOLE_MM: Final = 0.07
"""The same with a pitch of whole twentieths of a millimetre."""
_STEP_MM: Final = 0.05
"""A twentieth of a millimetre."""
_REACH: Final = 8.0
"""Standard deviations about a reading within which pitches are looked for."""
_LISTED_FORMS: Final = 12
"""Forms told, likeliest first."""
_LIKELY: Final = 0.02
"""A probability below which a form is not spoken of (a judgement)."""
_FLOOR_OWN: Final = 2e-4
"""What stays for a maker's own form that happens to lie on a standard one."""


@dataclass(frozen=True, slots=True)
class ThreadForm:
    """A standard form: nominal diameter and pitch in mm, angle between the flanks in degrees."""

    family: str
    size: str
    major_mm: float
    pitch_mm: float
    angle_deg: float


@dataclass(frozen=True, slots=True)
class ThreadReadings:
    """What was read of a thread, each with one standard deviation; the angle may be missing."""

    pitch_mm: float
    pitch_sd_mm: float
    major_mm: float
    major_sd_mm: float
    angle_deg: float | None = None
    angle_sd_deg: float = 2.0


@dataclass(frozen=True, slots=True)
class LikelyForm:
    """A form with its probability, of all that is possible (a maker's own among it)."""

    form: ThreadForm
    probability: float


@dataclass(frozen=True, slots=True)
class ThreadNamed:
    """Families with their probabilities, forms likeliest first, and what would tell the two."""

    families: dict[str, float]
    forms: tuple[LikelyForm, ...]
    tell_apart: str


@cache
def thread_forms() -> tuple[ThreadForm, ...]:
    """The standard forms of the open list `thread_forms.toml`."""
    text = files("ironlace.care").joinpath("thread_forms.toml").read_text("utf-8")
    found = []
    for family in tomllib.loads(text)["family"]:
        inch = family["unit"] == "inch"
        for size, major, pitch in family["forms"]:
            major_mm = INCH_MM * major if inch else float(major)
            pitch_mm = INCH_MM / pitch if inch else float(pitch)
            angle = float(family["angle_deg"])
            found.append(ThreadForm(family["name"], size, major_mm, pitch_mm, angle))
    return tuple(found)


def name_thread(readings: ThreadReadings, shares: Mapping[str, float] | None = None) -> ThreadNamed:
    """Probabilities of the families and of the forms.

    Parameters
    ----------
    readings
        Pitch, diameter over the thread, and angle if one was read.
    shares
        Shares of the families beforehand, by name; equal if left out.

    Raises
    ------
    CareError
        When a reading cannot be.
    """
    _check(readings)
    before = _shares(shares)
    forms = thread_forms()
    count = {family: sum(one.family == family for one in forms) for family in FAMILIES}
    weights = [before[one.family] / count[one.family] * _of_form(readings, one) for one in forms]
    own = before["none"] * (
        _of_own(readings) + _FLOOR_OWN * max(_of_form(readings, f) for f in forms)
    )
    total = sum(weights) + own
    if not total > 0:
        weights, own, total = [0.0] * len(forms), 1.0, 1.0
    families = dict.fromkeys(FAMILIES, 0.0)
    for one, weight in zip(forms, weights, strict=True):
        families[one.family] += weight / total
    families["none"] = own / total
    ranked = sorted(
        (LikelyForm(one, weight / total) for one, weight in zip(forms, weights, strict=True)),
        key=lambda one: -one.probability,
    )[:_LISTED_FORMS]
    return ThreadNamed(families, tuple(ranked), _tell_apart(ranked, families["none"]))


def _check(read: ThreadReadings) -> None:
    if not 0.05 <= read.pitch_mm <= 10 or not read.pitch_sd_mm > 0:
        raise CareError(f"A pitch of {read.pitch_mm:g} mm cannot be: check it, and its unit.")
    if not 0.3 <= read.major_mm <= 60 or not read.major_sd_mm > 0:
        raise CareError(
            f"A diameter of {read.major_mm:g} mm cannot be: measure it over the thread, in mm."
        )
    if read.pitch_mm > 0.6 * read.major_mm:
        raise CareError(
            f"A pitch of {read.pitch_mm:g} mm on a diameter of {read.major_mm:g} mm cannot be: the "
            "two may be changed round, or one is in inches."
        )


def _shares(shares: Mapping[str, float] | None) -> dict[str, float]:
    told = dict.fromkeys(FAMILIES, 1.0) if shares is None else dict(shares)
    strange = set(told) - set(FAMILIES)
    if strange or sum(told.values()) <= 0 or min(told.values()) < 0:
        raise CareError(
            f"The shares of the families cannot be used: give numbers for {', '.join(FAMILIES)}."
        )
    total = sum(told.values())
    return {family: told.get(family, 0.0) / total for family in FAMILIES}


def _student(off: float, scale: float, tail: float) -> float:
    """Density of Student's t of a spread."""
    norm = math.gamma((tail + 1) / 2) / math.gamma(tail / 2) / math.sqrt(tail * math.pi) / scale
    return float(norm * (1 + (off / scale) ** 2 / tail) ** (-(tail + 1) / 2))


def _of_form(read: ThreadReadings, form: ThreadForm) -> float:
    pitch_sd = math.hypot(read.pitch_sd_mm, _CUT_PITCH * form.pitch_mm)
    found = _student(read.pitch_mm - form.pitch_mm, pitch_sd, _PITCH_TAIL)
    found *= _of_diameter(read, form.major_mm, form.pitch_mm)
    return found * _of_angle(read, form.angle_deg)


def _of_angle(read: ThreadReadings, angle: float) -> float:
    if read.angle_deg is None:
        return 1.0
    sd = math.hypot(read.angle_sd_deg, _CUT_ANGLE_DEG)
    found = _student(read.angle_deg - angle, 0.9 * sd, _TAIL)
    return (1.0 - _ANGLE_ASTRAY) * found + _ANGLE_ASTRAY / _ANGLES_DEG


def _of_diameter(read: ThreadReadings, nominal: float, pitch: float) -> float:
    """Density of a caliper reading over a thread of a nominal diameter.

    The cut diameter lies evenly from the nominal one down to the allowance (15 + 11 p µm) and
    tolerance (180 p^(2/3) - 3.15/sqrt(p) µm) of ISO 965-1, 6g. Wear of its crests goes on below, a
    half of a normal distribution: a crest that lost more than an eighth of its depth is rare.
    """
    low = (15 + 11 * pitch + 180 * pitch ** (2 / 3) - 3.15 / math.sqrt(pitch)) / 1000.0
    below, sd = nominal - read.major_mm, math.hypot(read.major_sd_mm, _ROUND_MM)
    worn = _WORN_SHARE * pitch + _ROUND_MM
    even = _normal((low - below) / sd) - _normal((0.0 - below) / sd)
    # the half-normal of spread `worn` beyond, blurred by the caliper
    wide = math.hypot(worn, sd)
    gone = below - low
    tail = math.exp(-0.5 * (gone / wide) ** 2) * (worn / wide) * _normal(gone * worn / (wide * sd))
    whole = low + worn * math.sqrt(math.pi / 2)
    # heavily worn down, once in some hundred; never thicker than the caliper's error allows
    stray = _STRAY * math.exp(-max(below, 0.0) / (0.04 * nominal)) / (0.04 * nominal)
    found = (1.0 - _STRAY) * (max(even, 0.0) + tail) / whole
    return float(found + (stray if below > -3 * sd else 0.0))


def _normal(x: float) -> float:
    return 0.5 * math.erfc(-x / math.sqrt(2.0))


def usual_pitch_mm(major_mm: float) -> float:
    """The pitch that is usual for a diameter, over the standard forms.

    >>> round(usual_pitch_mm(3.0), 2)
    0.52
    """
    return float(0.213 * major_mm**0.82)


def _of_own(read: ThreadReadings) -> float:
    """Density of the readings if the thread is a maker's own."""
    if not _OWN_LOW_MM <= read.major_mm <= _OWN_HIGH_MM:
        diameter = 0.02
    else:
        diameter = 1.0 / (_OWN_HIGH_MM - _OWN_LOW_MM)
    pitch = _of_own_pitch(read)
    if read.angle_deg is None:
        return diameter * pitch
    cut = (
        (60.0, 0.3),
        (55.0, 0.2),
        (50.0, 0.15),
        (47.5, 0.1),
        (53.0, 0.1),
        (65.0, 0.05),
        (45.0, 0.1),
    )
    angle = sum(share * _of_angle(read, one) for one, share in cut)
    return diameter * pitch * angle


def _of_own_pitch(read: ThreadReadings) -> float:
    """Density of a pitch, 1/mm, of a maker's own thread: whole to the inch, in mm, or any."""
    usual = math.log(usual_pitch_mm(read.major_mm))

    def coarse(pitch: float) -> float:
        """Density of the logarithm of a pitch about what is usual."""
        off = (math.log(pitch) - usual) / _USUAL_SPREAD
        return math.exp(-0.5 * off * off) / (_USUAL_SPREAD * math.sqrt(2 * math.pi))

    def near(pitch: float) -> float:
        sd = math.hypot(read.pitch_sd_mm, _CUT_PITCH * pitch)
        return _student(read.pitch_mm - pitch, sd, _PITCH_TAIL)

    low = max(read.pitch_mm - _REACH * read.pitch_sd_mm, 0.5 * read.pitch_mm)
    high = read.pitch_mm + _REACH * read.pitch_sd_mm
    # neighbours lie a share of 1/n apart, so that each has that much of the whole
    inch = sum(
        coarse(INCH_MM / n) / n * near(INCH_MM / n)
        for n in range(max(1, math.floor(INCH_MM / high)), math.ceil(INCH_MM / low) + 1)
    )
    metric = sum(
        coarse(n * _STEP_MM) / n * near(n * _STEP_MM)
        for n in range(max(1, math.floor(low / _STEP_MM)), math.ceil(high / _STEP_MM) + 1)
    )
    free = 1.0 - _OWN_WHOLE_INCH - _OWN_WHOLE_MM
    anywhere = coarse(read.pitch_mm) / read.pitch_mm
    return _OWN_WHOLE_INCH * inch + _OWN_WHOLE_MM * metric + free * anywhere


def _tell_apart(ranked: Sequence[LikelyForm], own: float) -> str:
    """What would tell the likeliest from the next, in a sentence."""
    first, second = ranked[0], ranked[1]
    if own > 0.5 and own > first.probability:
        return (
            f"None of the standards listed here fits; the nearest, {_named(first.form)}, would "
            f"have a pitch of {first.form.pitch_mm:.4g} mm and {first.form.major_mm:.4g} mm over "
            "the thread: try its gauge, and look at the machine's other screws."
        )
    if second.probability < _LIKELY and own < _LIKELY:
        return f"Nothing else comes near {_named(first.form)}."
    if own > second.probability:
        return (
            f"{_named(first.form)}, or a maker's own thread of nearly the same pitch: a second "
            "screw of the same size from this machine, or a longer thread, would tell."
        )
    return f"{_named(first.form)} or {_named(second.form)}: {difference(first.form, second.form)}."


def difference(one: ThreadForm, other: ThreadForm) -> str:
    """What to measure to tell two forms apart.

    >>> a, b = (f for f in thread_forms() if f.size in ("1/4-20", "1/4 - 20"))
    >>> difference(a, b)
    'same pitch and diameter; measure the angle: 60 or 55 degrees'
    """
    angle = f"measure the angle: {one.angle_deg:g} or {other.angle_deg:g} degrees"
    apart = abs(one.pitch_mm / other.pitch_mm - 1)
    wide = abs(one.major_mm - other.major_mm)
    if apart < 5e-4 and wide < 0.02:
        if one.angle_deg == other.angle_deg:
            return "the same pitch, diameter and angle: either fits"
        return f"same pitch and diameter; {angle}"
    if apart < 0.004:
        told = f"pitches {100 * apart:.1f} % apart; "
        if wide >= 0.1:
            return f"{told}measure the diameter: {one.major_mm:.3g} or {other.major_mm:.3g} mm"
        return told + (
            angle if one.angle_deg != other.angle_deg else "count the threads over 20 mm"
        )
    return (
        f"measure the pitch over as many threads as there are: {one.pitch_mm:.4g} or "
        f"{other.pitch_mm:.4g} mm"
    )


def _named(form: ThreadForm) -> str:
    return form.size if form.family in ("metric", "BA") else f"{form.size} {form.family}"

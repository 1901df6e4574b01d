"""Cautions, shown at the step where the harm could be done.

They are general warnings. They defer to local law and codes, to the product's own safety data
sheet, and to licensed or qualified people.
"""

from dataclasses import dataclass
from enum import StrEnum


class Hazard(StrEnum):
    """Something in a treatment that can hurt someone."""

    OLD_FINISH = "old finish"
    SOLVENTS = "solvents and varnish"
    SPRAYING = "spraying"
    TWO_PART = "two-part finish"
    BRONZE_POWDER = "bronze powder"
    LASER = "laser cutting"
    MAGNETS = "strong magnets"
    ACIDS = "rust remover or acid"
    ELECTROLYSIS = "electrolysis"
    OILY_RAGS = "drying-oil rags"
    HEATING = "heating or baking"
    RUNNING = "running parts"
    WIRING = "old motor or wiring"
    LIFTING = "lifting"


@dataclass(frozen=True, slots=True)
class Caution:
    """What to say of a hazard, and how well the saying is founded."""

    hazard: Hazard
    says: str
    founded_on: str


_MEMORY = "from memory"
_CAUTIONS = {
    Hazard.OLD_FINISH: (
        "Old paint, size and primer may hold lead: test, or assume it. Do not dry-sand or burn "
        "off. Work wet and contained, no food near, wash after; keep children and pregnant people "
        "away. Follow local lead rules.",
        "public health guidance on lead paint, read in summaries",
    ),
    Hazard.SOLVENTS: (
        "Vapours burn and are harmful to breathe: ventilate, no flame or spark, wear gloves, read "
        "the product's safety data sheet.",
        _MEMORY,
    ),
    Hazard.SPRAYING: (
        "Mist hangs in the air after spraying stops: keep others out, wear what the product's "
        "safety data sheet asks for, follow local booth and fire rules.",
        "workplace authority's pages on spraying",
    ),
    Hazard.TWO_PART: (
        "Two-part and isocyanate finishes can cause lasting asthma, and filtering masks are not "
        "enough for spraying them. Choose another finish, or give the work to a licensed sprayer.",
        "workplace authority's pages on isocyanates",
    ),
    Hazard.BRONZE_POWDER: (
        "Fine metal dust: do not breathe it, keep flames away; loose powder can burn.",
        _MEMORY,
    ),
    Hazard.LASER: (
        "Never laser PVC or an unknown vinyl: it gives off hydrogen chloride. Cut it with a knife. "
        "Never leave a running laser alone.",
        "several workshop pages that agree",
    ),
    Hazard.MAGNETS: (
        "Strong magnets pinch and shatter. Keep them from pacemakers and other implants, cards and "
        "children; a swallowed magnet is an emergency.",
        _MEMORY,
    ),
    Hazard.ACIDS: (
        "Goggles, gloves, ventilation. Add acid to water, never the reverse; never mix with "
        "bleach. Acid dissolves sound iron as well.",
        _MEMORY,
    ),
    Hazard.ELECTROLYSIS: (
        "Makes hydrogen: outdoors or well ventilated, no sparks, switch off before touching, low "
        "voltage from an isolated supply. Plain steel anodes only, no stainless. Not for plated, "
        "japanned or historic surfaces without a conservator.",
        "precautionary: sources disagree on stainless anodes",
    ),
    Hazard.OILY_RAGS: (
        "Rags with linseed or tung oil heat themselves and can catch fire: lay them flat outdoors "
        "to dry, or keep them under water in a closed metal can; follow local disposal rules.",
        "several safety pages that agree",
    ),
    Hazard.HEATING: (
        "Fume and fire; never in an oven used for food. Heat cracks castings. Never restove an "
        "original finish.",
        _MEMORY,
    ),
    Hazard.RUNNING: (
        "Belt, wheel, needle and take-up catch hands, hair and cords. Stop and take the belt off "
        "before adjusting; turn by hand, in the sewing direction only.",
        "common practice, no source",
    ),
    Hazard.WIRING: (
        "Perished insulation, no earth, possibly asbestos in pads and cords: do not power it. A "
        "licensed electrician and local asbestos rules come first.",
        _MEMORY,
    ),
    Hazard.LIFTING: (
        "A head commonly weighs 8 to 16 kg, a stand more: two people; lift by the bed, not by the "
        "arm or the wheel.",
        _MEMORY,
    ),
}


def caution_for(hazard: Hazard) -> Caution:
    """Return the caution for a hazard.

    >>> caution_for(Hazard.LASER).says.startswith("Never laser PVC")
    True
    """
    says, founded_on = _CAUTIONS[hazard]
    return Caution(hazard, says, founded_on)

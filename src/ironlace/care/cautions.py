"""Cautions, shown at the step where the harm could be done.

They are general warnings. They defer to local law and codes, to the product's own safety data
sheet, and to licensed or qualified people. Each names a published rule or standard that says as
much, or else calls itself a general caution.
"""

import re
from collections.abc import Iterable, Sequence
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
    """What to say of a hazard, and what that rests on."""

    hazard: Hazard
    says: str
    founded_on: str


GENERAL = "general caution"
"""What a caution rests on that no one published text is named for."""

DEFER = "Product data sheets, local codes and licensed practice come first."
"""What stands after every caution."""

_DATA_SHEET = "the product’s safety data sheet, sections"
_CAUTIONS = {
    Hazard.OLD_FINISH: (
        "Old paint, size and primer may hold lead: test, or assume it. Do not dry-sand or burn "
        "off. Work wet and contained, no food near, wash after; keep children and pregnant people "
        "away. Follow local lead rules.",
        "rules on lead in paint, such as 40 CFR part 745 (United States) and L132, Control of "
        "lead at work (United Kingdom)",
    ),
    Hazard.SOLVENTS: (
        "Vapours burn and are harmful to breathe: ventilate, no flame or spark, wear gloves, read "
        "the product’s safety data sheet.",
        f"{_DATA_SHEET} 2, 5, 7 and 8",
    ),
    Hazard.SPRAYING: (
        "Mist hangs in the air after spraying stops: keep others out, wear what the product’s "
        "safety data sheet asks for, follow local booth and fire rules.",
        f"rules on spraying, such as 29 CFR 1910.107 (United States); {_DATA_SHEET} 7 and 8",
    ),
    Hazard.TWO_PART: (
        "Two-part and isocyanate finishes can cause lasting asthma, and filtering masks are not "
        "enough for spraying them. Choose another finish, or give the work to a licensed sprayer.",
        "NIOSH publication 96-111, Preventing asthma and death from diisocyanate exposure (1996)",
    ),
    Hazard.BRONZE_POWDER: (
        "Fine metal dust: do not breathe it, keep flames away; loose powder can burn.",
        f"{_DATA_SHEET} 2, 5, 7 and 8",
    ),
    Hazard.LASER: (
        "Never laser PVC or an unknown vinyl: it gives off hydrogen chloride. Cut it with a knife. "
        "Never leave a running laser alone.",
        GENERAL,
    ),
    Hazard.MAGNETS: (
        "Strong magnets pinch and shatter. Keep them from pacemakers and other implants, cards and "
        "children; a swallowed magnet is an emergency.",
        GENERAL,
    ),
    Hazard.ACIDS: (
        "Goggles, gloves, ventilation. Add acid to water, never the reverse; never mix with "
        "bleach. Acid dissolves sound iron as well.",
        f"{_DATA_SHEET} 2, 7, 8 and 10",
    ),
    Hazard.ELECTROLYSIS: (
        "Makes hydrogen: outdoors or well ventilated, no sparks, switch off before touching, low "
        "voltage from an isolated supply. Plain steel anodes only, no stainless. Not for plated, "
        "japanned or historic surfaces without a conservator.",
        f"{GENERAL}; on stainless anodes opinions differ, and this keeps to the safe side",
    ),
    Hazard.OILY_RAGS: (
        "Rags with linseed or tung oil heat themselves and can catch fire: lay them flat outdoors "
        "to dry, or keep them under water in a closed metal can; follow local disposal rules.",
        f"fire services’ guidance on rags with drying oils; {_DATA_SHEET} 5, 7 and 13",
    ),
    Hazard.HEATING: (
        "Fume and fire; never in an oven used for food. Heat cracks castings. Never restove an "
        "original finish.",
        GENERAL,
    ),
    Hazard.RUNNING: (
        "Belt, wheel, needle and take-up catch hands, hair and cords. Stop and take the belt off "
        "before adjusting; turn by hand, in the sewing direction only.",
        GENERAL,
    ),
    Hazard.WIRING: (
        "Perished insulation, no earth, possibly asbestos in pads and cords: do not power it. A "
        "licensed electrician and local asbestos rules come first.",
        "rules on asbestos, such as the Control of Asbestos Regulations 2012 (United Kingdom), and "
        "national wiring rules",
    ),
    Hazard.LIFTING: (
        "A head commonly weighs 8 to 16 kg, a stand more: two people; lift by the bed, not by the "
        "arm or the wheel.",
        "rules on lifting by hand, such as the Manual Handling Operations Regulations 1992 "
        "(United Kingdom)",
    ),
}

_DRYING = re.compile(
    r"linseed|flaxseed|tung|walnut oil|poppy(?:seed)? oil|safflower oil|stand oil|boiled oil|"
    r"drying oil|danish oil|teak oil|gold size|oil size|oil varnish|spar varnish|alkyd|"
    r"oil paint|oil-based",
    re.IGNORECASE,
)
"""What heats itself in a rag: oils that dry by taking up oxygen, and paints and sizes of them."""

_OIL = re.compile(r"\boils?\b", re.IGNORECASE)
_NOT_DRYING = re.compile(
    r"(?:mineral|machine|penetrating|clock|watch|spindle|turbine|paraffin|white|baby|lubricating|"
    r"instrument|silicone)\s+oil",
    re.IGNORECASE,
)
_SOLVENT = re.compile(
    r"white spirit|mineral spirits?|turpentine|acetone|naphtha|petroleum spirit|benzine|xylene|"
    r"toluene|shellac|varnish|lacquer|thinners?\b|alcohol|methylated spirits?|ethanol|isopropanol",
    re.IGNORECASE,
)


def called_for(hazards: Iterable[Hazard], materials: Sequence[str]) -> tuple[Hazard, ...]:
    """The hazards of a step: those named for it, set right by the materials it names.

    Drying-oil rags fall away when every oil among the materials is one that does not dry, such as
    a mineral oil, and no material is left that might; where a material is a drying oil or a
    solvent, its caution is there although nobody named it. Materials in words that are not known
    here change nothing.

    >>> [str(h) for h in called_for([Hazard.OILY_RAGS], ["light mineral oil", "cotton"])]
    []
    >>> [str(h) for h in called_for([Hazard.OILY_RAGS], ["oil"])]
    ['drying-oil rags']
    >>> [str(h) for h in called_for([], ["boiled linseed oil, white spirit"])]
    ['solvents and varnish', 'drying-oil rags']
    """
    named = dict.fromkeys(hazards)
    told = "\n".join(materials)
    if _SOLVENT.search(told):
        named.setdefault(Hazard.SOLVENTS)
    if _DRYING.search(told):
        named.setdefault(Hazard.OILY_RAGS)
    elif _OIL.search(told) and not _OIL.search(_NOT_DRYING.sub("", told)):
        named.pop(Hazard.OILY_RAGS, None)
    return tuple(named)


def caution_for(hazard: Hazard) -> Caution:
    """Return the caution for a hazard.

    >>> caution_for(Hazard.LASER).says.startswith("Never laser PVC")
    True
    """
    says, founded_on = _CAUTIONS[hazard]
    return Caution(hazard, says, founded_on)

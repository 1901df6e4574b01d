"""Cautions, shown at the step where the harm could be done.

They are general warnings. They defer to local law and codes, to the product's own safety data
sheet, and to licensed or qualified people. Each names a published rule or standard that says as
much, or else calls itself a general caution. They stand in the open list `cautions.toml`.
"""

import re
import tomllib
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import StrEnum
from functools import cache
from importlib.resources import files
from typing import Any


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

    @property
    def short(self) -> str:
        """The name for scripts, such as ``oil_rags``.

        >>> Hazard.OLD_FINISH.short
        'lead'
        """
        return _SHORT[self]


_SHORT: dict[Hazard, str] = dict(
    zip(
        Hazard,
        [
            "lead",
            "solvents",
            "spraying",
            "two_part",
            "metal_powder",
            "laser_pvc",
            "magnets",
            "acids",
            "electrolysis",
            "oil_rags",
            "heating",
            "moving",
            "wiring",
            "lifting",
        ],
        strict=True,
    )
)


@dataclass(frozen=True, slots=True)
class Sentence:
    """One sentence of a caution, what it rests on, and how well that is known."""

    says: str
    source: str
    grade: str


@dataclass(frozen=True, slots=True)
class Caution:
    """What to say of a hazard, and what that rests on."""

    hazard: Hazard
    says: str
    founded_on: str
    sentences: tuple[Sentence, ...] = ()


GENERAL = "general caution"
"""What a caution rests on that no one published text is named for."""

DEFER = "Product data sheets, local codes and licensed practice come first."
"""What stands after every caution."""


@cache
def open_list() -> dict[str, Any]:  # dict: the file as it stands; `step_words` reads its cues
    """The open list of cautions, `cautions.toml` beside this file, as it stands."""
    return tomllib.loads(files("ironlace.care").joinpath("cautions.toml").read_text("utf-8"))


@cache
def _cautions() -> dict[Hazard, Caution]:
    """What is said of each hazard, by hazard."""
    found = {}
    for told in open_list()["caution"]:
        sentences = tuple(
            Sentence(one["says"], one["source"], one["grade"]) for one in told["sentence"]
        )
        hazard = Hazard(told["hazard"])
        says = " ".join(one.says for one in sentences)
        found[hazard] = Caution(hazard, says, told["founded_on"], sentences)
    return found


@cache
def _of_processes() -> dict[str, str]:
    """What is said of a hazard by the name that a cutting process gives it."""
    listed = open_list()
    named = (one for one in (*listed["caution"], *listed["cutting"]) if "process" in one)
    return {
        one["process"]: " ".join(sentence["says"] for sentence in one["sentence"]) for one in named
    }


def process_cautions(names: Iterable[str]) -> list[str]:
    """What is said of the hazards that a cutting process names, and that it is not the last word.

    Spraying calls for what is said of two-part finishes too; a hazard that the list does not know
    is named as it stands.

    >>> process_cautions(["sharp edges", "something new"])[:2]
    ['Leave etching to a bureau; etched foil has edges that cut: gloves.', 'something new']
    """
    told = list(names)
    said = [_of_processes().get(name, name) for name in told]
    if "spraying" in told:
        said.append(caution_for(Hazard.TWO_PART).says)
    return [*dict.fromkeys(said), DEFER]


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
    return _cautions()[hazard]

"""The process: what a material and a cutter can do, as a small TOML file with a source per value.

A value is written as ``{ value = 0.8, source = "common practice, no source" }``. A restorer who has
cut a test card writes ``source = "own test card"`` beside the number that came of it.
"""

from __future__ import annotations

import dataclasses
import math
import re
import tomllib
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

from ironlace.ornament.stencils.errors import ProcessError

COMMON: Final = "common practice, no source"
OWN_CARD: Final = "own test card"

KINDS: Final = ("cut film", "metal foil", "mesh", "card")
CUTTERS: Final = ("knife", "laser", "etching", "light", "hand")
ALL_AT_ONCE: Final = ("etching", "light")
"""These follow no path, so that what a path would take is no time of theirs."""


@dataclass(frozen=True)
class ValueRule:
    """Where a value stands in the file, its range, unit and meaning."""

    section: str
    least: float
    most: float
    unit: str
    meaning: str


VALUE_RULES: Final[Mapping[str, ValueRule]] = {
    "thickness_mm": ValueRule("material", 0.01, 5.0, "mm", "thickness of the sheet"),
    "modulus_gpa": ValueRule("material", 0.1, 300.0, "GPa", "Young's modulus of the sheet"),
    "density_kg_m3": ValueRule("material", 100.0, 20000.0, "kg/m3", "density of the sheet"),
    "kerf_mm": ValueRule("cut", 0.0, 2.0, "mm", "width the cut itself takes away"),
    "least_web_mm": ValueRule("cut", 0.02, 20.0, "mm", "narrowest strip left standing"),
    "least_opening_mm": ValueRule(
        "cut", 0.02, 20.0, "mm", "narrowest opening that comes out clean"
    ),
    "least_radius_mm": ValueRule("cut", 0.0, 10.0, "mm", "tightest inside corner"),
    "longest_tongue_mm": ValueRule("cut", 0.1, 500.0, "mm", "longest tongue held at one end"),
    "bed_width_mm": ValueRule("cut", 10.0, 10000.0, "mm", "width the cutter or page takes"),
    "bed_height_mm": ValueRule("cut", 10.0, 10000.0, "mm", "height the cutter or page takes"),
    "bridge_width_mm": ValueRule("hold", 0.02, 20.0, "mm", "width of a bridge"),
    "one_bridge_up_to_mm": ValueRule("hold", 0.0, 1000.0, "mm", "island held by one bridge"),
    "two_bridges_up_to_mm": ValueRule("hold", 0.0, 1000.0, "mm", "island held by two bridges"),
    "anchor_spread": ValueRule(
        "hold", 0.0, 0.9, "share of the island's extent", "how far apart two bridges must stand"
    ),
    "least_island_mm2": ValueRule("hold", 0.0, 100.0, "mm2", "smaller islands are painted back"),
    "droop_mm": ValueRule("hold", 0.001, 10.0, "mm", "sag at which a tongue or web is told of"),
    "dab_n": ValueRule("hold", 0.0, 50.0, "N", "force of brush or sponge at one place"),
    "margin_mm": ValueRule("laying", 2.0, 300.0, "mm", "sheet left around the ornament"),
    "registration_mm": ValueRule("laying", 0.0, 3.0, "mm", "how well one sheet follows another"),
    "overlap_mm": ValueRule(
        "laying", 0.0, 5.0, "mm", "how far one sheet's opening runs past another's bridge"
    ),
    "paint_spread_mm": ValueRule("laying", 0.0, 2.0, "mm", "creep of paint under the edge"),
    "cut_mm_s": ValueRule("times", 0.01, 2000.0, "mm/s", "speed of cutting"),
    "travel_mm_s": ValueRule("times", 0.01, 5000.0, "mm/s", "speed between cuts"),
    "start_s": ValueRule("times", 0.0, 600.0, "s", "time to begin a cut"),
    "touch_in_s": ValueRule("times", 0.0, 3600.0, "s", "time to touch in one bridge"),
    "touch_in_s_mm": ValueRule("times", 0.0, 600.0, "s/mm", "and more for every mm of its length"),
    "mesh_per_cm": ValueRule("mesh", 5.0, 400.0, "threads/cm", "threads per cm; mesh only"),
}
"""Every value of a process file."""

_PVC: Final = re.compile(r"\bpvc\b|vinyl")
_NOT_PVC: Final = re.compile(r"\bnever\b|\bnot?\b|\bwithout\b|\bfree\b|\binstead\b")

_OPTIONAL: Final = {"mesh_per_cm": math.nan}


@dataclass(frozen=True)
class Process:
    """What a material and a cutter can do.

    The fields after ``cautions`` are those of `VALUE_RULES`; ``sources`` says where each comes
    from.
    """

    name: str
    kind: str
    cutter: str
    holds_islands: bool
    material: str
    cautions: tuple[str, ...]
    thickness_mm: float
    modulus_gpa: float
    density_kg_m3: float
    kerf_mm: float
    least_web_mm: float
    least_opening_mm: float
    least_radius_mm: float
    longest_tongue_mm: float
    bed_width_mm: float
    bed_height_mm: float
    bridge_width_mm: float
    one_bridge_up_to_mm: float
    two_bridges_up_to_mm: float
    anchor_spread: float
    least_island_mm2: float
    droop_mm: float
    dab_n: float
    margin_mm: float
    registration_mm: float
    overlap_mm: float
    paint_spread_mm: float
    cut_mm_s: float
    travel_mm_s: float
    start_s: float
    touch_in_s: float
    touch_in_s_mm: float
    mesh_per_cm: float = math.nan
    sources: Mapping[str, str] = field(default_factory=dict)

    def __post_init__(self) -> None:
        for key, rule in VALUE_RULES.items():
            value = getattr(self, key)
            if key in _OPTIONAL and math.isnan(value):
                continue
            if not rule.least <= value <= rule.most:
                raise ProcessError(
                    f"The process says {key} = {value:g} {rule.unit}: "
                    f"{rule.least:g} to {rule.most:g} is needed."
                )
        if self.bridge_width_mm < self.least_web_mm:
            raise ProcessError(
                f"Bridges of {self.bridge_width_mm:g} mm are narrower than the least web of "
                f"{self.least_web_mm:g} mm: make bridge_width_mm at least as much."
            )
        if self.two_bridges_up_to_mm < self.one_bridge_up_to_mm:
            raise ProcessError(
                "two_bridges_up_to_mm is less than one_bridge_up_to_mm: larger islands need more "
                "bridges, so give it at least the same value."
            )

    def bridges_wanted(self, extent_mm: float) -> int:
        """How many bridges an island of this longest extent needs."""
        if extent_mm <= self.one_bridge_up_to_mm:
            return 1
        return 2 if extent_mm <= self.two_bridges_up_to_mm else 3

    @property
    def lasers_pvc(self) -> bool:
        """Whether its words say that PVC or vinyl is cut by laser, which gives off acid gas.

        What a material is said not to be ("never PVC", "PVC-free") is no such thing.
        """
        if self.cutter != "laser":
            return False
        clauses = re.split(r"[;,.()]", f"{self.name}; {self.material}".lower())
        return any(_PVC.search(c) and not _NOT_PVC.search(c) for c in clauses)

    @property
    def least_line_mm(self) -> float:
        """Least line of the process: a mesh cannot show less than two of its threads' pitch.

        Two openings across the finest line: common practice, no source.
        """
        if math.isnan(self.mesh_per_cm):
            return self.least_opening_mm
        return max(self.least_opening_mm, 2.0 * 10.0 / self.mesh_per_cm)

    def with_values(self, values: Mapping[str, float], source: str) -> Process:
        """The same process with some values from another source."""
        unknown = set(values) - set(VALUE_RULES)
        if unknown:
            raise ProcessError(f"A process has no value named {sorted(unknown)[0]}.")
        changed: dict[str, Any] = dict(values)
        return dataclasses.replace(
            self, **changed, sources={**self.sources, **dict.fromkeys(values, source)}
        )


def read_process(text: str) -> Process:
    """Read a process file.

    Raises
    ------
    ProcessError
        If the text is not TOML, or a value is missing, unknown or out of range.
    """
    try:
        given = tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        raise ProcessError(f"The process file is not TOML ({error}): mend that line.") from error
    head = given.pop("process", None)
    if not isinstance(head, dict):
        raise ProcessError("The process file has no [process] table: begin with one.")
    words = {k: head.pop(k, None) for k in ("name", "kind", "cutter", "material")}
    for key, value in words.items():
        if not isinstance(value, str) or not value.strip():
            raise ProcessError(f'The [process] table has no {key}: write {key} = "...".')
    if words["kind"] not in KINDS:
        raise ProcessError(f"The kind {words['kind']!r} is not known: give {_either(KINDS)}.")
    if words["cutter"] not in CUTTERS:
        raise ProcessError(f"The cutter {words['cutter']!r} is not known: give {_either(CUTTERS)}.")
    holds = head.pop("holds_islands", False)
    if not isinstance(holds, bool):
        raise ProcessError("holds_islands is true (a mesh carries islands) or false.")
    cautions = head.pop("cautions", [])
    if not isinstance(cautions, list) or not all(isinstance(c, str) for c in cautions):
        raise ProcessError('cautions is a list of names of hazards, such as ["solvents"].')
    if head:
        raise ProcessError(f"The [process] table has an unknown key {sorted(head)[0]!r}.")
    values, sources = _values(given)
    return Process(
        name=str(words["name"]),
        kind=str(words["kind"]),
        cutter=str(words["cutter"]),
        material=str(words["material"]),
        holds_islands=holds,
        cautions=tuple(dict.fromkeys([*cautions, *_due(words["cutter"], words["kind"])])),
        sources=sources,
        **values,
    )


_OF_A_CUTTER: Final[Mapping[str, tuple[str, ...]]] = {
    "knife": ("sharp blades",),
    "hand": ("sharp blades",),
    "laser": ("laser and PVC", "laser fire and fume"),
    "etching": ("acids",),
    "light": ("ultraviolet light",),
}
"""The harm that a way of cutting can do, whatever a file lists (common practice, no source)."""
_OF_A_KIND: Final[Mapping[str, tuple[str, ...]]] = {"metal foil": ("sharp edges",)}
"""The harm that a material can do (common practice, no source)."""


def _due(cutter: str, kind: str) -> tuple[str, ...]:
    """Cautions that follow from cutter and material: no list of one's own takes them away.

    >>> _due("laser", "cut film")
    ('laser and PVC', 'laser fire and fume', 'solvents')
    """
    return (*_OF_A_CUTTER.get(cutter, ()), *_OF_A_KIND.get(kind, ()), "solvents")


def _values(given: dict[str, Any]) -> tuple[dict[str, float], dict[str, str]]:
    values: dict[str, float] = dict(_OPTIONAL)
    sources: dict[str, str] = {}
    for section, table in given.items():
        if not isinstance(table, dict):
            raise ProcessError(f"{section!r} stands outside the tables of the process file.")
        for key, told in table.items():
            rule = VALUE_RULES.get(key)
            if rule is None or rule.section != section:
                where = f"; it belongs under [{rule.section}]" if rule else ""
                raise ProcessError(f"[{section}] has an unknown value {key!r}{where}.")
            value, source = (
                (told.get("value"), told.get("source")) if isinstance(told, dict) else (told, None)
            )
            if isinstance(value, bool) or not isinstance(value, int | float):
                raise ProcessError(
                    f"{key} is {told!r}: write {key} = {{ value = 1.0, source = "
                    f'"{OWN_CARD}" }}, in {rule.unit}.'
                )
            values[key] = float(value)
            sources[key] = str(source) if source else "not stated"
    missing = [k for k in VALUE_RULES if k not in values]
    if missing:
        rule = VALUE_RULES[missing[0]]
        raise ProcessError(
            f"The process file has no {missing[0]} ({rule.meaning}, {rule.unit}): add it under "
            f"[{rule.section}]."
        )
    return values, sources


def process_toml(process: Process) -> str:
    """A process as the text of its file; `read_process` reads it back."""
    lines = [
        "[process]",
        f"name = {_quoted(process.name)}",
        f"kind = {_quoted(process.kind)}",
        f"cutter = {_quoted(process.cutter)}",
        f"material = {_quoted(process.material)}",
        f"holds_islands = {'true' if process.holds_islands else 'false'}",
        f"cautions = [{', '.join(_quoted(c) for c in process.cautions)}]",
    ]
    section = ""
    for key, rule in VALUE_RULES.items():
        value = getattr(process, key)
        if math.isnan(value):
            continue
        if rule.section != section:
            section = rule.section
            lines += ["", f"[{section}]"]
        source = _quoted(process.sources.get(key, "not stated"))
        lines.append(
            f"{key} = {{ value = {value!r}, source = {source} }}  # {rule.unit}: {rule.meaning}"
        )
    return "\n".join(lines) + "\n"


def _quoted(text: str) -> str:
    escaped = text.replace("\\", "\\\\").replace('"', '\\"')
    return '"' + "".join(c if c.isprintable() else f"\\u{ord(c):04x}" for c in escaped) + '"'


def _either(words: tuple[str, ...]) -> str:
    return ", ".join(words[:-1]) + " or " + words[-1]


def known_processes() -> tuple[str, ...]:
    """Names of the processes that come with the program."""
    return tuple(sorted(_KNOWN))


def known_process(name: str) -> Process:
    """A process that comes with the program, all its values common practice.

    Raises
    ------
    ProcessError
        If there is none of that name.
    """
    if name not in _KNOWN:
        raise ProcessError(
            f"There is no process {name!r}: give one of {', '.join(sorted(_KNOWN))}."
        )
    return read_process(known_process_text(name))


def known_process_text(name: str) -> str:
    """The file of a process that comes with the program, to copy and edit."""
    from importlib.resources import files

    if name not in _KNOWN:
        raise ProcessError(
            f"There is no process {name!r}: give one of {', '.join(sorted(_KNOWN))}."
        )
    place = files("ironlace.ornament.stencils").joinpath("processes", f"{name}.toml")
    return place.read_text(encoding="utf-8")


_KNOWN: Final = frozenset(["film-knife", "film-laser", "foil-etched", "mesh-emulsion", "card-hand"])

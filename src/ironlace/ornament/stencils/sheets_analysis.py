"""Stencil sheets as an analysis: how they are told, compared and declared."""

from __future__ import annotations

from typing import Any, Final

import numpy as np

from ironlace.evidence.analyses import Analysis
from ironlace.evidence.answers import Answer, MadeFile, Plot, Table
from ironlace.evidence.findings import Finding, Result
from ironlace.evidence.grades import Grade
from ironlace.ornament.stencils.files import files_of
from ironlace.ornament.stencils.sheet_set import (
    FilledDrawing,
    SheetsAsked,
    SheetSet,
    asked_before,
    plan_set,
    takes_long,
)

_RESULTS: Final = {
    "sheets": ("sheets to cut", ""),
    "islands": ("islands that would fall out", ""),
    "bridges": ("bridges", ""),
    "bridge_mm2": ("area of the bridges", "mm²"),
    "covered": ("share of the drawing covered when laid true", ""),
    "touch_in_minutes": ("touching in by hand", "min"),
}
"""By the key that findings of version 0.1 had: what each result is called, and its unit."""


def figures_of(made: SheetSet) -> dict[str, float]:
    """The plan in a few figures, by the keys of `_RESULTS`."""
    r = made.report
    return {
        "sheets": len(made.sheets),
        "islands": r["islands"],
        "bridges": r["bridges"],
        "bridge_mm2": r["bridge_mm2"],
        "covered": min(layer["laid"][0]["covered"] for layer in r["proof"]),
        "touch_in_minutes": r["touch_in"]["minutes"],
    }


def sheets_answer(made: SheetSet) -> Answer:
    """Tell what came of planning."""
    results = tuple(
        Result(name=_RESULTS[key][0], value=value, unit=_RESULTS[key][1], grade=Grade.INFERRED)
        for key, value in figures_of(made).items()
    )
    first, *rest = made.sentences
    rows = tuple(tuple("" if v is None else str(v) for v in flaw.values()) for flaw in made.flaws)
    heads = tuple(key.replace("_", " ") for key in (made.flaws[0] if made.flaws else ()))
    falls = made.falls_svg[made.falls_svg.index("<svg") :]
    picture = Plot(
        "What falls out",
        falls,
        (f"{len(made.flaws)} places fall out or are weak; each has its number in the table.",),
        (heads, *rows),
    )
    return Answer(
        results,
        (f"For {made.asked.drawing}: {first}", *rest),
        figures=made.report,
        tables=(Table("What falls out", heads, rows),) if rows else (),
        plots=(picture,),
        files=tuple(
            MadeFile(one.name, one.media_type, one.words, one.content) for one in files_of(made)
        ),
    )


def same_sheets(kept: Finding, again: Finding) -> str:
    """Compare two findings of sheets, also one of version 0.1, whose value held all figures."""
    one, other = _figures(kept), _figures(again)
    differ = [
        f"{_RESULTS[key][0]} come out as {other.get(key)}, not {one.get(key)}"
        for key in _RESULTS
        if not _near(one.get(key), other.get(key))
    ]
    return "; ".join(differ)


def _figures(finding: Finding) -> dict[str, Any]:
    if isinstance(finding.value, dict):
        return finding.value
    keys = {words: key for key, (words, _) in _RESULTS.items()}
    return {keys[one.name]: one.value for one in finding.results if one.name in keys}


def _near(one: Any, other: Any) -> bool:
    if isinstance(one, int | float) and isinstance(other, int | float):
        return bool(np.isclose(one, other, rtol=1e-9, atol=0.0))
    return bool(one == other)


SHEETS = Analysis(
    key="sheets",
    about="stencil sheets",
    question="Which stencil sheets lay this ornament, and what holds them together?",
    section="ornament",
    inputs=FilledDrawing,
    asked=SheetsAsked,
    work=plan_set,
    answer=sheets_answer,
    method="ironlace.ornament.stencils: least bridges, fewest sheets, laid on trial",
    published="spanning tree after Kruskal (1956), exchanges after Croes (1958)",
    same=same_sheets,
    takes_long=takes_long,
    subject=lambda asked: asked.drawing,
    asked_before=asked_before,
    hazards=("solvents and varnish", "spraying"),
)

"""Commands for care: change gears, the oiling plan, the cautions of steps, an unknown screw."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ironlace.cli.analysis_groups import OfAnalyses
from ironlace.cli.answering import JsonFile, tell, write_bytes
from ironlace.evidence.errors import IronlaceError

if TYPE_CHECKING:
    from ironlace.care.oil_plan import OilPlan, OilPlanFound

app = typer.Typer(
    cls=OfAnalyses,
    help="Care: change gears, the oiling plan, cautions for steps, an unknown screw.",
    no_args_is_help=True,
)
Case = Annotated[Path, typer.Argument(help="The case (TOML); paths in it are relative to it.")]


@app.command()
def gears(case: Case, json: JsonFile = None) -> None:
    """Find the trains of change gears that cut a pitch, best first, and say if none will do."""
    from ironlace.care.change_gears import GearsAsked, change_gears
    from ironlace.care.gears_analysis import gears_answer
    from ironlace.cli.case_files import read_case

    found = change_gears(read_case(case, GearsAsked))
    lines = [
        f"{' x '.join(f'{a}/{b}' for a, b in zip(one.drivers, one.driven, strict=True)):<18}"
        f"{one.pitch_mm:.6f} mm  {one.error_ppm:+.2f} ppm  "
        f"{'meshes' if one.meshes else 'does not mesh'}"
        for one in found.trains[:10]
    ]
    answer = gears_answer(found)
    tell(dict(answer.figures), json, [*answer.sentences, *lines])


@app.command()
def oil(
    plan: Annotated[Path, typer.Argument(help="The plan (TOML).")],
    calendar: Annotated[
        Path | None, typer.Option(help="Calendar file (.ics) to write, with the days due.")
    ] = None,
    card: Annotated[
        Path | None, typer.Option(help="Card for the drawer (A6, PDF) to write.")
    ] = None,
    json: JsonFile = None,
) -> None:
    """Work out an oiling plan: viscosity, felts, and the days on which each point is due."""
    from ironlace.care.oil_calendar import oil_calendar
    from ironlace.care.oil_plan import OilPlan, oil_plan
    from ironlace.cli.case_files import read_case

    asked = read_case(plan, OilPlan)
    found = oil_plan(asked)
    made = datetime.now(UTC).replace(microsecond=0)
    files: list[tuple[Path, bytes]] = []
    if calendar is not None:
        if not found.points:
            raise IronlaceError("The plan has no [[point]]: there is no day to put in a calendar.")
        files.append((calendar, oil_calendar(found.points, made).encode("utf-8")))
    if card is not None:
        from ironlace.dossier.print.oil_card import oil_card_pdf

        files.append((card, oil_card_pdf(asked, found, made=made)))
    _have_folders([file for file, _ in files], json)
    for file, content in files:
        write_bytes(file, content)
    tell(_oil_told(asked, found), json, _oil_lines(asked, found))


def _oil_told(asked: "OilPlan", found: "OilPlanFound") -> dict[str, Any]:
    from ironlace.care.oil_plan import plan_doubts

    viscosity = found.viscosity
    value: Any = None
    if viscosity.mm2_s is not None:
        value = list(viscosity.mm2_s) if viscosity.is_range else viscosity.mm2_s[1]
    return {
        "viscosity_mm2_s": value,
        "why": viscosity.why or None,
        "grade": viscosity.grade,
        "doubts": plan_doubts(asked),
        "felt": [
            {
                "name": felt.name,
                "holds_ml": one.holds_ml,
                "drops": list(one.drops),
                "wick_s": None if one.wick_s is None else list(one.wick_s),
                "why": one.why or None,
            }
            for felt, one in zip(asked.felt, found.felts, strict=True)
        ],
        "points": [
            {"name": one.point.name, "due": one.due.isoformat(), "due_by": one.due_by}
            for one in found.points
        ],
    }


def _oil_lines(asked: "OilPlan", found: "OilPlanFound") -> list[str]:
    from ironlace.care.felt_wick import felt_in_words
    from ironlace.care.oil_plan import oil_in_words, plan_doubts
    from ironlace.care.oiling_analysis import due_in_words

    lines = plan_doubts(asked)
    lines += due_in_words(found.points, [None] * len(found.points)) if found.points else []
    lines.append(oil_in_words(asked.oil, found.viscosity))
    lines += [felt_in_words(felt, one) for felt, one in zip(asked.felt, found.felts, strict=True)]
    lines += [
        f"{one.point.name}: {one.point.drops} drop{'s' * (one.point.drops != 1)} due "
        f"{one.due.isoformat()} (by {one.due_by})."
        for one in found.points
    ]
    return lines


@dataclass(frozen=True)
class _StepRow:
    id: str
    text: str


@app.command()
def cautions(
    steps: Annotated[Path, typer.Argument(help="CSV of steps in plain English: id,text.")],
    json: JsonFile = None,
) -> None:
    """Tell which cautions each step of a job calls for."""
    from ironlace.care.cautions import DEFER, caution_for
    from ironlace.care.step_words import cautions_due
    from ironlace.cli.case_files import read_rows

    rows = read_rows(steps, _StepRow)
    if not rows:
        raise IronlaceError(f"{steps.name} has no steps: write one a line under id,text.")
    due = [(row, cautions_due(row.text)) for row in rows]
    told = {"steps": [{"id": row.id, "cautions": [h.short for h in called]} for row, called in due]}
    lines = [f"{row.id}: {', '.join(h.short for h in called) or 'nothing'}" for row, called in due]
    named = dict.fromkeys(hazard for _, called in due for hazard in called)
    lines += [f"{hazard.short}: {caution_for(hazard).says}" for hazard in named]
    tell(told, json, [*lines, DEFER] if named else lines)


@app.command()
def screw(
    photograph: Annotated[Path, typer.Argument(help="Photograph of the screw on the card.")],
    strip: Annotated[Path, typer.Option(help="CSV with the places of the card's markers.")],
    case: Annotated[Path, typer.Option(help="What goes with it (TOML): caliper, height, lens.")],
    json: JsonFile = None,
) -> None:
    """Measure an unknown screw in a photograph, and name the standard forms nearest to it."""
    from ironlace.care.screw_analysis import as_measured, screw_answer
    from ironlace.care.screw_photograph import ScrewCase, measure_screw
    from ironlace.cli.answering import read_text
    from ironlace.cli.case_files import read_case
    from ironlace.photographs import StripLayout
    from ironlace.workshop.store.intake import pixels

    asked = read_case(case, ScrewCase)
    layout = StripLayout.from_csv(read_text(strip))
    found = measure_screw(pixels(photograph), layout, asked)
    _have_folders([], json)
    answer = screw_answer(as_measured(asked, found))
    forms = [", ".join(cell for cell in row if cell) for row in answer.tables[0].rows]
    tell(dict(answer.figures), json, [*answer.sentences, *forms])


def _have_folders(files: Sequence[Path], json: str | None) -> None:
    """Refuse before anything is written when one of several files has no folder."""
    wanted = [*files, *([Path(json)] if json and json != "-" else [])]
    for file in wanted:
        if not file.parent.is_dir():
            raise IronlaceError(
                f"{file} could not be written (its folder is not there): choose another place."
            )
    if len(set(wanted)) != len(wanted):
        raise IronlaceError("Two files to be written have one name: give each its own.")


def _listed(told: dict[str, Any]) -> dict[str, Any]:
    return {key: list(v) if isinstance(v, tuple) else v for key, v in told.items()}

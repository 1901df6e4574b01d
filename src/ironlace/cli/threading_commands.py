"""Commands for the threading plan: drawn, told, set on a card; and two plans compared."""

from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from ironlace.cli.answering import JsonFile, read_text, tell, write_bytes
from ironlace.evidence.errors import ConflictError, IronlaceError, NotFoundError

if TYPE_CHECKING:
    from ironlace.running.threading.plan import PlanPicture, ThreadingPlan, ThreadPoint

FILES = ("threading.svg", "steps.txt", "card.pdf")
"""What is written of a plan."""


def add_to(app: typer.Typer) -> None:
    """Add the commands to the group of running."""
    app.command()(threading)
    app.command()(threadings)


def threading(
    plan: Annotated[Path, typer.Argument(help="The plan (TOML); pictures are relative to it.")],
    out: Annotated[Path, typer.Option(help="Folder for the diagram, the steps and the card.")],
    json: JsonFile = None,
) -> None:
    """Draw a threading plan: numbered diagram, steps in words, card for the drawer (A6)."""
    from ironlace.dossier.print.threading_card import threading_card_pdf
    from ironlace.running.threading.diagram import threading_svg
    from ironlace.running.threading.plan import not_said
    from ironlace.running.threading.steps import grade_in_words, steps_text

    found, under = _read(plan)
    made = datetime.now(UTC).replace(microsecond=0)
    content = (
        threading_svg(found, under).encode("utf-8"),
        steps_text(found).encode("utf-8"),
        threading_card_pdf(found, under, made=made),
    )
    for name in FILES:
        if (out / name).exists():
            raise ConflictError(f"{out / name} is there already: choose another folder.")
    if not out.is_dir():
        if not out.parent.is_dir():
            raise NotFoundError(f"There is no folder {out.parent}: make it, or choose another.")
        out.mkdir()
    for name, one in zip(FILES, content, strict=True):
        write_bytes(out / name, one)
    told: dict[str, Any] = {
        **_plan_told(found),
        "files": {Path(name).stem: str(out / name) for name in FILES},
    }
    said = [grade_in_words(found), *not_said(found)]
    said.append(f"{out}: {', '.join(FILES)}. Print the card at 100 % on A6.")
    tell(told, json, said)


def threadings(
    first: Annotated[Path, typer.Argument(help="The first plan (TOML).")],
    second: Annotated[Path, typer.Argument(help="The second plan.")],
    seams: Annotated[
        tuple[Path, Path] | None,
        typer.Option(
            help="JSON of a seam sewn with each, from running seam, in the plans' order.",
            show_default=False,
        ),
    ] = None,
    json: JsonFile = None,
) -> None:
    """Compare two threading plans step by step, and by a seam sewn with each."""
    from ironlace.running.seam.two_seams import compare_seams, comparison_sentences, read_seam
    from ironlace.running.threading.two_plans import compare_plans, differences_in_words

    found = compare_plans(_read(first)[0], _read(second)[0])
    said = differences_in_words(found)
    told: dict[str, Any] = {
        "alike": not found,
        "differences": [
            {
                "how": one.how,
                "first": None if one.first is None else _point_told(one.first),
                "second": None if one.second is None else _point_told(one.second),
            }
            for one in found
        ],
        "seams": None,
    }
    if seams is not None:
        sewn = compare_seams(read_seam(read_text(seams[0])), read_seam(read_text(seams[1])))
        told["seams"] = {
            "reliable": sewn.reliable,
            "difference_mm": list(sewn.difference_mm),
            "length_chance": sewn.length_chance,
            "cv": list(sewn.cv),
            "evenness_chance": sewn.evenness_chance,
            "skipped": list(sewn.skipped),
            "skip_chance": sewn.skip_chance,
        }
        said += comparison_sentences(sewn)
        said.append(
            "That is the threading's doing only if needle, thread, cloth, tensions and pace were "
            "the same for both seams."
        )
    tell(told, json, said)


def _read(file: Path) -> "tuple[ThreadingPlan, dict[str, str]]":
    """A plan as it is drawn, and by name the pictures that lie under it, as data: addresses."""
    from ironlace.cli.case_files import read_case
    from ironlace.running.threading.plan import PlanPicture, ThreadingPlan, checked_plan

    asked = read_case(file, ThreadingPlan)
    pictures: list[PlanPicture] = []
    under: dict[str, str] = {}
    for one in asked.picture:
        if one.file:
            sized, under[one.name] = _under(one, file.parent / one.file)
            pictures.append(sized)
        else:
            pictures.append(one)
    return checked_plan(replace(asked, picture=tuple(pictures))), under


def _under(picture: "PlanPicture", file: Path) -> "tuple[PlanPicture, str]":
    """A picture with the size of its file, and the file small, as a data: address."""
    from ironlace.dossier.print.picture_address import picture_address
    from ironlace.workshop.store.intake import pixels

    if not file.is_file():
        raise NotFoundError(f"There is no file {file}: check the picture '{picture.name}'.")
    found = pixels(file)
    high, wide = found.shape[:2]
    stated = (picture.width_px or wide, picture.height_px or high)
    if stated != (wide, high):
        raise IronlaceError(
            f"Picture '{picture.name}' is stated as {stated[0]} x {stated[1]} px, and {file.name} "
            f"has {wide} x {high} px when upright: leave the size out, or mend the points."
        )
    return replace(picture, width_px=wide, height_px=high), picture_address(found)


def _plan_told(plan: "ThreadingPlan") -> dict[str, Any]:
    from ironlace.running.threading.plan import not_said
    from ironlace.running.threading.steps import crossing_in_words

    crossing = crossing_in_words(plan)
    return {
        "title": plan.title,
        "grade": plan.grade,
        "steps": [
            {**_point_told(one), "crossing": crossing.get(one.number) or None} for one in plan.point
        ],
        "not_said": list(not_said(plan)),
    }


def _point_told(point: "ThreadPoint") -> dict[str, Any]:
    from ironlace.running.threading.steps import step_in_words

    return {
        "number": point.number,
        "thread": point.thread,
        "says": step_in_words(point),
        "does": point.does,
        "side": point.side or None,
        "what": point.what or None,
        "crosses": point.crosses or None,
        "behind": point.behind or None,
        "known": point.known or None,
        "grade": point.grade,
        "source": point.source or None,
        "picture": point.picture,
        "at_px": list(point.at),
    }

"""The manual names what there is: commands, kinds of entry and their fields, grades, columns."""

import re
from pathlib import Path

import pytest
import typer

from ironlace.cli.program import program
from ironlace.evidence.grades import Grade
from ironlace.record import ENTRY_KINDS
from ironlace.record.entries_in_manual import rewritten
from ironlace.record.entry_fields import fields_of
from ironlace.survey.reports.table import REPORT_COLUMNS
from ironlace.workshop import analyses

DOCS = Path(__file__).parents[1] / "docs"
ROOT = Path(__file__).parents[1]


def page(name):
    return (DOCS / name).read_text(encoding="utf-8")


def commands():
    group = typer.main.get_command(program())
    for name, command in group.commands.items():
        if hasattr(command, "list_commands"):
            yield from (f"{name} {sub}" for sub in command.list_commands(None))
        else:
            yield name


DECLARED = {one.key for one in analyses.ALL}


@pytest.mark.parametrize("command", list(commands()))
def test_every_command_is_in_the_manual(command):
    group, _, key = command.partition(" ")
    if group == "work-out":
        assert "`ironlace work-out KEY MACHINE`" in page("command-line.md")
    elif key in DECLARED and group not in ("survey", "ornament"):
        # such a command follows from a declaration, whose page of the manual shows it
        assert any(f"ironlace {command}" in file.read_text("utf-8") for file in DOCS.glob("*.md"))
    else:
        assert f"`ironlace {command}" in page("command-line.md")


def test_the_manual_names_no_command_that_is_not_there():
    named = re.findall(r"`ironlace ((?:[a-z-]+ ?)+)", page("command-line.md"))
    known = set(commands())
    for words in named:
        first = [word for word in words.split() if not word.startswith("--")]
        named_so = first[:1] == ["work-out"] or {*first[:1], " ".join(first[:2])} & known
        assert not first or named_so, words


def test_the_manual_has_the_tables_of_entries_as_they_are_declared():
    found = page("files.md")
    assert found == rewritten(found), (
        "make them anew: python -m ironlace.record.entries_in_manual docs/files.md"
    )


@pytest.mark.parametrize("kind", list(ENTRY_KINDS))
def test_every_field_of_every_entry_is_in_the_manual_with_its_words(kind):
    table = page("files.md").partition(f"### `{kind}`\n")[2].partition("\n### ")[0]
    rows = {row.split("`")[1]: row for row in table.splitlines() if row.startswith("| `")}
    assert set(rows) == set(ENTRY_KINDS[kind].model_fields) - {"kind"}
    for field in fields_of(ENTRY_KINDS[kind]):
        assert f"| {field.label} |" in rows[field.name]
        assert field.words.help in rows[field.name]


def test_every_grade_and_its_meaning_is_in_the_manual():
    for grade in Grade:
        assert f"| {grade} | {grade.meaning} |" in page("grades.md")


def test_every_column_of_reports_is_in_the_manual():
    for column in REPORT_COLUMNS:
        assert f"`{column}`" in page("files.md")


def test_links_lead_somewhere():
    for file in [*DOCS.rglob("*.md"), ROOT / "README.md"]:
        for target in re.findall(r"\]\(([^)#]+)(?:#[^)]*)?\)", file.read_text(encoding="utf-8")):
            if "://" not in target:
                assert (file.parent / target).exists(), f"{file.name} links to {target}"

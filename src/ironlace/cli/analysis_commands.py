"""The commands of the analyses, made from their declarations.

`ironlace work-out KEY MACHINE` works on a machine's record; what can be read from a file, or needs
nothing but what is asked for, also has a command in its room, such as `ironlace stand belt-length`.
Options are the values that the analysis asks for, so that page and command cannot differ.
"""

import inspect
import re
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import Annotated, Any

import typer

from ironlace.cli.answering import (
    Columns,
    HeardSteps,
    JsonFile,
    WorkshopFolder,
    opened,
    progress,
    renamed,
    tell,
)
from ironlace.evidence.analyses import (
    AskedError,
    AskedField,
    Declared,
    KnownTable,
    asked_fields,
    asked_from,
)
from ironlace.evidence.answers import Answer
from ironlace.evidence.doubtful_figures import answered
from ironlace.evidence.errors import IronlaceError
from ironlace.workshop import analyses as declared
from ironlace.workshop.analyses import asked_for, keep, work_out
from ironlace.workshop.inputs import binding_of
from ironlace.workshop.survey.then import end_of

Given = dict[str, Any]
AsOf = Annotated[
    str | None,
    typer.Option(help="On the record and its survey as they stood on a day, such as 2025-03-31."),
]

_NAME_OF_READINGS = re.compile(r"readings \d+", re.IGNORECASE)
"""How a table of a record is named; anything else on one line is a file."""


def commands_of(room: str) -> dict[str, Any]:
    """The commands of a room's analyses that need no record."""
    app = typer.Typer()
    for analysis in declared.ROOMS.get(room, ()):
        if _stands_alone(analysis):
            app.command(analysis.key, help=analysis.question)(_alone(analysis))
    return _made(app)


def commands_on_records() -> dict[str, Any]:
    """The commands of all analyses, each on a machine's record."""
    app = typer.Typer()
    for analysis in (one for room in declared.ROOMS.values() for one in room):
        words = f"{analysis.question} On a machine's record."
        app.command(analysis.key, help=words)(_on_a_record(analysis))
    return _made(app)


def _made(app: typer.Typer) -> dict[str, Any]:
    if not app.registered_commands:
        return {}
    app.callback()(_nothing_before)  # one command alone would not be a group
    return dict(typer.main.get_group(app).commands)


def _nothing_before() -> None:
    """Stand for a group's callback."""


def _stands_alone(analysis: Declared) -> bool:
    binding = binding_of(analysis)
    return binding.from_file is not None or not binding.needs_record


def _on_a_record(analysis: Declared) -> Callable[..., None]:
    fields = _typed_fields(analysis)

    def command(**words: Any) -> None:
        with opened(words["workshop"]) as found, progress() as report, _naming_options():
            if words["keep"] and words["as_of"]:
                raise IronlaceError(
                    "A finding is kept of the record as it stands: leave out --keep or --as-of."
                )
            record = found.records.read(words["machine"], end_of(words["as_of"]))
            asked = asked_for(analysis, record, _given(fields, words))
            worked = work_out(found, record, analysis, asked, HeardSteps(report))
            name = keep(found, record.slug, worked, words["by"]) if words["keep"] else None
        _answer(worked.answer, words["json"], name)

    return _with_signature(
        command,
        [
            _argument("machine", str, "The machine, by its short name."),
            *(_option(one) for one in fields),
            _parameter("workshop", WorkshopFolder, Path()),
            _parameter(
                "keep",
                Annotated[bool, typer.Option("--keep", help="Keep it in the record as a finding.")],
                False,
            ),
            _parameter("by", Annotated[str, typer.Option(help="Who keeps it.")], ""),
            _parameter("as_of", AsOf, None),
            _parameter("json", JsonFile, None),
        ],
    )


def _alone(analysis: Declared) -> Callable[..., None]:
    fields = _typed_fields(analysis)
    binding = binding_of(analysis)
    # a table that is needed is the file that the command is about
    table = next((one for one in fields if one.kind is KnownTable and one.required), None)

    def command(**words: Any) -> None:
        with _naming_options(without=table.name if table else ""):
            asked = asked_from(analysis.asked, _given(fields, words))
        if binding.from_file is not None:
            inputs = binding.from_file(words["file"], renamed(words["column"]))
        else:
            inputs = binding.empty() if binding.empty else None
        with progress() as report:
            found = analysis.work(inputs, asked, HeardSteps(report))
        _answer(answered(analysis, asked, found), words["json"], None)

    first: list[inspect.Parameter] = []
    last = [_parameter("json", JsonFile, None)]
    if binding.from_file is not None:
        first = [_argument("file", str, binding.file_words)]
        last.insert(0, _parameter("column", Columns, None))
    elif table is not None:
        first = [_argument(table.name, str, f"{table.ask.words}: CSV, TSV or XLSX.")]
    options = (_option(one) for one in fields if one is not table)
    return _with_signature(command, [*first, *options, *last])


@contextmanager
def _naming_options(without: str = "") -> Iterator[None]:
    """Say with a refused value which option gives it; one is given `without` an option."""
    try:
        yield
    except AskedError as error:
        if error.field in ("", without):
            raise
        flag = error.field.replace("_", "-")
        raise AskedError(f"{str(error).rstrip('.')} (--{flag}).", error.field) from error


def _typed_fields(analysis: Declared) -> list[AskedField]:
    """What is asked for, and after it what is asked on request only."""
    typed = [one for one in asked_fields(analysis.asked) if not one.ask.pointed]
    return sorted(typed, key=lambda one: one.ask.more)


def _given(fields: list[AskedField], words: Given) -> Given:
    """What the options give; a text of several lines is read from the file that was named."""
    from ironlace.cli.answering import read_text
    from ironlace.workshop.survey.tables_in import table_text

    given: Given = {}
    for one in fields:
        value = words[one.name]
        if value is None:
            continue
        if one.kind is KnownTable:
            if "\n" not in value and not _NAME_OF_READINGS.fullmatch(value.strip()):
                value = table_text(Path(value))
        elif one.ask.table:
            value = value if "\n" in value else table_text(Path(value))
        elif one.ask.long:
            value = read_text(Path(value))
        given[one.name] = value
    return given


def _answer(answer: Answer, json: str | None, name: str | None) -> None:
    kept = [f"Kept as {name}."] if name else []
    result = answer.as_dict() | ({"kept": name} if name else {})
    tell(result, json, [*answer.sentences, *kept])


def _option(one: AskedField) -> inspect.Parameter:
    """The option of one value asked for."""
    flag = f"--{one.name.replace('_', '-')}"
    words = [one.ask.words + ".", one.ask.help]
    if one.ask.unit:
        words.append(f"In {one.ask.unit} where no unit is written.")
    if one.ask.example and not one.ask.long:
        words.append(f"For example {one.ask.example}.")
    text = " ".join(word for word in words if word)
    if one.kind is bool:
        return _parameter(
            one.name, Annotated[bool, typer.Option(flag, help=text)], one.default is True
        )
    filed = one.ask.long or one.kind is KnownTable
    metavar = "FILE" if filed else "|".join(one.options) or None
    option = typer.Option(flag, help=text, metavar=metavar)
    return _parameter(one.name, Annotated[str | None, option], None)


def _argument(name: str, kind: type, words: str) -> inspect.Parameter:
    return inspect.Parameter(
        name,
        inspect.Parameter.KEYWORD_ONLY,
        annotation=Annotated[kind, typer.Argument(help=words)],
    )


def _parameter(name: str, annotation: Any, default: Any) -> inspect.Parameter:
    return inspect.Parameter(
        name, inspect.Parameter.KEYWORD_ONLY, annotation=annotation, default=default
    )


def _with_signature(
    command: Callable[..., None], parameters: list[inspect.Parameter]
) -> Callable[..., None]:
    """Give a command the parameters that the program is to read for it."""
    command.__signature__ = inspect.Signature(parameters)  # type: ignore[attr-defined]
    command.__annotations__ = {one.name: one.annotation for one in parameters}
    return command

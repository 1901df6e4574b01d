"""Groups of commands that are made from the declared analyses when somebody asks for them.

Making them takes the study rooms, which take a quarter of a second to load: a command that has
nothing to do with them does not wait for that.
"""

from typing import Any

import typer
from typer.core import TyperGroup

from ironlace.cli.stand_commands import add_to as add_stand_commands

WORK_OUT = "work-out"


class OfAnalyses(TyperGroup):
    """A group whose commands are, besides its own, those of the analyses of the room it names."""

    def list_commands(self, ctx: Any) -> list[str]:
        """Name its commands, those of the analyses last."""
        self._make()
        return super().list_commands(ctx)

    def get_command(self, ctx: Any, cmd_name: str) -> Any:
        """Return a command by its name, None when there is none."""
        own = super().get_command(ctx, cmd_name)
        if own is not None:
            return own  # its own come before those of the analyses, which need not be made
        self._make()
        return super().get_command(ctx, cmd_name)

    def _make(self) -> None:
        from ironlace.cli.analysis_commands import commands_of, commands_on_records

        on_records = self.name == WORK_OUT
        made = commands_on_records() if on_records else commands_of(str(self.name))
        for name, command in made.items():
            self.commands.setdefault(name, command)


def add_to(app: typer.Typer) -> None:
    """Add the groups of the analyses that no commands of their own begin."""
    stand = typer.Typer(
        cls=OfAnalyses,
        help="Stand and drive: what the machine stands on and is turned by.",
        no_args_is_help=True,
    )
    add_stand_commands(stand)
    app.add_typer(stand, name="stand")
    app.add_typer(
        typer.Typer(
            cls=OfAnalyses,
            help="Work out, on a machine's record, what an analysis answers.",
            no_args_is_help=True,
        ),
        name=WORK_OUT,
    )

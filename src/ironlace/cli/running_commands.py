"""Commands for the running of a machine: what readings in a file say of motion and tension."""

import typer

from ironlace.cli.analysis_groups import OfAnalyses

app = typer.Typer(
    cls=OfAnalyses,
    help="Running: motion and timing, tension, needles and thread.",
    no_args_is_help=True,
)

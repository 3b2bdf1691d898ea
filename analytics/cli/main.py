"""The command `penwise`: finds each command in a file of its own and turns errors into exit codes."""

from __future__ import annotations

import errno
import importlib
import sys
from typing import Any

import click

from analytics import __version__
from analytics.errors import InputRejected, PenwiseError, StoreError

COMMANDS: dict[str, tuple[str, str]] = {
    "demo": ("analytics.cli.serve:demo", "Build a demo store and open the dashboard on it."),
    "serve": ("analytics.cli.serve:serve", "Open the dashboard on your store."),
    "passphrase": ("analytics.cli.access:passphrase", "Set the passphrase that your network is asked for."),
    "blank": ("analytics.cli.sheets:blank", "Write empty record sheets."),
    "load": ("analytics.cli.sheets:load", "Check record sheets and load them."),
    "note": ("analytics.cli.note:note", "Write down what you changed, and when."),
    "withdraw": ("analytics.cli.sheets:withdraw", "Set a wrong row aside; it stays in the history."),
    "history": ("analytics.cli.history:history", "What was changed, when, by whom and why."),
    "bench": ("analytics.cli.bench:bench", "Trays begun at the bench and not closed."),
    "batch": ("analytics.cli.batch:batch", "One hatch: what to look at, and what to write down next."),
    "review": ("analytics.cli.review:review", "The monthly flock review."),
    "pens": ("analytics.cli.pens:pens", "Pen against pen: worse, or chance, machine or storage?"),
    "trends": ("analytics.cli.trends:trends", "Does a rate go with hen age, storage, month or males?"),
    "causes": ("analytics.cli.causes:causes", "Where eggs were lost, and whose loss it is."),
    "breeders": ("analytics.cli.breeders:breeders", "Which breeders to keep, watch or replace."),
    "incubators": ("analytics.cli.incubators:incubators", "Is it the incubator, and what is wrong with it?"),
    "plan": ("analytics.cli.plan:plan", "What next: eggs, machines, days, matings."),
    "changes": ("analytics.cli.changes:changes", "Did each change work, against what it did not touch?"),
    "export": ("analytics.cli.care:export", "Write the whole store as record sheets."),
    "backup": ("analytics.cli.care:backup", "Make a verified copy of the store."),
    "restore": ("analytics.cli.care:restore", "Put a verified copy in the store's place."),
    "check": ("analytics.cli.care:check", "Look at the store's health."),
}
"""Command word -> (module:function, help line). A new command is a file and a line here."""
INTERRUPTED = 130
"""Exit code after Ctrl-C."""
_INTERRUPTED_QUESTION = "Query interrupted"
"""What DuckDB raises, as a RuntimeError, when Ctrl-C comes while it works."""


class _Lazy(click.Group):
    """Imports a command's module only when it is called, so that `penwise --help` is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, function = COMMANDS[cmd_name][0].split(":")
        command = getattr(importlib.import_module(module), function)
        assert isinstance(command, click.Command)
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        with formatter.section("Commands"):
            formatter.write_dl([(word, line) for word, (_, line) in COMMANDS.items()])

    def invoke(self, ctx: click.Context) -> Any:
        try:
            return super().invoke(ctx)
        except PenwiseError as error:
            _tell(ctx, error)
            ctx.exit(error.exit_code)
        except KeyboardInterrupt:
            ctx.exit(INTERRUPTED)
        except OSError as error:
            if error.errno == errno.EPIPE:
                raise
            refusal = _of_system(error)
            _tell(ctx, refusal)
            ctx.exit(refusal.exit_code)
        except RuntimeError as error:
            if str(error) != _INTERRUPTED_QUESTION:
                raise
            ctx.exit(INTERRUPTED)


def _of_system(error: OSError) -> StoreError:
    """What the operating system refused: a full disk, no right to write, a file that is gone."""
    which = error.filename if isinstance(error.filename, str) else "A file"
    return StoreError(
        f"{which} could not be read or written",
        error.strerror or "The computer does not say why",
        "Look whether it is there, whether you may write there, and whether there is room",
    )


def _tell(ctx: click.Context, error: PenwiseError) -> None:
    """The refusal as sentences on stderr; with `--json`, rejected sheets as JSON on stdout."""
    click.echo(f"penwise: {error}", err=True)
    if not isinstance(error, InputRejected):
        return
    from analytics.cli.common import JSON_WANTED, emit_json

    if ctx.meta.get(JSON_WANTED):
        problems = [problem.as_dict() for problem in error.problems]
        emit_json("penwise.load/1", {"added": 0, "corrected": [], "unchanged": 0, "errors": problems})
        return
    for problem in error.problems:
        click.echo(f"  {problem.sentence()}", err=True)


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="penwise")
def penwise() -> None:
    """Hatch records of your pens and machines: what was lost, and whose loss it was."""


def run(arguments: list[str] | None = None) -> int:
    """Runs `penwise` with these arguments (None = the command line's) and returns its exit code."""
    try:
        penwise.main(arguments, prog_name="penwise")
    except SystemExit as leaving:
        return leaving.code if isinstance(leaving.code, int) else int(leaving.code is not None)


def main() -> None:
    """Runs `penwise`; every refusal is a sentence on stderr and an exit code, never a trace."""
    sys.exit(run())

"""The command `penwise`: finds each command in a file of its own and turns errors into exit codes."""

from __future__ import annotations

import importlib
import sys

import click

from analytics import __version__
from analytics.errors import InputRejected, PenwiseError

COMMANDS: dict[str, str] = {
    "demo": "analytics.cli.serve:demo",
    "serve": "analytics.cli.serve:serve",
    "blank": "analytics.cli.sheets:blank",
    "load": "analytics.cli.sheets:load",
    "withdraw": "analytics.cli.sheets:withdraw",
    "export": "analytics.cli.care:export",
    "backup": "analytics.cli.care:backup",
    "restore": "analytics.cli.care:restore",
    "check": "analytics.cli.care:check",
    "review": "analytics.cli.review:review",
}
"""Command word -> module:function. A new command is a file and a line here."""


class _Lazy(click.Group):
    """Imports a command's module only when it is called, so that `penwise --help` is quick."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        if cmd_name not in COMMANDS:
            return None
        module, function = COMMANDS[cmd_name].split(":")
        command = getattr(importlib.import_module(module), function)
        assert isinstance(command, click.Command)
        return command


@click.group(cls=_Lazy, context_settings={"help_option_names": ["-h", "--help"]})
@click.version_option(__version__, prog_name="penwise")
def penwise() -> None:
    """Hatch records of your pens and machines: what was lost, and whose loss it was."""


def main() -> None:
    """Runs `penwise`; every refusal is a sentence on stderr and an exit code, never a trace."""
    try:
        penwise(standalone_mode=True)
    except PenwiseError as error:
        click.echo(f"penwise: {error}", err=True)
        if isinstance(error, InputRejected):
            for problem in error.problems:
                click.echo(f"  {problem.sentence()}", err=True)
        sys.exit(error.exit_code)

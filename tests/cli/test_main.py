from __future__ import annotations

import importlib
import json
import signal
import subprocess
import sys
import time
from pathlib import Path

import click
import pytest
from click.testing import CliRunner

from analytics import errors
from analytics.cli.common import emit_json, json_option
from analytics.cli.main import COMMANDS, penwise, run
from analytics.errors import InputRejected, PenwiseError, SheetProblem
from analytics.store.connection import create

_PROBLEM = SheetProblem("trays", 4, "hatched", '"x"', "hatched is a whole number", "Write the number")


def _with_command(monkeypatch: pytest.MonkeyPatch, error: BaseException) -> None:
    """Makes `penwise fail` raise the error."""

    @click.command()
    @json_option
    def fail(as_json: bool) -> None:
        raise error

    monkeypatch.setitem(COMMANDS, "fail", ("tests_of_main:fail", "Fails."))
    monkeypatch.setitem(sys.modules, "tests_of_main", type("Module", (), {"fail": fail}))


def _kinds() -> list[type[PenwiseError]]:
    found = [
        kind for kind in vars(errors).values() if isinstance(kind, type) and issubclass(kind, PenwiseError)
    ]
    return [kind for kind in found if kind is not InputRejected]


@pytest.mark.parametrize("kind", _kinds(), ids=lambda kind: kind.__name__)
def test_every_refusal_is_one_sentence_on_stderr_and_its_exit_code(
    monkeypatch: pytest.MonkeyPatch, kind: type[PenwiseError]
) -> None:
    _with_command(monkeypatch, kind("The month 2026-13", "A month is written YYYY-MM", "Write 2026-03"))
    told = CliRunner().invoke(penwise, ["fail"])
    assert told.exit_code == kind.exit_code
    assert told.stderr == "penwise: The month 2026-13. A month is written YYYY-MM. Write 2026-03.\n"
    assert told.stdout == ""


def test_exit_codes_are_the_promised_ones() -> None:
    codes = {kind.__name__: kind.exit_code for kind in _kinds()} | {"InputRejected": InputRejected.exit_code}
    assert codes == {
        "PenwiseError": 1, "DataTooThin": 1, "WrongUsage": 2, "InputRejected": 3, "StoreError": 4,
        "StoreBusy": 4, "StoreDamaged": 4, "StoreTooNew": 4, "NotAStore": 4, "StoreMissing": 4,
    }  # fmt: skip


def test_rejected_sheets_are_listed_on_stderr(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, InputRejected((_PROBLEM,)))
    told = CliRunner().invoke(penwise, ["fail"])
    assert told.exit_code == 3
    assert told.stdout == ""
    assert told.stderr.splitlines() == [
        "penwise: 1 problem in the record sheets. Nothing of this load was kept."
        " Mend the rows listed and load again.",
        f"  {_PROBLEM.sentence()}",
    ]


def test_rejected_sheets_are_json_on_stdout_when_asked(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, InputRejected((_PROBLEM,)))
    told = CliRunner().invoke(penwise, ["fail", "--json"])
    assert told.exit_code == 3
    assert json.loads(told.stdout) == {
        "schema": "penwise.load/1", "added": 0, "corrected": [], "unchanged": 0,
        "errors": [{"sheet": "trays", "row": 4, "column": "hatched", "given": "x",
                    "rule": "hatched is a whole number", "repair": "Write the number"}],
    }  # fmt: skip


def test_an_interrupted_command_is_quiet(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, KeyboardInterrupt())
    told = CliRunner().invoke(penwise, ["fail"])
    assert (told.exit_code, told.output) == (130, "")


def test_ctrl_c_in_the_middle_of_a_question_is_quiet_too(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, RuntimeError("Query interrupted"))
    told = CliRunner().invoke(penwise, ["fail"])
    assert (told.exit_code, told.output) == (130, "")
    _with_command(monkeypatch, RuntimeError("something else"))
    assert isinstance(CliRunner().invoke(penwise, ["fail"]).exception, RuntimeError)


def test_what_the_operating_system_refuses_is_said_in_words(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, OSError(28, "No space left on device", "out.html"))
    done = CliRunner().invoke(penwise, ["fail"])
    assert done.exit_code == 4
    assert done.stderr.startswith(
        "penwise: out.html could not be read or written. No space left on device. Look"
    )


def test_a_mistake_of_the_program_is_not_hidden(monkeypatch: pytest.MonkeyPatch) -> None:
    _with_command(monkeypatch, ZeroDivisionError())
    assert isinstance(CliRunner().invoke(penwise, ["fail"]).exception, ZeroDivisionError)


_WAIT_FOR_THE_STORE = """
import signal
import sys
signal.signal(signal.SIGINT, signal.default_int_handler)  # a shell's background job would be born deaf to it
from pathlib import Path
import analytics.cli.care, analytics.sheets.health
from analytics.cli.main import run
from analytics.store.connection import writing
if sys.argv[2] == "hold":
    import time
    with writing(Path(sys.argv[1])):
        print("ready", flush=True)
        time.sleep(60)
print("ready", flush=True)
sys.exit(run(["check", "--store", sys.argv[1]]))
"""


def _start(store: Path, what: str) -> subprocess.Popen[str]:
    program = subprocess.Popen(
        [sys.executable, "-c", _WAIT_FOR_THE_STORE, str(store), what],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
    )
    assert program.stdout is not None
    assert program.stdout.readline() == "ready\n"
    return program


def test_ctrl_c_while_it_waits_ends_it_quietly(tmp_path: Path) -> None:
    create(tmp_path / "flock.duckdb")
    holder = _start(tmp_path / "flock.duckdb", "hold")
    try:
        waiting = _start(tmp_path / "flock.duckdb", "check")
        time.sleep(0.5)
        waiting.send_signal(signal.SIGINT)
        assert waiting.communicate(timeout=20) == ("", "")
        assert waiting.returncode == 130
    finally:
        holder.kill()
        holder.communicate()


def test_run_gives_the_exit_code(capsys: pytest.CaptureFixture[str]) -> None:
    assert run(["--version"]) == 0
    assert run(["no-such-command"]) == 2
    assert run(["check", "--store", "/no/such/store"]) == 4
    assert "No such command" in capsys.readouterr().err


def test_help_lists_every_command_and_imports_none() -> None:
    script = (
        "import sys; from analytics.cli.main import run; run(['--help']);"
        "heavy = ('duckdb', 'pandas', 'numpy', 'analytics.cli.care', 'platformdirs');"
        "print([name for name in heavy if name in sys.modules])"
    )
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    for word, (_, line) in COMMANDS.items():
        assert f"  {word} " in done.stdout
        assert line in " ".join(done.stdout.split())
    assert done.stdout.endswith("[]\n")


@pytest.mark.parametrize("word", sorted(COMMANDS))
def test_every_command_is_there_and_has_help(word: str) -> None:
    module, function = COMMANDS[word][0].split(":")
    assert isinstance(getattr(importlib.import_module(module), function), click.Command)
    assert CliRunner().invoke(penwise, [word, "--help"]).exit_code == 0


def test_json_has_no_numbers_that_are_none(capsys: pytest.CaptureFixture[str]) -> None:
    import numpy as np

    from analytics.values import Base, Month, Period

    emit_json(
        "penwise.test/1",
        {"rate": float("nan"), "high": float("inf"), "array": np.array([1.5, np.nan]), "count": np.int64(3),
         "base": Base.OF_SET, "period": Period(None, None), "month": Month(2026, 3),
         "when": np.datetime64("2026-03-14"), "name": "Süd", "flag": np.bool_(True), "path": Path("x")},
    )  # fmt: skip
    told = capsys.readouterr().out
    assert "Süd" in told
    assert json.loads(told) == {
        "schema": "penwise.test/1", "rate": None, "high": None, "array": [1.5, None], "count": 3,
        "base": "of set", "period": {"start": None, "end": None}, "month": {"year": 2026, "month": 3},
        "when": "2026-03-14", "name": "Süd", "flag": True, "path": "x",
    }  # fmt: skip

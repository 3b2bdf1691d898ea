"""The audit of dependencies: what it says of a known weakness, of none, and when no list was heard."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

import pytest

AUDIT = Path(__file__).parents[2] / ".ci" / "audit"
_TOOL = """#!{python}
import json, sys
pins = open(sys.argv[sys.argv.index("-r") + 1]).read().split()
said = {said!r}
if said is None:
    sys.exit("no network")
found = []
for pin in pins:
    name, version = pin.split("==")
    one = {{"name": name, "version": version, "vulns": [{{"id": n}} for n in said.get(pin, [])]}}
    found.append(one if said.get(pin, []) is not None else {{"name": name, "skip_reason": "not found"}})
json.dump({{"dependencies": found}}, open(sys.argv[sys.argv.index("-o") + 1], "w"))
"""
PIN = next(line for line in AUDIT.with_name("constraints.txt").read_text().splitlines() if "==" in line)
HEARD = {"Jinja2==2.11.2": ["A-1"]}


def _audited(tmp_path: Path, said: object, **environment: str) -> subprocess.CompletedProcess[str]:
    tool = tmp_path / "tool"
    tool.write_text(_TOOL.format(python=sys.executable, said=said), encoding="utf-8")
    tool.chmod(0o700)
    return subprocess.run(
        [sys.executable, str(AUDIT), str(tool)],
        env={**os.environ, **environment},
        capture_output=True,
        text=True,
        check=False,
    )


def test_a_known_weakness_ends_the_build(tmp_path: Path) -> None:
    done = _audited(tmp_path, HEARD | {PIN: ["B-2", "B-3"]})
    assert done.returncode == 1
    assert f"{PIN.replace('==', ' ')}: B-2, B-3" in done.stdout


def test_none_known_is_said_with_how_many_were_asked_about(tmp_path: Path) -> None:
    done = _audited(tmp_path, HEARD)
    assert done.returncode == 0
    assert "NOT AUDITED" not in done.stdout
    pins = AUDIT.with_name("constraints.txt").read_text().split()
    assert f"{len(pins)} of {len(pins)} pinned" in done.stdout


@pytest.mark.parametrize(
    "said", [None, {}, HEARD | {PIN: None}], ids=["unreachable", "knows nothing", "one unknown"]
)
def test_what_was_not_audited_is_said_aloud_and_fails_where_it_must(tmp_path: Path, said: object) -> None:
    for environment, code in (({"AUDIT": ""}, 0), ({"AUDIT": "must"}, 1)):
        done = _audited(tmp_path, said, **environment)
        assert "NOT AUDITED" in done.stdout
        assert done.returncode == code


def test_every_dependency_of_the_program_is_pinned_for_it() -> None:
    import tomllib

    project = tomllib.loads((AUDIT.parents[1] / "pyproject.toml").read_text(encoding="utf-8"))["project"]
    pinned = {line.split("==")[0].lower() for line in AUDIT.with_name("constraints.txt").read_text().split()}
    wanted = [*project["dependencies"], *project["optional-dependencies"]["dev"]]
    names = {one.split(">")[0].split("~")[0].lower() for one in wanted}
    assert names <= pinned

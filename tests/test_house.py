"""The house rules that a reader relies on: layers, top level, sizes, and documents that do not drift."""

from __future__ import annotations

import ast
import re
import subprocess
import sys
from pathlib import Path
from statistics import median, quantiles

import pytest

ROOT = Path(__file__).parents[1]
PACKAGES = ("analytics", "dashboard", "seed_demo")


def _sources(*folders: str) -> list[Path]:
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def test_layers_hold() -> None:
    lint = Path(sys.executable).with_name("lint-imports")
    done = subprocess.run([lint], cwd=ROOT, capture_output=True, text=True, check=False)
    assert done.returncode == 0, done.stdout


def test_top_level_is_the_agreed_one() -> None:
    listed = subprocess.run(["git", "ls-files"], cwd=ROOT, capture_output=True, text=True, check=True).stdout
    top = {line.split("/")[0] for line in listed.splitlines() if not line.startswith(".")}
    agreed = {"README.md", "DEVELOPERS.md", "pyproject.toml", *PACKAGES, "tests"}
    assert top == agreed


@pytest.mark.parametrize("path", _sources(*PACKAGES, "tests"), ids=lambda p: str(p.relative_to(ROOT)))
def test_no_file_is_longer_than_600_lines(path: Path) -> None:
    assert len(path.read_text(encoding="utf-8").splitlines()) <= 600


def test_functions_are_short() -> None:
    lengths = [
        node.end_lineno - node.lineno + 1 - _docstring_lines(node)
        for path in _sources(*PACKAGES)
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.FunctionDef) and node.end_lineno
    ]
    assert median(lengths) <= 9
    assert quantiles(lengths, n=20)[-1] <= 45


def _docstring_lines(node: ast.FunctionDef) -> int:
    first = node.body[0]
    is_text = isinstance(first, ast.Expr) and isinstance(getattr(first.value, "value", None), str)
    return (first.end_lineno or 0) - first.lineno + 1 if is_text else 0


def test_readme_has_the_two_commands() -> None:
    readme = (ROOT / "README.md").read_text(encoding="utf-8")
    for name in ("demo", "tests"):
        found = re.search(rf"<!-- command: {name} -->\n```\w*\n([^\n]+)\n```", readme)
        assert found, f"README.md has no one-line command marked {name}"
        assert "constraints.txt" in found[1]


def test_paths_named_in_the_documents_exist() -> None:
    for document in ("README.md", "DEVELOPERS.md"):
        text = (ROOT / document).read_text(encoding="utf-8")
        for name in re.findall(r"`((?:analytics|dashboard|seed_demo|tests|\.ci)/[\w./-]*)`", text):
            assert (ROOT / name).exists(), f"{document} names {name}"

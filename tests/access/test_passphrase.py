"""The passphrase as it is kept, and the command that sets it."""

from __future__ import annotations

import os
import stat
from pathlib import Path

import pytest
from click.testing import CliRunner

from analytics.cli import access, care
from analytics.errors import StoreError, WrongUsage
from analytics.store.connection import create
from dashboard.access import passphrase

RIGHT = "Vier wörter odd"


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.setattr(access, "default_store", lambda: tmp_path / "penwise" / "penwise.duckdb")
    return tmp_path / "penwise" / "access"


def _set(*words: str, given: str = "") -> str:
    result = CliRunner().invoke(access.passphrase, words, input=given, catch_exceptions=False)
    assert result.exit_code == 0, result.output
    return result.output


def test_only_a_hash_is_kept_and_only_its_owner_reads_it(folder: Path) -> None:
    said = _set(given=f"{RIGHT}\n{RIGHT}\n")
    kept = (folder / "passphrase").read_text(encoding="ascii")
    # Argon2id with at least the second recommended option of RFC 9106 (2021), section 4: 64 MiB, 3 passes.
    assert kept.startswith("$argon2id$v=19$m=65536,t=3,p=4$")
    assert RIGHT not in kept + said
    assert stat.S_IMODE(os.stat(folder / "passphrase").st_mode) == 0o600
    assert stat.S_IMODE(os.stat(folder).st_mode) == 0o700
    assert os.listdir(folder) == ["passphrase"]
    composed, apart = RIGHT, "Vier wo\u0308rter odd "
    assert composed != apart
    assert all(passphrase.agrees(kept, one) for one in (composed, apart))
    assert not any(passphrase.agrees(kept, one) for one in (RIGHT.lower(), "\ud800"))
    assert not passphrase.agrees("no hash at all", RIGHT)


def test_two_that_differ_set_nothing(folder: Path) -> None:
    result = CliRunner().invoke(access.passphrase, input=f"{RIGHT}\nanother one of mine\n")
    assert result.exit_code != 0
    assert not folder.exists()


@pytest.mark.parametrize("given", ["", "   eleven_lets   ", "a" * 201])
def test_a_passphrase_too_short_or_too_long_is_refused_in_words(tmp_path: Path, given: str) -> None:
    with pytest.raises(WrongUsage, match="12 letters at least and 200 at most") as refused:
        passphrase.keep(tmp_path, given)
    assert refused.value.exit_code == 2
    assert list(tmp_path.iterdir()) == []


def test_it_can_be_forgotten(folder: Path) -> None:
    assert "No passphrase was set" in _set("--forget")
    passphrase.keep(folder, RIGHT)
    assert "removed" in _set("--forget")
    assert not passphrase.is_set(folder)


def test_a_folder_that_cannot_be_written_is_said(tmp_path: Path) -> None:
    (tmp_path / "file").write_text("")
    with pytest.raises(StoreError, match="cannot be written"):
        passphrase.keep(tmp_path / "file", RIGHT)


def test_a_copy_and_an_export_hold_nothing_of_access(folder: Path, tmp_path: Path) -> None:
    passphrase.keep(folder, RIGHT)
    store = tmp_path / "penwise" / "penwise.duckdb"
    create(store)
    for command, out in ((care.backup, tmp_path / "copy.duckdb"), (care.export, tmp_path / "out")):
        result = CliRunner().invoke(command, [str(out), "--store", str(store)], catch_exceptions=False)
        assert result.exit_code == 0, result.output
    written = [path for path in [tmp_path / "copy.duckdb", *(tmp_path / "out").rglob("*")] if path.is_file()]
    assert len(written) > 5
    assert not any(b"argon2" in path.read_bytes() or "pass" in path.name for path in written)

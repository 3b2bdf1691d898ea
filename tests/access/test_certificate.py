"""The certificate that this computer makes for itself."""

from __future__ import annotations

import hashlib
import os
import socket
import ssl
import stat
from datetime import UTC, datetime, timedelta
from pathlib import Path

from dashboard.access import certificate
from dashboard.access.certificate import LASTS, RENEWED_BEFORE, papers_for

HOSTS = ("192.0.2.20", "barn", "barn.local", "127.0.0.1", "localhost")
NOW = datetime(2026, 3, 1, 12, tzinfo=UTC)


def test_it_is_for_every_name_lasts_a_year_and_its_key_is_the_owners(tmp_path: Path) -> None:
    papers = papers_for(tmp_path, HOSTS, NOW)
    told = ssl._ssl._test_decode_cert(str(papers.certificate))  # type: ignore[attr-defined]
    assert {name for _, name in told["subjectAltName"]} == set(HOSTS)
    assert told["notAfter"] == "Mar  1 12:00:00 2027 GMT"
    assert told["notBefore"] == "Mar  1 11:00:00 2026 GMT"
    assert stat.S_IMODE(os.stat(papers.key).st_mode) == 0o600
    der = ssl.PEM_cert_to_DER_cert(papers.certificate.read_text())
    assert papers.fingerprint.replace(":", "").lower() == hashlib.sha256(der).hexdigest()


def test_it_is_kept_while_it_holds(tmp_path: Path) -> None:
    first = papers_for(tmp_path, HOSTS, NOW)
    again = papers_for(tmp_path, HOSTS[:2], NOW + LASTS - RENEWED_BEFORE - timedelta(seconds=1))
    assert (first.is_new, again.is_new) == (True, False)
    assert again.fingerprint == first.fingerprint


def test_it_is_made_anew_when_it_runs_out_a_name_is_new_or_a_file_is_broken(tmp_path: Path) -> None:
    seen = [papers_for(tmp_path, HOSTS, NOW)]
    seen.append(papers_for(tmp_path, HOSTS, NOW + LASTS - RENEWED_BEFORE))
    seen.append(papers_for(tmp_path, (*HOSTS, "shed.lan"), NOW + LASTS - RENEWED_BEFORE))
    seen[-1].key.write_text("broken")
    seen.append(papers_for(tmp_path, HOSTS, NOW))
    assert all(papers.is_new for papers in seen)
    assert len({papers.fingerprint for papers in seen}) == len(seen)


def test_a_key_of_another_certificate_is_not_taken(tmp_path: Path) -> None:
    other = papers_for(tmp_path / "other", HOSTS, NOW)
    mine = papers_for(tmp_path / "mine", HOSTS, NOW)
    mine.key.write_bytes(other.key.read_bytes())
    assert papers_for(tmp_path / "mine", HOSTS, NOW).is_new


def test_names_and_addresses_are_what_others_can_use(monkeypatch) -> None:
    monkeypatch.setattr(socket, "gethostname", lambda: "Barn.fritz.box")
    monkeypatch.setattr(
        socket, "getaddrinfo", lambda *_: [(0, 0, 0, "", (ip, 0)) for ip in ("127.0.1.1", "192.0.2.9")]
    )
    monkeypatch.setattr(certificate, "_way_out", lambda: "192.0.2.20")
    assert certificate.own_names() == ("barn.fritz.box", "barn", "barn.local")
    assert certificate.own_addresses() == ("192.0.2.20", "192.0.2.9")

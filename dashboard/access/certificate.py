"""The certificate that this computer makes for itself, so that nobody in the network can read along."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING

from dashboard.access.private import write_private

if TYPE_CHECKING:
    from cryptography import x509
    from cryptography.hazmat.primitives.asymmetric.ec import EllipticCurvePrivateKey
    from cryptography.x509 import Certificate

LASTS = timedelta(days=365)
RENEWED_BEFORE = timedelta(days=30)
"""A certificate is renewed when it has no longer than this to go."""
LOOPBACK = ("127.0.0.1", "localhost")
_NOWHERE = ("192.0.2.1", 9)
"""An address kept for examples (RFC 5737): nothing is sent, but the system names the way out."""


@dataclass(frozen=True, slots=True)
class Papers:
    """A certificate and its key.

    Attributes:
        certificate: file of the certificate.
        key: file of its key, which only the owner may read.
        fingerprint: SHA-256 of the certificate as browsers print it, pairs joined by colons.
        is_new: whether it was made just now, so that devices ask again.
    """

    certificate: Path
    key: Path
    fingerprint: str
    is_new: bool


def own_addresses() -> tuple[str, ...]:
    """Addresses of this computer in its network, the usual way out first; none where it is in none."""
    found = [_way_out(), *_by_name()]
    kept = [one for one in dict.fromkeys(found) if one and not ipaddress.ip_address(one).is_loopback]
    return tuple(kept)


def own_names() -> tuple[str, ...]:
    """Names under which others in the network may know this computer."""
    name = socket.gethostname().lower().rstrip(".")
    short = name.split(".")[0]
    return tuple(dict.fromkeys(one for one in (name, short, f"{short}.local") if one and one != "localhost"))


def papers_for(folder: Path, hosts: Sequence[str], now: datetime | None = None) -> Papers:
    """The certificate for these names and addresses: the kept one while it holds, else a new one.

    Args:
        folder: where this computer keeps what belongs to access.
        hosts: names and addresses it must hold for.
        now: the time; the clock's unless given.

    Raises:
        StoreError: the folder cannot be written.
    """
    now = now or datetime.now(UTC)
    certificate, key = folder / "certificate.pem", folder / "key.pem"
    kept = _read(certificate, key)
    if kept is None or not _holds(kept, hosts, now):
        made, secret = _make(hosts, now)
        _write(certificate, key, made, secret)
        return Papers(certificate, key, _fingerprint(made), is_new=True)
    return Papers(certificate, key, _fingerprint(kept), is_new=False)


def _way_out() -> str:
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as probe:
        try:
            probe.connect(_NOWHERE)
        except OSError:
            return ""
        return str(probe.getsockname()[0])


def _by_name() -> list[str]:
    try:
        found = socket.getaddrinfo(socket.gethostname(), None, socket.AF_INET)
    except OSError:
        return []
    return [str(place[0]) for *_, place in found]


def _read(certificate: Path, key: Path) -> Certificate | None:
    """The kept certificate, when its key is there and belongs to it."""
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        kept = x509.load_pem_x509_certificate(certificate.read_bytes())
        secret = load_pem_private_key(key.read_bytes(), None)
    except (OSError, ValueError, TypeError):
        return None
    return kept if kept.public_key() == secret.public_key() else None


def _holds(kept: Certificate, hosts: Sequence[str], now: datetime) -> bool:
    from cryptography import x509

    names = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    known = set(names.get_values_for_type(x509.DNSName))
    known |= {str(address) for address in names.get_values_for_type(x509.IPAddress)}
    return now + RENEWED_BEFORE < kept.not_valid_after_utc and set(hosts) <= known


def _make(hosts: Sequence[str], now: datetime) -> tuple[Certificate, EllipticCurvePrivateKey]:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    subject = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "penwise on this computer")])
    made = (
        x509.CertificateBuilder(subject, subject, key.public_key(), x509.random_serial_number())
        .not_valid_before(now - timedelta(hours=1))  # clocks of phones differ
        .not_valid_after(now + LASTS)
        .add_extension(x509.SubjectAlternativeName([_general_name(host) for host in hosts]), critical=False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), critical=True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), critical=False)
        .sign(key, hashes.SHA256())
    )
    return made, key


def _general_name(host: str) -> x509.GeneralName:
    from cryptography import x509

    try:
        return x509.IPAddress(ipaddress.ip_address(host))
    except ValueError:
        return x509.DNSName(host)


def _write(certificate: Path, key: Path, made: Certificate, secret: EllipticCurvePrivateKey) -> None:
    from cryptography.hazmat.primitives import serialization as ways

    as_pem = ways.Encoding.PEM
    plain = secret.private_bytes(as_pem, ways.PrivateFormat.PKCS8, ways.NoEncryption())
    write_private(key, plain)
    write_private(certificate, made.public_bytes(as_pem))


def _fingerprint(certificate: Certificate) -> str:
    from cryptography.hazmat.primitives import hashes

    return certificate.fingerprint(hashes.SHA256()).hex(":").upper()

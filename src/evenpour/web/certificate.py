"""A certificate of one's own for https on the local network: it encrypts, and vouches for itself alone.

No authority signs for an address in a workshop. So a phone warns once, and whoever holds it compares the
certificate's fingerprint with the one shown at the machine.
"""

from __future__ import annotations

import ipaddress
import os
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import TYPE_CHECKING, Final

from evenpour.errors import Refused
from evenpour.job.places import home

if TYPE_CHECKING:
    from cryptography.x509 import Certificate

HOLDS: Final = timedelta(days=365)
RENEWED: Final = timedelta(days=14)  # before it runs out
_LATE: Final = timedelta(days=1)  # a phone's clock may be behind


@dataclass(frozen=True, slots=True)
class OwnCertificate:
    """The files a server needs, and what a person compares.

    Attributes:
        certificate, key: PEM files; the key is readable by its owner alone.
        fingerprint: SHA-256 of the certificate, in pairs.
        until: The last moment it holds, UTC.
    """

    certificate: Path
    key: Path
    fingerprint: str
    until: datetime


def certificate_for(
    address: str, folder: Path | None = None, *, now: datetime | None = None
) -> OwnCertificate:
    """The certificate kept for *address*; a new one if there is none, it is of another address or runs out.

    Raises:
        Refused: nothing can be written there.
    """
    folder, now = folder or home() / "sharing", now or datetime.now(UTC)
    files = folder / "certificate.pem", folder / "key.pem"
    try:
        kept = _kept(*files)
        if kept is None or not _serves(kept, address, now):
            folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            kept = _made(address, *files, now)
    except OSError as error:
        raise Refused(
            "The certificate cannot be kept.", [f"{error.filename}: {error.strerror or error}"]
        ) from None
    return OwnCertificate(*files, _fingerprint(kept), kept.not_valid_after_utc)


def _kept(certificate: Path, key: Path) -> Certificate | None:
    from cryptography import x509
    from cryptography.hazmat.primitives.serialization import load_pem_private_key

    try:
        found = x509.load_pem_x509_certificate(certificate.read_bytes())
        secret = load_pem_private_key(key.read_bytes(), password=None)
    except (FileNotFoundError, ValueError):
        return None  # none yet, or files that are none
    return found if secret.public_key() == found.public_key() else None


def _serves(kept: Certificate, address: str, now: datetime) -> bool:
    from cryptography import x509

    named = kept.extensions.get_extension_for_class(x509.SubjectAlternativeName).value
    addresses = [str(one) for one in named.get_values_for_type(x509.IPAddress)]
    return addresses == [address] and kept.not_valid_before_utc <= now < kept.not_valid_after_utc - RENEWED


def _made(address: str, certificate: Path, key: Path, now: datetime) -> Certificate:
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import ExtendedKeyUsageOID, NameOID

    secret = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, f"evenpour at {address}")])
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(secret.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - _LATE)
        .not_valid_after(now + HOLDS)
        .add_extension(x509.SubjectAlternativeName([x509.IPAddress(ipaddress.ip_address(address))]), False)
        .add_extension(x509.BasicConstraints(ca=False, path_length=None), True)
        .add_extension(x509.ExtendedKeyUsage([ExtendedKeyUsageOID.SERVER_AUTH]), False)
        .sign(secret, hashes.SHA256())
    )
    private = secret.private_bytes(
        serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption()
    )
    _put(key, private, 0o600)
    _put(certificate, made.public_bytes(serialization.Encoding.PEM), 0o644)
    return made


def _put(file: Path, content: bytes, mode: int) -> None:
    """Written beside and moved there; readable as *mode* says from the first byte on."""
    beside = file.with_suffix(".part")
    beside.unlink(missing_ok=True)
    with os.fdopen(os.open(beside, os.O_WRONLY | os.O_CREAT | os.O_EXCL, mode), "wb") as opened:
        opened.write(content)
    beside.replace(file)


def _fingerprint(kept: Certificate) -> str:
    from cryptography.hazmat.primitives import hashes

    return kept.fingerprint(hashes.SHA256()).hex(":").upper()

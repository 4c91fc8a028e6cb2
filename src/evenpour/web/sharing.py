"""Sharing on the local network: what the server, the door and the page at the machine know of it together."""

from __future__ import annotations

from dataclasses import dataclass, field

from evenpour.web.pairing_codes import Code, PairingCodes
from evenpour.web.phones import Phones

OPEN_TALK = (
    "This connection is not encrypted: whoever is on the same network can read along, names and photos "
    "included, and could act in the name of a paired phone. Use it where you trust everybody on the network."
)
CLOSE_IT = "Started with --https as well, nobody can read along."
"""For whoever can start it: somebody at the machine."""


@dataclass(frozen=True, slots=True)
class Sharing:
    """Pages shared at one address.

    Attributes:
        host: The address without a port: the only name that is answered there.
        address: Scheme, host and port as a browser types them, without a slash at the end.
        fingerprint: SHA-256 of the certificate, in pairs; empty on plain http.
    """

    host: str
    address: str
    fingerprint: str = ""
    codes: PairingCodes = field(default_factory=PairingCodes)
    phones: Phones = field(default_factory=Phones)

    @property
    def encrypted(self) -> bool:
        """Whether nobody can read along."""
        return bool(self.fingerprint)

    def link(self, code: Code | None) -> str:
        """What the QR code holds: the address, with the pairing code filled in."""
        return f"{self.address}/pair" + (f"?code={code.digits}" if code else "")

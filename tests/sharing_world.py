"""Pages shared with paired phones, and the machine that serves them: two servers over one store, as in life.

Both answer at this machine's own address here, at different ports: the tests can count on that anywhere. The
long tests share at the real address of the machine, where it has one.
"""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path

import httpx

from evenpour.job.shop import Shop
from evenpour.job.store import Store
from evenpour.web.app import app_for, shared_app_for
from evenpour.web.certificate import certificate_for
from evenpour.web.drawing_room import DrawingRoom
from evenpour.web.gate import COOKIE
from evenpour.web.phones import Phones
from evenpour.web.serving import address_of, beside, bound
from evenpour.web.sharing import Sharing


@dataclass(frozen=True)
class Workshop:
    """A store, the address at the machine, and the one that is shared."""

    store: Store
    machine: str
    sharing: Sharing

    @property
    def shared(self) -> str:
        """The address for phones."""
        return self.sharing.address

    @property
    def code(self) -> str:
        """The pairing code that holds now."""
        code = self.sharing.codes.current()
        assert code is not None
        return code.digits

    def phone(self, **more: object) -> httpx.Client:
        """A phone without scripts, not paired."""
        return httpx.Client(base_url=self.shared, headers={"origin": self.shared}, timeout=30.0, **more)  # type: ignore[arg-type]

    def paired(self, name: str = "Bay phone", **more: object) -> httpx.Client:
        """A phone that is let in."""
        with self.phone(**more) as asking:
            answer = asking.post("/pair", data={"code": self.code, "name": name})
        assert answer.status_code == 303, answer.text
        return self.phone(cookies={COOKIE: asking.cookies[COOKIE]}, **more)

    def at_machine(self) -> httpx.Client:
        """A browser on the machine itself."""
        return httpx.Client(base_url=self.machine, headers={"origin": self.machine}, timeout=30.0)


@contextmanager
def workshop(
    store: Store, folder: Path, port: int = 0, host: str = "127.0.0.1", *, https: bool = False
) -> Iterator[Workshop]:
    """A store's pages, served at the machine and shared."""
    shop, drawing_room = Shop(store), DrawingRoom()
    certificate = certificate_for(host, folder) if https else None
    with bound(port, host) as shared, bound(0) as own:
        sharing = Sharing(
            host,
            address_of(shared, "https" if https else "http").rstrip("/"),
            certificate.fingerprint if certificate else "",
            phones=Phones(folder / "phones"),
        )
        machine = app_for(shop, sharing=sharing, drawing_room=drawing_room)
        phones = shared_app_for(shop, sharing, drawing_room)
        with beside(machine, own), beside(phones, shared, certificate=certificate):
            yield Workshop(store, address_of(own).rstrip("/"), sharing)
    drawing_room.close()

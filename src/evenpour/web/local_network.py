"""Where on the local network this machine is: the one address at which phones can find the pages."""

from __future__ import annotations

import ipaddress
import socket
from collections.abc import Iterator
from typing import Final

from evenpour.errors import FieldProblem, Refused

# An address kept free for examples. A datagram socket is told of it, to learn the way out; nothing is sent.
_ANYWHERE: Final = ("192.0.2.1", 9)


def local_address(named: str | None = None) -> str:
    """The IPv4 address at which this machine is found on its local network.

    Args:
        named: The one to use, where a machine has several; it is only looked at, not tried.
    Raises:
        FieldProblem: what is named is no IPv4 address.
        Refused: there is no network, or the address can be reached from the whole internet.
    """
    found = [named] if named is not None else list(dict.fromkeys(_addresses()))
    read = [_read(one) for one in found]
    usable = [one for one in read if named is not None or not (one.is_loopback or one.is_unspecified)]
    if not usable:
        raise Refused(
            "This machine is in no network that could be shared on.",
            ["Join the workshop's Wi-Fi first; without --share the pages answer on this machine alone."],
        )
    near = next((one for one in usable if not one.is_global and not one.is_unspecified), None)
    if near is None:
        raise Refused(
            f"The pages are not shared at {usable[0]}.",
            [
                "That address is no private one: the whole internet could knock there.",
                "If this machine has another, in the workshop's own network, name it: --address 192.168.x.y",
            ],
        )
    return str(near)


def is_near(client: str) -> bool:
    """Whether a visitor comes from a private network (or this machine), and not from the internet."""
    try:
        return not ipaddress.ip_address(client.partition("%")[0]).is_global
    except ValueError:
        return False


def _addresses() -> Iterator[str]:
    """The address towards the way out of this network first; then whatever the machine's name stands for."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(_ANYWHERE)
            yield str(asked.getsockname()[0])
        except OSError:
            pass  # no way out; the network may still be there
    try:
        yield from socket.gethostbyname_ex(socket.gethostname())[2]
    except OSError:
        return


def _read(address: str) -> ipaddress.IPv4Address:
    try:
        return ipaddress.IPv4Address(address)
    except ValueError:
        raise FieldProblem(
            "address", address, "is no IPv4 address", allowed="four numbers like 192.168.1.20"
        ) from None

"""The phones that are let in: one small file each, named by the hash of what the phone carries.

A phone carries a random token in a cookie; only its SHA-256 is kept here, so that the folder lets nobody in
who reads it. To show a phone out is to remove its file, which counts from the next request on. The file's own
time says when the phone was last seen. So several servers over one home agree without speaking to each other.
"""

from __future__ import annotations

import hashlib
import json
import os
import re
import secrets
import time
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from evenpour.errors import FieldProblem, Refused
from evenpour.job.places import home

MOST: Final = 40
FORGOTTEN: Final = 90 * 24 * 3600.0  # s after which a phone that never came must be paired anew
NOTED: Final = 30.0  # s; being seen is written down no more often
LONGEST_NAME: Final = 40
_TOKEN: Final = re.compile(r"[A-Za-z0-9_-]{43}")
_KEY: Final = re.compile(r"[0-9a-f]{64}")


@dataclass(frozen=True, slots=True)
class Phone:
    """A paired phone.

    Attributes:
        key: SHA-256 of its token; no secret.
        name: What its owner calls it.
        paired, seen: By this machine's clock and offset, as ISO 8601.
    """

    key: str
    name: str
    paired: str
    seen: str


class Phones:
    """All that were paired and not shown out since.

    Args:
        folder: Where their files lie; made when the first is paired.
    """

    def __init__(self, folder: Path | None = None) -> None:
        self.folder = folder or home() / "sharing" / "phones"

    def pair(self, name: str) -> str:
        """Let a phone in from now on; the token that it shall carry.

        Raises:
            FieldProblem: it has no name.
            Refused: there are too many, or nothing can be written here.
        """
        name = " ".join(name.split())[:LONGEST_NAME]
        if not name:
            raise FieldProblem("name", None, "is missing", remedy="Say whose phone it is, to tell it apart")
        if len(self.all()) >= MOST:
            raise Refused(f"{MOST} phones are paired; no more are taken.", ["Show one out first."])
        token = secrets.token_urlsafe(32)
        told = json.dumps({"name": name, "paired": datetime.now(UTC).isoformat(timespec="seconds")})
        try:
            self.folder.mkdir(parents=True, exist_ok=True, mode=0o700)
            handle = os.open(self.folder / _key(token), os.O_WRONLY | os.O_CREAT | os.O_EXCL, 0o600)
            with os.fdopen(handle, "w", encoding="utf-8") as file:
                file.write(told)
        except OSError as error:
            raise Refused(
                "The pairing cannot be kept.", [f"{self.folder}: {error.strerror or error}"]
            ) from None
        return token

    def known(self, token: str) -> bool:
        """Whether a phone with that token is let in; it is noted that it was seen."""
        if not _TOKEN.fullmatch(token):
            return False
        file, now = self.folder / _key(token), time.time()
        try:
            seen = file.stat().st_mtime
            if now - seen > FORGOTTEN:
                return False
            if not 0 <= now - seen < NOTED:
                os.utime(file, (now, now))
        except FileNotFoundError:
            return False
        return True

    def all(self) -> tuple[Phone, ...]:
        """Every phone that is let in, the one seen last first."""
        return tuple(sorted(self._kept(), key=lambda one: one.seen, reverse=True))

    def show_out(self, key: str) -> None:
        """Let a phone in no longer; nothing is said of one that is not let in anyway."""
        if _KEY.fullmatch(key):
            (self.folder / key).unlink(missing_ok=True)

    def _kept(self) -> Iterator[Phone]:
        files = self.folder.iterdir() if self.folder.is_dir() else ()
        for file in files:
            if not _KEY.fullmatch(file.name):
                continue
            try:
                seen = file.stat().st_mtime
                told = json.loads(file.read_text(encoding="utf-8"))
                paired = datetime.fromisoformat(told["paired"])
            except (FileNotFoundError, ValueError, KeyError):
                continue  # shown out just now, or only half written yet
            if time.time() - seen <= FORGOTTEN:
                yield Phone(
                    file.name, str(told["name"]), _here(paired), _here(datetime.fromtimestamp(seen, UTC))
                )


def _here(moment: datetime) -> str:
    return moment.astimezone().isoformat(timespec="seconds")


def _key(token: str) -> str:
    return hashlib.sha256(token.encode()).hexdigest()

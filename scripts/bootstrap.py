"""Make .venv and install into it what the demo or the tests need.

Needs nothing but a Python: no root, no compiler, no other tool. As root it also fetches a browser for the
tests that drive one; without it they are skipped. Every package is checked against the hash in the lock. A
stamp in .venv remembers what was installed, so a second run does nothing. The syntax stays so old that an old
Python can still read this file and say in one line that it is too old.

    python3 scripts/bootstrap.py demo     what runs the tool (requirements.lock)
    python3 scripts/bootstrap.py test     and what tests it (requirements-dev.lock)
"""

import hashlib
import importlib.util
import os
import shutil
import subprocess
import sys
import time
from pathlib import Path
from typing import NoReturn

OLDEST = (3, 11)
ROOT = Path(__file__).resolve().parent.parent
VENV = ROOT / ".venv"
VENV_PYTHON = VENV / "bin" / "python"
STAMP = VENV / "evenpour-stamp"
LOCKS = {"demo": "requirements.lock", "test": "requirements-dev.lock"}
COVERED_BY = {"demo": ("demo", "test"), "test": ("test",)}  # the tests' packages include the tool's
BROWSERS = ("chromium", "chromium-browser", "google-chrome-stable")
NEEDS = {"demo": "what the tool needs", "test": "what the tool and its tests need"}


def main() -> None:
    """Bring .venv to the state that the mode on the command line asks for."""
    refuse_an_old_python()
    mode = sys.argv[1] if len(sys.argv) == 2 else ""
    if mode not in LOCKS:
        stop("say what for: scripts/bootstrap.py " + " or ".join(LOCKS))
    if is_installed(mode):
        if mode == "test":
            see_to_a_browser(fetch=False)
        return
    began = time.monotonic()
    make_venv()
    STAMP.unlink(missing_ok=True)  # from here to the end nothing is promised
    say(f"installing {NEEDS[mode]}; the first time this is a download of some 100 MB")
    install("--require-hashes", "--only-binary", ":all:", "--no-deps", "-r", str(ROOT / LOCKS[mode]))
    say("installing evenpour itself")
    install("--no-index", "--no-deps", "--no-build-isolation", "--editable", str(ROOT))
    STAMP.write_text(stamp(mode), encoding="utf-8")
    if mode == "test":
        see_to_a_browser(fetch=True)
    say(f"ready after {time.monotonic() - began:.0f} s")


def refuse_an_old_python() -> None:
    """Stop with one line, naming a newer Python if the search path holds one."""
    if sys.version_info >= OLDEST:
        return
    newer = [name for name in (f"python3.{minor}" for minor in range(20, 10, -1)) if runs(name)]
    remedy = f"Found {newer[0]}: run make again with PYTHON={newer[0]}." if newer else "Please install one."
    stop(f"Python 3.11 or newer is needed, and {sys.executable} is {sys.version.split()[0]}. {remedy}")


def runs(program: str) -> bool:
    """Whether it is on the search path and more than an empty shell."""
    silent = subprocess.DEVNULL
    found = shutil.which(program) is not None
    return found and subprocess.call([program, "--version"], stdout=silent, stderr=silent) == 0


def stamp(mode: str) -> str:
    """What .venv holds once *mode* is installed: Python, place, and the hashes of what decides the rest."""
    files = (LOCKS[mode], "pyproject.toml")
    hashes = [f"{name} {hashlib.sha256((ROOT / name).read_bytes()).hexdigest()}" for name in files]
    python = f"python {sys.version_info[0]}.{sys.version_info[1]}"
    return "\n".join([mode, python, str(ROOT), *hashes, ""])


def is_installed(mode: str) -> bool:
    """Whether the stamp says so and the Python it speaks of is still there."""
    if not (STAMP.is_file() and VENV_PYTHON.exists()):
        return False
    return STAMP.read_text(encoding="utf-8") in [stamp(covering) for covering in COVERED_BY[mode]]


def make_venv() -> None:
    """Make .venv, unless one of this Python is there: a newer lock is then installed over the older."""
    if VENV_PYTHON.exists() and version_of(VENV_PYTHON) == version_of(Path(sys.executable)):
        return
    if Path(sys.prefix).resolve() == VENV:
        stop("the .venv in use is broken: run deactivate, then the same command again.")
    say(f"making .venv with Python {sys.version.split()[0]}")
    pip_of_its_own = importlib.util.find_spec("ensurepip") is not None
    if not pip_of_its_own and importlib.util.find_spec("pip") is None:
        stop("this Python has neither ensurepip nor pip. On Debian: sudo apt install python3-venv")
    without = [] if pip_of_its_own else ["--without-pip"]
    run([sys.executable, "-m", "venv", "--clear", *without, str(VENV)], "no .venv could be made")


def version_of(python: Path) -> str:
    """Major and minor version of another interpreter, as in "3.11"."""
    asked = "import sys; print('%d.%d' % sys.version_info[:2])"
    answer = subprocess.run([str(python), "-c", asked], capture_output=True, text=True, check=False)
    return answer.stdout.strip()


def install(*what: str) -> None:
    """Let pip work quietly; its own words are seen only if something goes wrong."""
    has_pip = subprocess.run([str(VENV_PYTHON), "-c", "import pip"], capture_output=True, check=False)
    own = [str(VENV_PYTHON), "-m", "pip"]
    lent = [sys.executable, "-m", "pip", "--python", str(VENV_PYTHON)]
    pip = own if has_pip.returncode == 0 else lent
    trouble = "pip could not install this. Mostly there is no network, or no wheel for this machine"
    run([*pip, "install", "--quiet", "--disable-pip-version-check", "--no-input", *what], trouble)


def run(command: "list[str]", trouble: str) -> None:
    """Run one program; if it fails, its own words stand above ours."""
    environment = {**os.environ, "PIP_USER": "0"}  # "user" in a person's own settings does not work in a venv
    if subprocess.run(command, check=False, env=environment).returncode != 0:
        stop(f"{trouble}; its own words stand above.")


def see_to_a_browser(*, fetch: bool) -> None:
    """A browser for the tests that drive one: there already, or installed, or a line on what is skipped.

    It is no Python package and needs root, so nothing fails for want of it.
    """
    if any(runs(name) for name in BROWSERS):
        return
    may = hasattr(os, "geteuid") and os.geteuid() == 0 and shutil.which("apt-get") is not None
    if fetch and may:
        say("installing Chromium with apt-get, for the tests that drive a browser")
        asks_nothing, silent = {**os.environ, "DEBIAN_FRONTEND": "noninteractive"}, subprocess.DEVNULL
        for what in (["update"], ["install", "--yes", "--no-install-recommends", "chromium"]):
            subprocess.run(["apt-get", *what], check=False, env=asks_nothing, stdout=silent, stderr=silent)
        if any(runs(name) for name in BROWSERS):
            return
    say("no Chromium on this machine: tests that drive a browser are skipped (sudo apt-get install chromium)")


def say(line: str) -> None:
    """One line per stage."""
    print(f"evenpour: {line}", flush=True)


def stop(line: str) -> NoReturn:
    """End with one line on standard error."""
    sys.stdout.flush()
    sys.exit(f"evenpour: {line}")


if __name__ == "__main__":
    main()

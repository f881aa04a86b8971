"""Pages printed to PDF by an installed Chromium: no network, a profile of its own that is thrown
away.

In: a page as HTML. Out: the bytes of a PDF. Raises InputError where there is no Chromium, or where
it prints nothing.
"""

from __future__ import annotations

import os
import shutil
import signal
import subprocess
import tempfile
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from pathlib import Path
from typing import IO

from sim.errors import InputError, refuse
from sim.leaving import undisturbed

PROGRAMS = ("chromium", "chromium-browser")
VARIABLE = "STAYLIT_CHROMIUM"
SECONDS = 180
QUIET = (
    "--headless", "--disable-gpu", "--disable-dev-shm-usage", "--no-first-run", "--disable-sync",
    "--disable-background-networking", "--disable-component-update", "--disable-extensions",
    "--host-resolver-rules=MAP * ~NOTFOUND", "--no-pdf-header-footer",
)  # fmt: skip
WHERE = "--format pdf"
INSTEAD = "write --format html, and print that from any browser"


def browser() -> str:
    """The program that prints. Raises InputError if there is none."""
    named = os.environ.get(VARIABLE, "")
    found = (shutil.which(name) for name in ((named,) if named else PROGRAMS))
    program = next((each for each in found if each), None)
    if program is None:
        wrong = f"{VARIABLE} names no program: {named!r}" if named else "there is no Chromium here"
        allowed = f"{' or '.join(PROGRAMS)} on the path, or a program that {VARIABLE} names"
        raise refuse(WHERE, wrong, allowed, todo=f"install chromium, or {INSTEAD}")
    return program


def printed(page: str) -> bytes:
    """The page as a PDF. Raises InputError."""
    program = browser()
    with _folder() as here:
        (here / "page.html").write_text(page, encoding="utf-8", newline="\n")
        with (here / "said").open("wb") as said:
            try:
                _ran(_command(program, here), here, said)
            except subprocess.TimeoutExpired:
                raise _unprinted(program, f"took longer than {SECONDS} s") from None
            except OSError as error:
                raise _unprinted(program, f"does not run: {error.strerror}") from None
        return _read(program, here)


@contextmanager
def _folder() -> Iterator[Path]:
    """A folder for this alone, which is gone afterwards, whatever interrupts it."""
    made: tempfile.TemporaryDirectory[str] | None = None
    try:
        with undisturbed():
            made = tempfile.TemporaryDirectory(prefix="staylit-", ignore_cleanup_errors=True)
        yield Path(made.name)
    finally:
        with undisturbed():
            if made is not None:
                made.cleanup()


def _ran(command: list[str], here: Path, said: IO[bytes]) -> None:
    """Run it to its end; it and all that it started are gone then. What it writes for itself lies
    in the folder too.
    """
    process: subprocess.Popen[bytes] | None = None
    try:
        with undisturbed():
            process = subprocess.Popen(
                command, stdin=subprocess.DEVNULL, stdout=said, stderr=said,
                env={**os.environ, "TMPDIR": str(here)}, start_new_session=True,
            )  # fmt: skip
        process.wait(SECONDS)
    finally:
        with undisturbed():
            if process is not None:
                _end(process)


def _end(process: subprocess.Popen[bytes]) -> None:
    """Its whole group: a browser is several processes."""
    with suppress(ProcessLookupError, PermissionError):
        if hasattr(os, "killpg"):
            os.killpg(process.pid, signal.SIGKILL)
        else:
            process.kill()
    process.wait()


def _command(program: str, here: Path) -> list[str]:
    """Without a sandbox only for the superuser, for whom it does not start otherwise."""
    root = hasattr(os, "geteuid") and os.geteuid() == 0
    return [
        program, *QUIET, *["--no-sandbox"] * root, f"--user-data-dir={here / 'profile'}",
        f"--print-to-pdf={here / 'page.pdf'}", (here / "page.html").as_uri(),
    ]  # fmt: skip


def _read(program: str, here: Path) -> bytes:
    path = here / "page.pdf"
    made = path.read_bytes() if path.is_file() else b""
    if made.startswith(b"%PDF-"):
        return made
    said = (here / "said").read_text(encoding="utf-8", errors="replace").strip().splitlines()
    raise _unprinted(program, f"printed nothing: {said[-1][:200] if said else 'and says nothing'}")


def _unprinted(program: str, why: str) -> InputError:
    allowed = f"a Chromium that runs, such as one that {VARIABLE} names"
    return refuse(WHERE, f"{program} {why}", allowed, todo=INSTEAD)

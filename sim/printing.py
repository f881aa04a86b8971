"""Pages printed to PDF by an installed Chromium: no network, a profile of its own that is thrown
away.

In: a page as HTML. Out: the bytes of a PDF. Raises InputError where there is no Chromium, or where
it prints nothing.
"""

from __future__ import annotations

import os
import shutil
import subprocess
import tempfile
from pathlib import Path

from sim.errors import InputError, refuse

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
    with tempfile.TemporaryDirectory(prefix="staylit-", ignore_cleanup_errors=True) as folder:
        here = Path(folder)
        (here / "page.html").write_text(page, encoding="utf-8", newline="\n")
        with (here / "said").open("wb") as said:
            try:
                subprocess.run(
                    _command(program, here), stdin=subprocess.DEVNULL, stdout=said, stderr=said,
                    timeout=SECONDS, check=False,
                )  # fmt: skip
            except subprocess.TimeoutExpired:
                raise _unprinted(program, f"took longer than {SECONDS} s") from None
            except OSError as error:
                raise _unprinted(program, f"does not run: {error.strerror}") from None
        return _read(program, here)


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

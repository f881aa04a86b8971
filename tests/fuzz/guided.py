"""Inputs led by what the code does with them: bytes changed by atheris, kept where they reach new
lines. It is in the extra `fuzz`, and not needed for anything else.

In: a target, seconds. Out: what goes wrong, as a file; status 0, or what the process ended with.
"""

from __future__ import annotations

import multiprocessing
import tempfile
from pathlib import Path

from tests.fuzz.targets import CORPUS, TARGETS

LONGEST = 20_000
"""Bytes of an input."""


def guided(name: str, seconds: float, keep: Path) -> int:
    """Lead changes of one target's corpus for so long, in a process of its own."""
    how = multiprocessing.get_context("spawn")
    process = how.Process(target=_lead, args=(name, seconds, keep))
    process.start()
    process.join()
    return process.exitcode or 0


def _lead(name: str, seconds: float, keep: Path) -> None:
    import atheris

    with atheris.instrument_imports(include=["sim"]):
        from tests.fuzz.running import kept
        from tests.fuzz.targets import warm
        from tests.fuzz.trying import tried

        warm()
    target = TARGETS[name]
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as grown:
        for number, seed in enumerate(target.seeds()):
            (Path(grown) / f"seed-{number}").write_text(seed, encoding="utf-8")

        def once(made: bytes) -> None:
            found = tried(target, made, Path(folder))
            if not found.good:
                print(kept(keep, target, made, found), flush=True)

        options = [f"-max_total_time={int(seconds)}", f"-max_len={LONGEST}", "-seed=1"]
        own = [str(CORPUS / name)] if (CORPUS / name).is_dir() else []
        atheris.Setup(["fuzz", *options, grown, *own], once)
        atheris.Fuzz()


__all__ = ["guided"]

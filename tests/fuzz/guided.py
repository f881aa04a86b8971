"""Inputs led by what the code does with them: bytes changed by atheris, kept where they reach new
lines. It is in the extra `fuzz`, and not needed for anything else.

In: a target, seconds. Out: what goes wrong, as files; status 0, 1 where something did, or what the
process ended with. Of a journal only what a line says is changed (its check would refuse all else),
of texts of the command line one at a time.
"""

from __future__ import annotations

import multiprocessing
import tempfile
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from tests.fuzz.journals import framed, texts_in
from tests.fuzz.targets import TARGETS, Target

LONGEST = 40_000
"""Bytes of an input."""
Cut = Callable[[Sequence[str]], Sequence[str]]
Framed = Callable[[bytes], bytes]


def _as_it_is(made: bytes) -> bytes:
    return made


def _lines(seeds: Sequence[str]) -> Sequence[str]:
    return [line for seed in seeds for line in seed.splitlines() if line]


PARTS: Mapping[str, tuple[Cut, Framed]] = {
    "journal": (texts_in, framed), "said": (_lines, _as_it_is)
}  # fmt: skip
"""Of these targets a part is changed: what the parts of seeds are, and the file of a part."""


def parts_of(target: Target) -> tuple[Sequence[str], Framed]:
    """What changes begin with, and what makes a file of each."""
    cut, framed_ = PARTS.get(target.name, (list, _as_it_is))
    return cut(target.seeds()), framed_


def guided(name: str, seconds: float, keep: Path) -> int:
    """Lead changes of one target's corpus for so long, in a process of its own."""
    before = found_in(keep, name)
    how = multiprocessing.get_context("spawn")
    process = how.Process(target=_lead, args=(name, seconds, keep))
    process.start()
    process.join()
    return process.exitcode or int(found_in(keep, name) > before)


def found_in(keep: Path, name: str) -> set[Path]:
    """What went wrong with a target until now."""
    return {*keep.glob(f"{name}-*")}


def _lead(name: str, seconds: float, keep: Path) -> None:
    import atheris

    target = TARGETS[name]
    with tempfile.TemporaryDirectory() as folder, tempfile.TemporaryDirectory() as grown:
        with atheris.instrument_imports(include=["sim"]):
            from tests.fuzz.running import kept
            from tests.fuzz.targets import warm
            from tests.fuzz.trying import tried

            warm()
            for seed in target.seeds():  # what it loads when it is first asked counts as well
                tried(target, seed.encode(), Path(folder))
        seeds, whole = parts_of(target)
        for number, seed in enumerate(seeds):
            (Path(grown) / f"seed-{number}").write_text(seed, encoding="utf-8")

        def once(made: bytes) -> None:
            found = tried(target, whole(made), Path(folder))
            if not found.good:
                print(kept(keep, target, whole(made), found), flush=True)

        options = [f"-max_total_time={int(seconds)}", f"-max_len={LONGEST}", "-seed=1"]
        atheris.Setup(["fuzz", *options, grown], once)
        atheris.Fuzz()


__all__ = ["guided"]

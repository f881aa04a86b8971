"""Every command on the smallest scenario, with each option that writes a file.

In: a folder. Out: arguments of `staylit`, by a name of their own; the place of the file to write
is `OUT`. `settled`: files that some of them read, laid into the folder.
"""

from __future__ import annotations

import shutil
from collections.abc import Mapping
from pathlib import Path

ROOT = Path(__file__).parents[1]
CORPUS = Path(__file__).parent / "fuzz" / "corpus"
OUT = "OUT"
DRILL = ("--drill", "drill.yaml", "--script", "acts.yaml")
SHEET = ("--read", "sheet.csv", "--begins", "2026-05-01 20:00")
TO = ("--output", OUT)
COMMANDS: Mapping[str, tuple[str, ...]] = {
    "check": ("check", "first.yaml", *TO),
    "explain": ("explain", "first.yaml", "latent", *TO),
    "inject": ("inject", "first.yaml", "dead panel/unit-a at 5 s", *TO),
    "faults": ("faults", "first.yaml", *TO),
    "compare": ("compare", "first.yaml", *TO),
    "rates": ("rates", "records.csv", *TO),
    "rates --file": ("rates", "records.csv", "--file", OUT, "--force"),
    "risk": ("risk", "first.yaml", "--cut-sets", "1", *TO),
    "draw": ("draw", "first.yaml", *TO),
    "diagnose": ("diagnose", "first.yaml", "--seen", "panel all dark", *TO),
    "rehearse": ("rehearse", "first.yaml", *DRILL, *TO),
    "rehearse --record": ("rehearse", "first.yaml", *DRILL[:2], "--record", OUT),
    "rehearse --results": ("rehearse", "first.yaml", *DRILL[:2], "--results", OUT),
    "rehearse --write-drill": ("rehearse", "first.yaml", "--drawn", "3", "--write-drill", OUT),
    "rehearse --progress": (
        "rehearse", "first.yaml", "--progress", "--results", "mine.csv", *TO,
    ),
    "proof": ("proof", "first.yaml", *TO),
    "proof --read": ("proof", "first.yaml", *SHEET, "--force", *TO),
    "slips": ("slips", "first.yaml", *TO),
    "new": ("new", OUT, "--columns", "4", "--rows", "2", "--force"),
}  # fmt: skip
READ = {
    "first.yaml": ROOT / "scenarios" / "first.yaml",
    "records.csv": ROOT / "scenarios" / "records-example.csv",
    "drill.yaml": CORPUS / "drill" / "whole.yaml",
    "acts.yaml": CORPUS / "script" / "acts.yaml",
    "sheet.csv": CORPUS / "sheet" / "filled.csv",
    "mine.csv": CORPUS / "results" / "mine.csv",
    "own.yaml": CORPUS / "rates" / "own.yaml",
    "shown.yaml": CORPUS / "proof" / "showed.yaml",
}
"""What lies in the folder; the scenario names the last two."""


def settled(folder: Path) -> Path:
    """A folder with all that the commands read."""
    for name, path in READ.items():
        shutil.copyfile(path, folder / name)
    with (folder / "first.yaml").open("a", encoding="utf-8") as file:
        file.write("\nrate_files: own.yaml\nproof_files: [shown.yaml]\n")
    return folder


def arguments(name: str, out: str) -> list[str]:
    """What is asked, with the file to write in its place."""
    return [out if each == OUT else each for each in COMMANDS[name]]


def inputs(name: str) -> list[str]:
    """The files that a command reads, those that its scenario names among them."""
    read = [each for each in COMMANDS[name] if each in READ]
    return read + (["own.yaml", "shown.yaml"] if "first.yaml" in read else [])

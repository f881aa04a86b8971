"""Writes the sample reports and README's outputs afresh: `.venv/bin/python tests/regenerate.py`.

In: the scenarios that come with the program. Out: the files in reports/, whose names and contents
`samples` gives, and the outputs that README.md shows; tests/test_golden.py and
tests/test_readme.py hold them to it.
"""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import cache
from pathlib import Path

ROOT = Path(__file__).parents[1]
sys.path.insert(0, str(ROOT))

from sim import commands, commands_risk  # noqa: E402
from sim import commands_practice as practice  # noqa: E402
from sim import commands_rehearse as rehearsing  # noqa: E402
from sim.asked import Asked  # noqa: E402
from sim.commands import Compared  # noqa: E402
from sim.commands_risk import Risked  # noqa: E402
from sim.risk.asked import RiskAsked  # noqa: E402
from sim.shipped import find_drill  # noqa: E402
from tests.readme_shows import README, refreshed  # noqa: E402

REPORTS = ROOT / "reports"
FORMATS = {".txt": "text", ".md": "markdown", ".json": "json", ".csv": "csv", ".html": "html"}
CUT = "cut main/trunk-main-a-1 at 20:10:00;00 for 4 s"


def asked(name: str, scenario: str, topology: str = "") -> Asked:
    """What a sample of this name is asked for; the format goes by its ending."""
    form = FORMATS[Path(name).suffix]
    return Asked(ROOT / "scenarios" / f"{scenario}.yaml", topology=topology, format=form)


@cache
def _compared(scenario: str) -> Compared:
    """Worked out for a page where there is one: that holds all that the other formats tell."""
    form = "html" if f"compare-{scenario}.html" in SAMPLES else "text"
    return commands.compared(Asked(ROOT / "scenarios" / f"{scenario}.yaml", format=form))


def _comparison(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands.compare_in(_compared(scenario), asked(name, scenario)).text


def _faults(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands.faults(asked(name, scenario)).text


def _check(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands.check(asked(name, scenario)).text


def _injection(name: str, scenario: str, fault: str) -> Callable[[], str]:
    return lambda: commands.inject(asked(name, scenario), [fault], [], "typical").text


@cache
def _risked(scenario: str) -> Risked:
    wanted = RiskAsked(shows=5000, workers=1)
    return commands_risk.risked(Asked(ROOT / "scenarios" / f"{scenario}.yaml"), wanted)


def _risk(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands_risk.risk_in(_risked(scenario), asked(name, scenario)).text


def _risk_page(name: str, scenario: str, topology: str) -> Callable[[], str]:
    wanted = RiskAsked(topology=topology, shows=3000, workers=1)
    return lambda: commands.risk(asked(name, scenario), wanted).text


def _cut_sets(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands.cut_sets(asked(name, scenario), RiskAsked(), 2, 4.0).text


def _sheet(name: str, scenario: str) -> Callable[[], str]:
    return lambda: commands.proof(asked(name, scenario)).text


def _diagnosis(name: str, scenario: str, *seen: str) -> Callable[[], str]:
    return lambda: practice.diagnose(asked(name, scenario), seen, (), "").text


def _drill(name: str, drill: str) -> Callable[[], str]:
    wanted = asked(name, "river")
    script = ROOT / "scenarios" / "drills" / f"{drill}.script.yaml"
    return lambda: (
        rehearsing.scripted(rehearsing.ready(wanted, find_drill(drill)), script, wanted).text
    )


def _slips(name: str, scenario: str, group: str = "") -> Callable[[], str]:
    meant = replace(asked(name, scenario), group=group)
    return lambda: commands.slips(meant, (), "a4").text


SAMPLES: dict[str, Callable[[], str]] = {
    **{
        name: _comparison(name, scenario)
        for name, scenario in (
            ("compare-first.txt", "first"),
            ("compare-studio.txt", "studio"),
            ("compare-river.txt", "river"),
            ("compare-river.md", "river"),
            ("compare-river.json", "river"),
            ("compare-river.csv", "river"),
            ("compare-river.html", "river"),
        )
    },
    "faults-first.txt": _faults("faults-first.txt", "first"),
    "faults-studio.html": _faults("faults-studio.html", "studio"),
    "faults-studio.csv": _faults("faults-studio.csv", "studio"),
    "check-river.txt": _check("check-river.txt", "river"),
    "check-first.md": _check("check-first.md", "first"),
    "risk-first.txt": _risk("risk-first.txt", "first"),
    "risk-first.md": _risk("risk-first.md", "first"),
    "risk-studio.html": _risk_page("risk-studio.html", "studio", "two-unit"),
    "cut-sets-first.txt": _cut_sets("cut-sets-first.txt", "first"),
    "proof-river.html": _sheet("proof-river.html", "river"),
    "rehearse-river.html": _drill("rehearse-river.html", "river-cut-trunk"),
    "proof-first.md": _sheet("proof-first.md", "first"),
    "slips-first.md": _slips("slips-first.md", "first"),
    "slips-banks.html": _slips("slips-banks.html", "river", "banks"),
    "diagnose-first.txt": _diagnosis("diagnose-first.txt", "first", "panel all dark"),
    "inject-river.txt": _injection("inject-river.txt", "river", CUT),
}
"""The text of each sample report, by the name of its file."""


def samples() -> Iterator[tuple[str, str]]:
    """Every sample with its text."""
    return ((name, make()) for name, make in SAMPLES.items())


def main() -> None:
    REPORTS.mkdir(exist_ok=True)
    for name, text in samples():
        (REPORTS / name).write_text(text, encoding="utf-8", newline="\n")
        print(f"wrote reports/{name}")
    README.write_text(refreshed(README.read_text(encoding="utf-8")), encoding="utf-8", newline="\n")
    print("wrote README.md")


if __name__ == "__main__":
    main()

"""How the project is laid out: who may import whom, how long things are, which hosts are named.

In: the source files, read as text and as syntax trees. Out: a failure that says what to do.
A new file in sim/ gets its place in ORDER; a new third-party package gets its door in DOORS.
"""

from __future__ import annotations

import ast
import fnmatch
import json
import re
import socket
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import dataclass
from functools import cache
from graphlib import TopologicalSorter
from pathlib import Path
from statistics import median

import pytest

ROOT = Path(__file__).parents[1]
SIM = ROOT / "sim"

ORDER = tuple(
    """
    __init__ bounds harmless errors faults intervals quantity timebase timecode leaving memory
    children executing processes order
    rig.__init__ rig.terms rig.wall rig.kit rig.figures rig.chains rig.equipment rig.placeholders
    rig.rates rig.topology rig.once rig.cuts rig.plan rig.audit rig.validator rig.bill rig.forms
    rig.draft rig.downstream rig.mains rig.upstream rig.patterns rig.counts rig.refusals rig.names
    rig.cabinets
    scenario.__init__ scenario.document scenario.stand_ins scenario.fields scenario.starter
    scenario.messages scenario.numbers scenario.ratetext scenario.entries scenario.kits
    scenario.rate_entries scenario.stated scenario.laws scenario.risk_entries scenario.models
    scenario.rate_files scenario.proof_files scenario.counts
    scenario.schema scenario.shape scenario.written
    scenario.assumed scenario.checks scenario.formed scenario.content scenario.supply scenario.files
    scenario.contract_checks scenario.risk_checks scenario.mending scenario.risk_terms
    scenario.declared scenario.scenario scenario.digest scenario.plan scenario.rigs scenario.rated
    scenario.matches scenario.included scenario.loader scenario.risk_assumed
    limits.__init__ limits.delays limits.findings limits.formulas limits.cables limits.seamless
    limits.loads limits.picture limits.alignment limits.static limits.trunk_ways limits.capacity
    engine.__init__ engine.wiring engine.signal engine.condition engine.selector engine.symmetry
    engine.branches engine.tables engine.board engine.nodes engine.recording engine.settling
    engine.playing engine.run engine.onward engine.through engine.live
    study.__init__ study.strikes study.ledger study.glossary study.survival study.races
    study.fault_names study.item_names study.fault_text study.fault_writing study.readings
    study.effects study.reasons study.mirrors study.outcome study.concern study.settled
    study.alike study.undisturbed study.showing study.laboratory
    study.shown study.promises study.contingency study.decisive study.flashing study.footprint
    study.ripple study.latent study.swings study.injection study.joint study.overlaps
    study.pairing study.rows study.deeds
    study.screen study.named study.replay study.hidden study.hangs study.points study.bunches
    study.study study.doubles study.watching study.alternatives study.told study.idle study.checkup
    study.explanation
    reliability.__init__ reliability.cutsets reliability.quantiles reliability.recorded
    reliability.markov reliability.money reliability.estimates reliability.strata
    reliability.records reliability.repairable reliability.posterior reliability.riskmatrix
    reliability.learned reliability.beside
    risk.__init__ risk.asked risk.channels risk.striking risk.streams risk.laws
    risk.profile risk.beforehand risk.shared risk.visits risk.stretches risk.hazards
    risk.response risk.alone risk.sight risk.figures risk.results risk.dues risk.values risk.events
    risk.once risk.telling risk.related risk.scenes risk.shows risk.plants
    risk.turns risk.onset risk.single risk.upkeep risk.field risk.parcels risk.bench risk.piles
    risk.bands
    risk.boosts
    risk.pairs risk.piling risk.montecarlo risk.mending risk.setting risk.sums
    risk.nights risk.gathered risk.economics risk.prices risk.severity risk.helps risk.register
    risk.curve risk.recovery risk.reaching risk.risks risk.helping risk.topology_risk risk.plain
    risk.ways risk.study risk.promised
    reliability.theory_steps reliability.theory_things reliability.theory_choice
    reliability.theory_nodes reliability.theory_chosen reliability.theory_wiring
    reliability.theory_rig reliability.theory_cells reliability.theory_blows
    reliability.theory_cones reliability.theory_pairs reliability.theory_sums
    reliability.theory_cuts reliability.theory reliability.theory_histories
    reliability.theory_whole
    risk.verifying risk.cuts risk.cutting
    practice.__init__ practice.desk practice.moments practice.symptoms practice.library
    practice.evidence practice.saying practice.match practice.causes practice.pairs practice.efforts
    practice.nexts practice.diagnosis
    practice.fades practice.acts practice.costs practice.cautions practice.course practice.sight
    practice.touch
    practice.commands practice.handwork practice.settings practice.hands
    practice.mends practice.outcome practice.drill practice.moves practice.best practice.review
    practice.files practice.planning practice.drawing practice.composing practice.results
    practice.advice
    practice.proof_cover practice.protections practice.pulls practice.picked practice.filming
    practice.testsheet practice.narrowing practice.filled practice.meter practice.proving
    practice.proof_text
    practice.kindred practice.aftermath practice.remedies practice.trials practice.weighing
    practice.steps practice.slips practice.nevers practice.handover
    report.__init__ report.blocks report.words report.svg report.ways report.ranks
    report.row_fields report.jsondoc report.folding report.check_delays report.check_figures
    report.events report.markdown report.reasonwords report.rowtext report.text report.scheme
    report.wall_drawing report.layering report.bench_tables report.bench_data
    report.tables report.values report.inject_report report.lead report.equipment_drawing
    report.bench_wall report.bench_view report.check_lines report.kit_facts report.outcome_rows
    report.assumption_blocks report.explain_report report.differences report.faults_report
    report.pairs_report
    report.drawing report.check_report report.compare_details report.compare_report
    report.rates_report report.risk_words report.risk_sight report.risk_lead
    report.risk_first report.risk_topologies report.risk_risks report.risk_answers
    report.risk_register report.risk_report report.risk_data report.verify_report report.cuts_report
    report.diagnose_report
    report.practise_report report.rehearse_line report.best_report report.rehearse_report
    report.situation
    report.briefing
    report.sheet_steps report.sheet_report report.proof_report
    report.templating report.slips_acts report.slips_words report.slips_report report.slips_page
    report.charts report.compare_charts report.risk_charts report.page_answers report.page_blocks
    report.page_charts report.page_figures report.page report.pages
    asked benches cli_options output journal checkpoint cluster executors typed printing shipped
    workers spoken commands_pairs commands_practice
    commands_proof commands_risk commands_rehearse commands_slips commands pacing session prompting
    cli_asked cli_practice cli_proof cli_rates cli_risk cli_rehearse cli_slips cli __main__
    """.split()
)
"""Every file of sim/; each may import only files before it; a new one goes before its readers.

The order of the packages is that of the data: the rig, the scenario, static limits, the engine,
the study, reports, commands.
"""

SIBLINGS = (
    frozenset({"report.text", "report.markdown", "report.jsondoc"}),
    frozenset({"study.ledger", "study.strikes"}),
)
"""Files of one stage: none imports another of its set, whatever the order."""

DOORS = {
    "simpy": "engine.run risk.response",
    "networkx": "rig.topology rig.audit reliability.theory*",
    "numpy": "risk.*",
    "yaml": "scenario.document scenario.loader",
    "pydantic": "scenario.*",
    "click": (
        "cli cli_asked cli_options cli_practice cli_proof cli_rates cli_risk cli_rehearse cli_slips"
    ),
    "rich": "cli_asked",
    "distributed": "cluster",
    "tabulate": "report.*",
    "jinja2": "report.templating",
    "markupsafe": "report.templating",
    "matplotlib": "report.page_charts report.page_figures",
    "scipy": "reliability.quantiles",
}
"""Third-party package: the files that may import it."""

ONLY_IN_FUNCTIONS = frozenset(
    {"distributed", "networkx", "jinja2", "markupsafe", "matplotlib", "scipy"}
)
"""Slow to load, or an extra that may be missing: imported where they are used."""

NOT_AT_START = (
    "distributed",
    "jinja2",
    "matplotlib",
    "networkx",
    "numpy",
    "pydantic",
    "scipy",
    "simpy",
)
"""What `import sim.cli` must not load."""

HIDDEN_FROM_THEORY = frozenset(
    "engine.signal engine.wiring engine.selector engine.condition engine.tables engine.board"
    " engine.nodes engine.run study.ledger".split()
)
"""What theory (`THEORY`) is held against: sharing code with it would prove nothing."""

THEORY = tuple(name for name in ORDER if name.startswith("reliability."))

MOST_LINES = 299
LONG_FILES = {}
"""Files over MOST_LINES, with the reason; an entry that is no longer needed fails."""

MOST_MEDIAN = 8
MOST_FUNCTION = 40
LONG_FUNCTIONS: dict[str, str] = {}
"""Functions over MOST_FUNCTION lines as "file:name", with the reason; checked likewise."""

TOP_LEVEL = frozenset(
    """
    README.md DEVELOPERS.md pyproject.toml sim scenarios tests reports .ci .gitignore LICENSE
    .pre-commit-config.yaml .python-version constraints.txt uv.lock
    """.split()
)

NAMESPACES = frozenset({"json-schema.org", "www.w3.org", "graphml.graphdrawing.org"})
"""The only hosts that a file may name: they identify a format, nothing is fetched from them."""


@dataclass(frozen=True)
class Import:
    """One import: what (a dotted name), in which line, and whether it runs when the file loads."""

    target: str
    line: int
    at_load: bool


def _name(path: Path) -> str:
    return ".".join(path.relative_to(SIM).with_suffix("").parts)


FILES = {_name(path): path for path in sorted(SIM.rglob("*.py"))}
TESTS = sorted((ROOT / "tests").rglob("*.py"))


@cache
def _tree(name: str) -> ast.Module:
    return ast.parse(FILES[name].read_text(encoding="utf-8"))


def _is_type_guard(node: ast.AST) -> bool:
    return isinstance(node, ast.If) and ast.unparse(node.test).endswith("TYPE_CHECKING")


def _walk(node: ast.AST, at_load: bool = True) -> Iterator[tuple[ast.AST, bool]]:
    """Every node below `node`, with whether it is worked out when the file loads."""
    for child in ast.iter_child_nodes(node):
        later = isinstance(child, ast.FunctionDef | ast.AsyncFunctionDef) or _is_type_guard(child)
        yield child, at_load
        yield from _walk(child, at_load and not later)


def _targets(node: ast.AST, package: list[str]) -> list[str]:
    """The dotted names that an import statement names; empty for any other statement."""
    if isinstance(node, ast.Import):
        return [alias.name for alias in node.names]
    if not isinstance(node, ast.ImportFrom):
        return []
    above = package[: len(package) - node.level + 1] if node.level else []
    base = ".".join([*above, *([node.module] if node.module else [])])
    return [f"{base}.{alias.name}" for alias in node.names]


@cache
def _imports(name: str) -> tuple[Import, ...]:
    package = ["sim", *name.split(".")[:-1]]
    return tuple(
        Import(target, getattr(node, "lineno", 0), at_load)
        for node, at_load in _walk(_tree(name))
        for target in _targets(node, package)
    )


def _file_of(target: str) -> str:
    """The file of sim/ that `sim.x.y` comes from: the longest known prefix, else the package."""
    parts = target.split(".")[1:]
    for end in range(len(parts), 0, -1):
        stem = ".".join(parts[:end])
        for name in (stem, f"{stem}.__init__"):
            if name in FILES:
                return name
    return "__init__"


@cache
def _inner(name: str) -> frozenset[str]:
    """The files of sim/ that `name` imports, wherever in it."""
    return frozenset(
        _file_of(found.target) for found in _imports(name) if found.target.split(".")[0] == "sim"
    )


def _outer(name: str) -> list[tuple[str, Import]]:
    """The third-party packages that `name` imports."""
    tops = [(found.target.split(".")[0], found) for found in _imports(name)]
    return [(top, it) for top, it in tops if top != "sim" and top not in sys.stdlib_module_names]


def _reached(name: str) -> frozenset[str]:
    """All files that `name` imports, directly or through others."""
    seen: set[str] = set()
    todo = [name]
    while todo:
        fresh = _inner(todo.pop()) - seen
        seen |= fresh
        todo += fresh
    return frozenset(seen)


def _code_lines(function: ast.FunctionDef | ast.AsyncFunctionDef, lines: list[str]) -> int:
    """Lines from `def` to the end, without docstring, blank lines and comments."""
    end = function.end_lineno or function.lineno
    text = {function.body[0]} if ast.get_docstring(function) is not None else set()
    skipped = {n for node in text for n in range(node.lineno, (node.end_lineno or 0) + 1)}
    kept = [lines[n - 1].strip() for n in range(function.lineno, end + 1) if n not in skipped]
    return sum(1 for line in kept if line and not line.startswith("#"))


def _function_lengths() -> dict[str, int]:
    """Code lines of every function, by "file:name"; the longest where a name comes twice."""
    found: dict[str, int] = {}
    for name, path in FILES.items():
        lines = path.read_text(encoding="utf-8").splitlines()
        for node in ast.walk(_tree(name)):
            if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef):
                key = f"{name}:{node.name}"
                found[key] = max(found.get(key, 0), _code_lines(node, lines))
    return found


def _repository_files() -> list[Path]:
    """Every file below the agreed top-level names that .gitignore does not leave out."""
    below = [ROOT / name for name in sorted(TOP_LEVEL)]
    files = [path for top in below for path in ([top] if top.is_file() else top.rglob("*"))]
    return [path for path in files if path.is_file() and not _is_ignored(path)]


@cache
def _ignored_patterns() -> tuple[str, ...]:
    lines = (ROOT / ".gitignore").read_text(encoding="utf-8").splitlines()
    return tuple(line.rstrip("/") for line in lines if line and not line.startswith("#"))


def _is_ignored(path: Path) -> bool:
    parts = path.relative_to(ROOT).parts
    return any(fnmatch.fnmatch(part, p) for part in parts for p in _ignored_patterns())


def test_every_file_has_a_place_in_the_order() -> None:
    unknown = sorted(set(FILES) - set(ORDER))
    assert not unknown, (
        f"no place for {unknown}: add each to ORDER in tests/test_architecture.py, before the "
        "first file that imports it, and to SIBLINGS if it shares a stage"
    )
    assert len(set(ORDER)) == len(ORDER), "a file stands twice in ORDER"


@pytest.mark.parametrize("name", sorted(FILES))
def test_a_file_imports_only_files_before_it(name: str) -> None:
    before = ORDER[: ORDER.index(name)] if name in ORDER else ()
    wrong = sorted(_inner(name) - set(before))
    assert not wrong, f"{FILES[name]} imports {wrong}, which do not come before it in ORDER"


@pytest.mark.parametrize("name", sorted(FILES))
def test_siblings_do_not_import_each_other(name: str) -> None:
    siblings = frozenset[str]().union(*(group for group in SIBLINGS if name in group))
    assert not _inner(name) & siblings, f"{FILES[name]} imports a file of its own stage"


def test_there_is_no_import_cycle() -> None:
    order = list(TopologicalSorter({name: _inner(name) for name in FILES}).static_order())
    assert set(order) == set(FILES)


@pytest.mark.parametrize("name", sorted(FILES))
def test_third_party_packages_come_in_by_their_door(name: str) -> None:
    for top, found in _outer(name):
        place = f"{FILES[name]}:{found.line}: {top}"
        doors = DOORS.get(top, "").split()
        assert any(fnmatch.fnmatch(name, door) for door in doors), f"{place}: not its door"
        assert top not in ONLY_IN_FUNCTIONS or not found.at_load, f"{place}: import in a function"


@pytest.mark.parametrize("name", sorted(FILES))
def test_no_file_imports_by_a_computed_name(name: str) -> None:
    words = {n.id for n in ast.walk(_tree(name)) if isinstance(n, ast.Name)}
    words |= {n.attr for n in ast.walk(_tree(name)) if isinstance(n, ast.Attribute)}
    assert not words & {"import_module", "__import__"}, "the layering cannot be read from it"


@pytest.mark.parametrize("name", THEORY)
def test_theory_never_reaches_what_it_is_held_against(name: str) -> None:
    assert not _reached(name) & HIDDEN_FROM_THEORY
    assert set(ORDER) >= HIDDEN_FROM_THEORY, "renamed? then their agreement is no longer guarded"


def test_files_are_short() -> None:
    lengths = {n: len(p.read_text(encoding="utf-8").splitlines()) for n, p in FILES.items()}
    over = {name for name, length in lengths.items() if length > MOST_LINES}
    assert over == set(LONG_FILES), "split what is new; take out what is no longer needed"


def test_functions_are_short() -> None:
    lengths = _function_lengths()
    over = {name for name, length in lengths.items() if length > MOST_FUNCTION}
    assert median(lengths.values()) <= MOST_MEDIAN
    assert over == set(LONG_FUNCTIONS), "split what is new; take out what is no longer needed"


@pytest.mark.parametrize(
    "path", [*FILES.values(), *TESTS], ids=lambda path: f"{path.parent.name}/{path.name}"
)
def test_every_module_says_what_it_is(path: Path) -> None:
    text = ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))
    assert text and text.strip(), f"{path}: needs a docstring"


def test_the_top_level_holds_only_the_agreed_names() -> None:
    found = {path.name for path in ROOT.iterdir() if not _is_ignored(path)}
    assert found - {".git"} <= TOP_LEVEL


def test_no_file_names_a_host() -> None:
    hits = []
    for path in _repository_files():
        text = path.read_bytes().decode("utf-8", errors="replace")
        hosts = set(re.findall(r"https?://([\w.-]+)", text))
        hits += [f"{path}: {host}" for host in sorted(hosts - NAMESPACES)]
    assert not hits, "\n".join(hits)


def test_the_command_starts_without_the_heavy_packages() -> None:
    code = "import json, sys, sim.cli; print(json.dumps(sorted(sys.modules)))"
    command = [sys.executable, "-W", "error", "-c", code]
    run = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=False)
    assert run.returncode == 0, run.stderr
    loaded = set(json.loads(run.stdout))
    assert "sim.cli" in loaded
    assert not loaded & set(NOT_AT_START)


def test_the_network_is_out_of_reach() -> None:
    with socket.socket() as plug, pytest.raises(AssertionError, match="network"):
        plug.connect(("127.0.0.1", 9))
    with pytest.raises(AssertionError, match="network"):
        socket.create_connection(("localhost", 9))

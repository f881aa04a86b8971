"""What holds for every test: the same examples each time, no network, the order's seed on failure.

In: the variable HYPOTHESIS_PROFILE ("ci" if unset). Out: settings and two
fixtures that run by themselves.
"""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import settings

from sim.memory import collect_rarely

settings.register_profile("ci", derandomize=True, deadline=None, database=None, print_blob=True)
settings.register_profile("search", parent=settings.get_profile("ci"), derandomize=False)
settings.load_profile(os.environ.get("HYPOTHESIS_PROFILE", "ci"))

SECONDS_FOR_A_TEST = 300
LONGEST = """
    piles coverage_of_draws golden diagnosis best slips_command bench risk_command symmetry
    proof_sheet proof_rigs engine_against_oracle bench_page page_print coverage_of_rare_draws theory
    assumed_places readme montecarlo theory_pairs verifying slips page replay
""".split()
"""Files that take longest, the longest first: they begin first, so that no process waits."""


collect_rarely()  # as a process of the program does: looking through what tests share costs a fifth


class NetworkUsedError(AssertionError):
    """A test, or what it runs, tried to reach the network."""


def _refuse(*args: object, **kwargs: object) -> None:
    raise NetworkUsedError("no test may reach the network")


@pytest.fixture(scope="session", autouse=True)
def _no_network() -> Iterator[None]:
    """Connecting, sending unconnected and asking for an address raise, in this process."""
    with pytest.MonkeyPatch.context() as patch:
        for name in ("connect", "connect_ex", "sendto"):
            patch.setattr(socket.socket, name, _refuse)
        for name in ("create_connection", "getaddrinfo", "gethostbyname"):
            patch.setattr(socket, name, _refuse)
        yield


@pytest.fixture(scope="session", autouse=True)
def _one_process() -> Iterator[None]:
    """What is asked for no number of processes takes one: starting more, which import everything
    again, took longer than what they did, and each process of the tests has one core anyhow.
    """
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(os, "cpu_count", lambda: 1)
        yield


@pytest.hookimpl(optionalhook=True)
def pytest_xdist_make_scheduler(config: pytest.Config, log: Any) -> Any:
    """Each file goes to one process, so that what its tests share is worked out once."""
    from xdist.scheduler import LoadFileScheduling

    if config.getoption("dist") != "load":  # somebody asked for another way
        return None
    config.option.loadscopereorder = False
    return LoadFileScheduling(config, log)


def pytest_collection_modifyitems(config: pytest.Config, items: list[pytest.Item]) -> None:
    """The longest files first; else the order stays random. A test that hangs is ended, wherever
    pytest-timeout is installed (it is a dev extra).
    """
    ranks = {f"test_{name}.py": rank for rank, name in enumerate(LONGEST)}
    items.sort(key=lambda item: ranks.get(item.path.name, len(ranks)))
    if config.pluginmanager.hasplugin("timeout") and not config.getoption("timeout"):
        for item in items:
            if item.get_closest_marker("timeout") is None:
                item.add_marker(pytest.mark.timeout(SECONDS_FOR_A_TEST))


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter, exitstatus: int) -> None:
    """Name the seed of the random order where something failed; quiet runs print no header."""
    seed = terminalreporter.config.getoption("randomly_seed", None)
    if exitstatus and isinstance(seed, int):
        terminalreporter.write_line(f"the same order again: pytest --randomly-seed={seed}")

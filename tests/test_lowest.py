"""What CI installs at the lower bounds of pyproject.toml is what that file says.

In: `.ci/lowest`, pyproject.toml, requirements written here. Out: a pin for each runtime package;
a requirement without a bound is refused. The bounds are read by `packaging` too, which pip uses.
"""

from __future__ import annotations

import runpy
import tomllib
from pathlib import Path
from typing import Any

import pytest
from packaging.requirements import Requirement

ROOT = Path(__file__).parents[1]
SCRIPT = runpy.run_path(str(ROOT / ".ci" / "lowest"))
PROJECT: dict[str, Any] = tomllib.loads((ROOT / "pyproject.toml").read_text(encoding="utf-8"))[
    "project"
]


def test_each_runtime_package_is_pinned_at_its_bound() -> None:
    read = [Requirement(text) for text in PROJECT["dependencies"]]
    pinned = [Requirement(text) for text in SCRIPT["pins"](PROJECT, ())]
    assert [one.name for one in pinned] == [one.name for one in read] and read
    for one, of in zip(pinned, read, strict=True):
        (bound,) = one.specifier
        assert bound.operator == "==" and f">={bound.version}" in map(str, of.specifier)


def test_dev_packages_are_pinned_by_name(capsys: pytest.CaptureFixture[str]) -> None:
    assert SCRIPT["main"](["pytest"]) is None
    assert capsys.readouterr().out.splitlines()[-1].startswith("pytest==")
    assert SCRIPT["pinned"](["ruff>=0.17.6,<0.18"]) == {"ruff": "ruff==0.17.6"}


@pytest.mark.parametrize("text", ["numpy", "numpy<3", "numpy==1.26", ">=2"])
def test_a_requirement_without_one_lower_bound_is_refused(text: str) -> None:
    with pytest.raises(ValueError, match="one lower bound"):
        SCRIPT["pinned"]([text])


def test_a_dev_package_that_is_not_there_is_refused() -> None:
    assert "no dev package nonsense" in SCRIPT["main"](["nonsense"])

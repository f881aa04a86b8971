"""Every double fault in parts, over processes and journals: the same whoever works them out.

In: a part of the faults of `first`; parts made up. Out: against all pairs in one go; journals that
lie are not believed.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

from sim import cli
from sim.checkpoint import header_of, kept
from sim.executing import Here, Plain
from sim.processes import local
from sim.scenario.loader import load
from sim.scenario.scenario import Scenario, Variant
from sim.shipped import find
from sim.study import doubles
from sim.study.doubles import Doubles, counted, doubles_of, pair_rows, study_pairs
from sim.study.pairing import Together, together

EVERY = 4
"""Of the faults of `first` every fourth is taken."""


@pytest.fixture(autouse=True, scope="module")
def _some() -> Iterator[None]:
    every = doubles.strikes
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(doubles, "strikes", lambda rig, modes: every(rig, modes)[::EVERY])
        yield


@cache
def first() -> tuple[Scenario, Variant]:
    scenario = load(find("first"))
    return scenario, scenario.offered[scenario.groups[0]]


@cache
def known() -> Doubles:
    return doubles_of((*first(), ()))


@cache
def at_once() -> tuple[Together, ...]:
    return together(known().pairing.laboratory, known().struck)


def test_every_fault_comes_first_in_one_part_and_parts_are_many() -> None:
    chunks = known().chunks()
    numbers = Counter(number for chunk in chunks for number in chunk)
    assert numbers == Counter(range(len(known().struck)))
    assert len(chunks) > 8


def test_parts_added_up_are_all_pairs_in_one_go() -> None:
    made = pair_rows(at_once(), known().area)
    assert study_pairs(*first(), Here()) == made
    with local(2) as executor:
        assert study_pairs(*first(), executor) == made


def test_how_many_pairs_a_part_has_is_known_before() -> None:
    for chunk in known().chunks()[::5]:
        made = counted(known(), chunk)
        assert sum(each.count for each in made) == known().pairs_of(chunk)
        assert known().fits(chunk, made)
        assert not known().fits(chunk, made[1:])


@pytest.mark.parametrize(
    "lie",
    [None, [["a dead", "b dead", 1, 1, 1]], [["a", "b", 1, 1, 1, -1]], [["a", "b", 1, 1, 1, 0.5]],
     [["a", "b", 1, 1, True, 1]], ["abcdef"], 7],
)  # fmt: skip
def test_what_are_no_pairs_is_refused(lie: object) -> None:
    with pytest.raises(ValueError, match=r"no p|unpack"):
        doubles._read(lie)


def test_what_a_journal_holds_is_what_was_worked_out() -> None:
    plain = Plain(doubles._said, doubles._read)
    made = counted(known(), known().chunks()[0])
    assert plain.unpack(json.loads(json.dumps(plain.pack(made)))) == made


def test_a_journal_is_gone_on_from_and_lies_are_worked_out_again(tmp_path: Path) -> None:
    path, header = tmp_path / "pairs.journal", header_of(["pairs"])
    wanted = pair_rows(at_once(), known().area)
    with kept(str(path), header) as journal:
        assert study_pairs(*first(), journal.over(Here())) == wanted
    whole = path.read_bytes()
    path.write_bytes(whole[: len(whole) // 2])
    with kept(str(path), header) as journal:
        assert study_pairs(*first(), journal.over(Here())) == wanted
    assert path.read_bytes() == whole


def test_options_of_work_need_pairs(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    for more in (["--workers", "2"], ["--checkpoint", str(tmp_path / "a")], ["--cluster", "x:1"]):
        assert cli.run(["faults", "first", *more]) == 2
        assert "need --pairs" in capsys.readouterr().err
    assert not list(tmp_path.iterdir())


def test_of_some_modes_only(capsys: pytest.CaptureFixture[str]) -> None:
    some = ("cut", "dead")
    few = doubles_of((*first(), some))
    assert {strike.mode for strike in few.struck} == {*some}
    found = study_pairs(*first(), modes=some)
    assert found == pair_rows(together(few.pairing.laboratory, few.struck), few.area)
    assert cli.run(["faults", "first", "--pairs", "--mode", "dead", "--mode", "cut"]) == 0
    assert "Only faults of the modes cut and dead were worked out" in capsys.readouterr().out

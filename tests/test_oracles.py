"""The oracle against results worked out by hand, on tiny rigs; times are ticks, 4 to a frame.

A line is written as runs: "6x10 0x5 6" is good for ten ticks, absent for five, then good.
Qualities: 0 absent, 1 black, 2 corrupt, 3 wrong, 4 frozen, 5 unlocked, 6 good.
"""

from __future__ import annotations

import ast
from pathlib import Path
from typing import Any

import pytest

from sim.rig.audit import as_json as audit
from sim.rig.topology import (
    NOTHING,
    PASSING,
    Cabinet,
    Carrier,
    Cell,
    Display,
    Emit,
    Gate,
    Group,
    Layer,
    Merge,
    Node,
    Pass,
    Placement,
    Rig,
    Selector,
    Sync,
    Thing,
)
from sim.timebase import FOREVER, fixed
from tests.oracles import frame_states, simulate

END = 40
WHOLE = Placement("live", 0, 0, 8, 8)
CORNER = Placement("live", 0, 0, 4, 4)


class Bench:
    """A rig in the making: camera, one layer, processor, port "out"; the test adds what follows."""

    def __init__(self, on_loss: str = "black", **processor: Any) -> None:
        self.things: dict[str, Thing] = {}
        self.nodes: dict[str, Node] = {}
        self.keys: dict[str, int] = {}
        self.cards: list[str] = []
        self.stack = {"first": (WHOLE,), "second": (CORNER,)}
        self.put(Emit(name="camera", thing=self.thing("camera", "source"), frame=3000))
        self.thing("processor", "processor", **processor)
        selector = self.selector("layer")
        self.put(Layer(name="layer", thing="processor", inputs=("camera",), selector=selector,
                       layer="live", on_loss=on_loss, feels=NOTHING))  # fmt: skip

    def carrier(self, sync: str = "") -> Bench:
        self.put(Carrier(name="carrier", thing="processor", layers=("layer",), sync=sync,
                         arrangement="first"))  # fmt: skip
        return self.passing("out", "carrier", "port")

    def put(self, node: Node) -> Bench:
        self.nodes[node.name] = node
        return self

    def key(self, ticks: int) -> str:
        self.keys[f"{ticks} ticks"] = ticks if ticks == FOREVER else ticks * 1000
        return f"{ticks} ticks"

    def thing(self, name: str, family: str, start: int = 0, hold_up: int = 0, **rest: Any) -> str:
        times = {"start": self.key(start), "hold_up": self.key(hold_up)}
        self.things[name] = Thing(name, family, **times, **rest)
        return name

    def passing(self, name: str, source: str, family: str, **rest: Any) -> Bench:
        self.thing(name, family, **rest)
        return self.put(Pass(name=name, thing=name, inputs=(source,)))

    def selector(self, name: str, wait: int = 0, switch: int = 0, restore: int = 0,
                 kind: str = "revertive", **rest: Any) -> Selector:  # fmt: skip
        times = {"detect": self.key(wait), "switch": self.key(switch)}
        times["wait_to_restore"] = self.key(restore)
        return Selector(name, restore=kind, **times, **rest)

    def shown(self, receiver: str, *inputs: str, keeps: int = 0, power: tuple[str, ...] = (),
              start: int = 0, **selector: Any) -> Bench:  # fmt: skip
        """A receiver that shows one of `inputs`, as the next card of the only cabinet."""
        if receiver not in self.things:
            self.thing(receiver, "receiver", start=start, powered_by=power)
        self.cards.append(f"{receiver} shows")
        return self.put(
            Display(name=f"{receiver} shows", thing=receiver, inputs=inputs,
                    selector=self.selector(f"{receiver} choice", **selector),
                    keeps_last=self.key(keeps))
        )  # fmt: skip

    def rig(self) -> Rig:
        group = Group("wall", "by hand", {"wall": (1, 1, 8, 8)}, ("first", "second"), (self.stack,),
                      (Cell("cabinet", 0, 0, 8, 8, 0),), ("carrier",))  # fmt: skip
        cabinet = Cabinet("cabinet", "wall", "wall", 0, 0, tuple(self.cards))
        timings = {key: fixed(flicks) for key, flicks in self.keys.items()}
        return Rig(4000, END * 1000, self.things, self.nodes, {"cabinet": cabinet},
                   {"wall": group}, timings)  # fmt: skip

    def line(self, *faults: dict[str, Any], actions: Any = (), failing: Any = ()) -> list[int]:
        script = {"faults": faults, "actions": actions, "failing": failing}
        result = simulate(audit(self.rig()), script, self.keys, 1000, END * 1000)
        return result.lines["wall", 0]


def fault(thing: str, mode: str, at: int, until: int | None = None, **rest: Any) -> dict[str, Any]:
    base = {"hard": False, "period": 0, "off": 0, "loss": 0, "frames": 0, "choice": None, **rest}
    end = None if until is None else until * 1000
    return {"thing": thing, "mode": mode, "at": at * 1000, "until": end, **base}


def action(do: str, on: str, at: int, choice: Any = None) -> dict[str, Any]:
    return {"do": do, "on": on, "at": at * 1000, "choice": choice}


def runs(text: str) -> list[int]:
    """ "6x10 0x5 6" as a line of `END` ticks; the last run goes to the end."""
    line: list[int] = []
    for run in text.split():
        quality, _, many = run.partition("x")
        line += [int(quality)] * int(many or END - len(line))
    assert len(line) == END, "the runs must fill the line"
    return line


def pair(**selector: Any) -> Bench:
    """Two trunks into one receiver: main is preferred."""
    bench = Bench().carrier()
    bench.passing("main", "out", "fibre", margin=1000).passing("backup", "out", "fibre")
    return bench.shown("receiver", "main", "backup", **selector)


def plain(on_loss: str = "black", **receiver: Any) -> Bench:
    """No backup: camera, processor, port, relay, receiver."""
    bench = Bench(on_loss).carrier()
    bench.passing("relay", "out", "relay", start=2)
    return bench.shown("receiver", "relay", **receiver)


@pytest.mark.parametrize("name", ["oracles", "oracle_things", "oracle_nodes", "oracle_choosers"])
def test_the_oracle_imports_nothing_of_what_it_is_held_against(name: str) -> None:
    tree = ast.parse(Path(__file__).with_name(f"{name}.py").read_text(encoding="utf-8"))
    named = [node for node in ast.walk(tree) if isinstance(node, ast.Import | ast.ImportFrom)]
    modules = {a.name for n in named if isinstance(n, ast.Import) for a in n.names}
    modules |= {n.module or "" for n in named if isinstance(n, ast.ImportFrom)}
    allowed = {"__future__", "collections", "dataclasses"}
    parts = {f"tests.oracle_{part}" for part in ("things", "nodes", "choosers")}
    assert modules <= allowed | parts
    assert modules, "nothing was read"


@pytest.mark.parametrize(
    ("at", "frames"),
    [
        (12, "lllddd"),  # dark [12, 22): frames 3, 4 and half of 5
        (13, "lllddd"),  # [13, 23)
        (14, "lllddd"),  # [14, 24), to the very end of frame 5
        (15, "lllddddl"),  # [15, 25): frames 3 to 6
    ],
)
def test_a_cut_trunk_costs_three_or_four_frames(at: int, frames: str) -> None:
    """Wait 8 (2 frames), switch 2 (half a frame): dark for 10 ticks from the cut."""
    line = pair(wait=8, switch=2).line(fault("main", "cut", at))
    assert line == runs(f"6x{at} 0x10 6")
    assert "".join(state[0] for state in frame_states(line, 4, END)) == frames.ljust(10, "l")


def test_a_picture_kept_for_one_frame_is_one_frozen_frame() -> None:
    """Cut at 12: frozen [12, 16) is frame 3, dark [16, 22) frames 4 and 5."""
    line = pair(wait=8, switch=2, keeps=4).line(fault("main", "cut", 12))
    assert line == runs("6x12 4x4 0x6 6")
    assert frame_states(line, 4, END)[2:7] == ["lit", "frozen", "dark", "dark", "lit"]


def test_a_picture_is_kept_for_ever_and_any_return_starts_it_afresh() -> None:
    assert plain(keeps=FOREVER).line(fault("relay", "dead", 12)) == runs("6x12 4")
    cut = [fault("out", "dead", 10, 13), fault("out", "dead", 14, 20)]
    # kept [10, 13), a return of one tick, kept afresh [14, 18), then dark until 20
    assert plain(keeps=4).line(*cut) == runs("6x10 4x3 6x1 4x4 0x2 6")


def test_a_receiver_that_is_down_keeps_nothing() -> None:
    line = plain(keeps=FOREVER, start=3).line(
        fault("receiver", "restart", 10), fault("out", "dead", 11, 20)
    )
    assert line == runs("6x10 0x10 6")  # restarted [10, 13); then no input and nothing kept


@pytest.mark.parametrize(
    ("until", "start", "expected"),
    [
        (15, 0, "6x10 0x5 6"),  # back within the wait of 8: no switch
        (15, 3, "6x10 0x8 6"),  # back at 18, the very instant the wait ends: it has returned
        (16, 3, "6x10 0x10 6x7 0x2 6"),  # back at 19, too late: on the backup from 20; main has
        # been back since 19, its wait-to-restore of 8 ends at 27: a planned blink [27, 29)
    ],
)
def test_loss_against_wait(until: int, start: int, expected: str) -> None:
    bench = pair(wait=8, switch=2, restore=8)
    bench.thing("main", "fibre", start=start)
    assert bench.line(fault("main", "cut", 10, until)) == runs(expected)


def test_revertive_blinks_twice_and_non_revertive_once() -> None:
    """Wait 2, switch 3, cut [5, 15), wait-to-restore 5: restored from 20, dark [20, 23)."""
    times = {"wait": 2, "switch": 3, "restore": 5}
    assert pair(**times).line(fault("main", "cut", 5, 15)) == runs("6x5 0x5 6x10 0x3 6")
    line = pair(**times, kind="non-revertive").line(fault("main", "cut", 5, 15))
    assert line == runs("6x5 0x5 6")
    # a break at 17 (one tick) starts the wait-to-restore afresh: from 18, so restored from 23
    line = pair(**times).line(fault("main", "cut", 5, 15), fault("main", "cut", 17, 18))
    assert line == runs("6x5 0x5 6x13 0x3 6")


def test_a_failed_changeover_stays_until_an_operator_chooses() -> None:
    bench = pair(wait=2, switch=3)
    cut = fault("main", "cut", 5)
    assert bench.line(cut, failing=["receiver choice"]) == runs("6x5 0")
    choose = action("choose", "receiver choice", 12, 1)
    line = bench.line(cut, failing=["receiver choice"], actions=[choose])
    assert line == runs("6x5 0x10 6")  # dark until the operator's switching [12, 15) ends


def test_operator_choice_pending_lock_and_unlock() -> None:
    bench = pair(wait=2, switch=3, restore=4)
    name = "receiver choice"
    # to 1 in [5, 8); asked at 6 for 0: begins at 8, ends at 11
    line = bench.line(actions=[action("choose", name, 5, 1), action("choose", name, 6, 0)])
    assert line == runs("6x5 0x6 6")
    # to 1 in [5, 8); every wait-to-restore starts afresh at 8: restored from 12 on, [12, 15)
    assert bench.line(actions=[action("choose", name, 5, 1)]) == runs("6x5 0x3 6x4 0x3 6")
    # locked at 9: not restored; unlocked at 20: afresh, restored from 24, [24, 27)
    held = [action("choose", name, 5, 1), action("lock", name, 9), action("unlock", name, 20)]
    assert bench.line(actions=held) == runs("6x5 0x3 6x16 0x3 6")


def test_a_by_hand_selector_moves_only_by_hand_and_survives_a_restart() -> None:
    bench = pair(switch=2, kind="by-hand")
    moved = fault("receiver choice", "moved", 5, 12, choice=1)
    # to 1 in [5, 7), back to 0 in [12, 14)
    assert bench.line(moved) == runs("6x5 0x2 6x5 0x2 6")
    forced = action("choose", "receiver choice", 5, 1)
    line = bench.line(
        fault("receiver", "restart", 10), fault("backup", "cut", 20), actions=[forced]
    )
    assert line == runs("6x5 0x2 6x13 0")  # still on the backup, whose cut leaves it dark


def test_switch_of_zero_has_no_gap_and_a_chain_of_demands_is_one_instant() -> None:
    assert pair().line(fault("main", "cut", 10, 20)) == runs("6")


def test_a_selector_that_refuses_black_takes_the_other_input() -> None:
    """accepts_above black; the first relay is blanked: its black is fed while it waits."""
    bench = Bench().carrier()
    bench.passing("a", "out", "relay").passing("b", "out", "relay")
    bench.shown("receiver", "a", "b", wait=3, switch=1, accepts_above=1)
    assert bench.line(fault("a", "blanked", 10)) == runs("6x10 1x3 0x1 6")


def gated(kind: str = "non-revertive") -> Bench:
    """Receiver "far" behind a jumper; a gated return, notice 3 and wait-to-restore 4."""
    bench = Bench().carrier().passing("jumper", "out", "jumper")
    bench.thing("far", "receiver")
    bench.put(Pass(name="far fwd", thing="far", inputs=("jumper",), feels=PASSING))
    bench.put(Gate(name="gate", thing="port", inputs=("out",), watch="far fwd", notice=bench.key(3),
                   wait_to_restore=bench.key(4)))  # fmt: skip
    bench.thing("port", "port")
    return bench.shown("far", "far fwd", "gate", wait=2, switch=1, kind=kind)


def test_a_gated_return_opens_after_notice_and_closes_after_its_wait() -> None:
    # cut [10, 20): wait ends at 12 with nothing there; the gate opens at 13: switching [13, 14).
    # forward is back at 20, the gate closes at 24: wait [24, 26), switching [26, 27)
    line = gated().line(fault("jumper", "dead", 10, 20))
    assert line == runs("6x10 0x4 6x10 0x3 6")
    # revertive without any wait: forward again at once, [20, 21)
    assert gated("revertive").line(fault("jumper", "dead", 10, 20)) == runs("6x10 0x4 6x6 0x1 6")
    # broken at 12 for one tick: notice starts afresh at 13, opens at 16; the wait too: [13, 15)
    flap = [fault("jumper", "dead", 10, 12), fault("jumper", "dead", 13)]
    assert gated().line(*flap) == runs("6x10 0x2 6x1 0x4 6")


def test_a_gate_is_open_before_time_0_if_nothing_arrives() -> None:
    assert gated().line(fault("jumper", "dead", -1)) == runs("6")


def test_holdover_relock_and_glitch() -> None:
    bench = Bench()
    bench.put(Emit(name="beat", thing=bench.thing("beat", "reference")))
    bench.put(Sync(name="sync", thing="processor", inputs=("beat",), feels=NOTHING,
                   selector=bench.selector("sync choice"), holdover=bench.key(4),
                   relock=bench.key(3), relock_glitch=bench.key(2)))  # fmt: skip
    bench.carrier("sync").shown("receiver", "out")
    assert bench.line(fault("beat", "dead", 10, 14)) == runs("6")  # back as holdover ends
    # holdover [10, 14), unlocked [14, 20), relocking [20, 23), glitch [23, 25)
    assert bench.line(fault("beat", "dead", 10, 20)) == runs("6x14 5x9 0x2 6")
    # gone again at 22: relock from zero at 24: [24, 27), glitch [27, 29)
    twice = [fault("beat", "dead", 10, 20), fault("beat", "dead", 22, 24)]
    assert bench.line(*twice) == runs("6x14 5x13 0x2 6")
    # gone during the glitch: it ends all the same, then unlocked
    gone = [fault("beat", "dead", 10, 20), fault("beat", "dead", 24)]
    assert bench.line(*gone) == runs("6x14 5x9 0x2 5")
    assert bench.line(fault("beat", "dead", -1)) == runs("5")


def test_hold_up_and_starts_that_follow_one_another() -> None:
    bench = Bench().carrier()
    bench.thing("mains", "circuit", hold_up=3)
    bench.thing("supply", "supply", start=1, powered_by=("mains",))
    bench.shown("receiver", "out", power=("supply",), start=2, keeps=FOREVER)
    assert bench.line(fault("mains", "tripped", 10, 13)) == runs("6")  # back as hold-up ends
    # down at 13, mains back at 14, supply up at 15, receiver up at 17
    assert bench.line(fault("mains", "tripped", 10, 14)) == runs("6x13 0x4 6")


def test_dropped_frames_hold_the_last_picture_to_the_next_frame() -> None:
    """Source frames of 3: 10 lies in frame 3; two lost: until frame 5 begins at 15."""
    assert plain().line(fault("camera", "drops", 10, frames=2)) == runs("6x10 4x5 6")


@pytest.mark.parametrize(
    ("on_loss", "quality"), [("black", 1), ("card", 3), ("uncovered", 3), ("frozen", 4)]
)
def test_what_a_layer_shows_on_loss(on_loss: str, quality: int) -> None:
    line = plain(on_loss).line(fault("camera", "dead", 5, 15))
    assert line == runs(f"6x5 {quality}x10 6")


def test_a_layer_frozen_before_time_0_has_nothing() -> None:
    assert plain("frozen").line(fault("camera", "dead", -1, 9)) == runs("0x9 6")


def test_stuck_keeps_black_and_hides_what_comes_after() -> None:
    black = [fault("camera", "blanked", 5, 10), fault("relay", "stuck", 8, 20)]
    assert plain().line(*black) == runs("6x5 1x15 6")  # black until the relay is no longer stuck
    hidden = [fault("relay", "stuck", 8, 20), fault("out", "dead", 10, 25)]
    assert plain().line(*hidden) == runs("6x8 4x12 0x5 6")
    assert plain().line(fault("relay", "stuck", -2, 9)) == runs("0x9 6")  # had nothing to keep


def test_a_stuck_display_stands_on_the_kept_picture_that_it_shows() -> None:
    """Kept [10, 14) of 4 ticks, but stuck from 12: it stands until 20, then kept afresh to 24."""
    line = plain(keeps=4).line(fault("relay", "dead", 10), fault("receiver", "stuck", 12, 20))
    assert line == runs("6x10 4x14 0")


def test_a_restart_ends_what_is_soft_and_not_what_is_hard() -> None:
    soft = [fault("relay", "corrupt", 5), fault("relay", "restart", 10)]
    assert plain().line(*soft) == runs("6x5 2x5 0x2 6")  # start of the relay: 2
    hard = [fault("relay", "corrupt", 5, hard=True), fault("relay", "restart", 10)]
    assert plain().line(*hard) == runs("6x5 2x5 0x2 2")
    stale = [fault("processor", "stale", 5), fault("processor", "restart", 10)]
    assert plain().line(*stale) == runs("6x5 3")  # start 0: no break; stale is not ended


def test_a_seamless_pair_loses_nothing() -> None:
    bench = Bench().carrier().passing("a", "out", "fibre").passing("b", "out", "fibre")
    bench.put(Merge(name="joiner", thing=bench.thing("joiner", "relay"), inputs=("a", "b")))
    bench.shown("receiver", "joiner")
    assert bench.line(fault("a", "cut", 10, 20)) == runs("6")
    assert bench.line(fault("a", "corrupt", 10, 20)) == runs("6x10 2x10 6")  # it cannot judge


def test_flapping_begins_off() -> None:
    line = plain().line(fault("out", "flapping", 10, 19, period=4000, off=2000))
    assert line == runs("6x10 0x2 6x2 0x2 6x2 0x1 6")  # off at 10, 11, 14, 15, 18


@pytest.mark.parametrize(("loss", "quality"), [(1000, 6), (1001, 2), (2000, 2), (2001, 0)])
def test_attenuation_against_a_margin_of_one_decibel(loss: int, quality: int) -> None:
    line = pair(wait=END, switch=0).line(fault("main", "attenuated", 10, loss=loss))
    assert line == runs(f"6x10 {quality}")


def test_two_attenuations_add_up() -> None:
    both = [
        fault("main", "attenuated", 10, 20, loss=800),
        fault("main", "attenuated", 15, loss=800),
    ]
    assert pair(wait=END).line(*both) == runs("6x15 2x5 6")


def test_two_cards() -> None:
    bench = Bench().carrier().passing("a", "out", "port").passing("b", "out", "port")
    bench.shown("one", "a", keeps=3).shown("two", "b", keeps=FOREVER)
    assert bench.line(fault("a", "dead", 10)) == runs("6")
    # both lose: the first still keeps one until 13, then the second for ever: frozen throughout
    assert bench.line(fault("out", "dead", 10)) == runs("6x10 4")
    # the second card shows black from 10; the first keeps a picture, but a live output goes first
    first_gone = [fault("a", "dead", 10), fault("b", "corrupt", 10)]
    assert bench.line(*first_gone) == runs("6x10 2")


def test_wrong_arrangement_by_mistake_and_on_purpose() -> None:
    """The second arrangement has the layer in another rectangle."""
    moved = fault("processor", "moved", 10, 20, choice="second")
    assert plain().line(moved) == runs("6x10 3x10 6")
    take = action("take", "processor", 10, "second")
    assert plain().line(actions=[take]) == runs("6")
    # still on the first while stuck: wrong, since the second is intended from 10 on
    assert plain().line(fault("processor", "stuck", 5, 15), actions=[take]) == runs("6x5 4x5 3x5 6")


def test_a_frame_that_is_not_whole_does_not_count() -> None:
    assert frame_states([6, 6, 6, 0, 6, 5, 6], 3, 7) == ["lit", "dark"]
    assert frame_states([1, 6, 5, 6, 4, 6], 2, 6) == ["dark", "unlocked", "frozen"]

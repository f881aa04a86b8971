"""`staylit rehearse`: shipped drills, files with mistakes, the same bytes each time.

In: drills and scripts, shipped and written here. Out: reports, messages.
"""

from __future__ import annotations

import io
import json
from dataclasses import replace
from fractions import Fraction
from pathlib import Path

import pytest

from sim.asked import Asked
from sim.cli import run
from sim.commands_rehearse import ready, rehearse
from sim.engine.run import run as engine_run
from sim.errors import InputError
from sim.faults import Fault
from sim.practice.acts import ACTS, COMMON, Act, parse_act
from sim.practice.cautions import FIBRE, FLASHING, HEIGHT, POWER, cautions_of
from sim.practice.drill import rehearsed
from sim.practice.files import read_drill, read_script
from sim.practice.hands import HANDS
from sim.practice.planning import tongue_of
from sim.practice.review import Review, loss, review
from sim.report.blocks import Para
from sim.report.rehearse_line import act_words
from sim.report.rehearse_report import Rehearsed, rehearse_blocks
from sim.shipped import drills
from sim.spoken import spoken
from sim.timebase import FLICKS
from tests.labs import long, rig_of
from tests.seen_rigs import SCENARIOS, stage
from tests.test_drill import plan_of

HOME = SCENARIOS / "drills"
GOOD = "title: t\nfaults: [cut main/trunk-main-a-1 at 20:10:00;00]\nuntil: 20:12:00;04\n"


def asked(name: str, form: str = "text") -> Asked:
    return Asked(SCENARIOS / f"{name}.yaml", format=form)


def report(drill: str, form: str = "text") -> str:
    scenario = read_drill(HOME / f"{drill}.yaml").text("scenario")
    script = HOME / f"{drill}.script.yaml"
    return rehearse(asked(scenario, form), HOME / f"{drill}.yaml", script).text


@pytest.mark.parametrize("drill", drills())
def test_the_course_shipped_with_a_drill_reaches_its_goal(drill: str) -> None:
    made = json.loads(report(drill, "json"))
    assert made["reached"] and made["times"]["right"] is not None
    assert all(act["well"] for act in made["acts"])
    assert any(act["ended_faults"] for act in made["acts"]) == (drill not in MENDED_BY_OTHERS)


MENDED_BY_OTHERS = ("river-late-return",)
"""Drills in which somebody else ends the fault: what counts is what the rig does then."""


def late_return(*acts: str) -> Review:
    begun = ready(asked("river"), HOME / "river-late-return.yaml")
    return review(begun.plan, [parse_act(text, begun.tongue, "here") for text in acts])


MOVED = "wait until 22:25:10;00"
HELD, CHOICE = "lock main/unit-a#layer programme", "main/unit-a#layer programme"
LATER = ("wait until 22:46:00;04", "unlock main/unit-a#layer programme")
RETURNS = {
    "held, then let go": ((MOVED, HELD, *LATER), True, True),
    "held for ever": ((MOVED, HELD), True, False),
    "let go in the final": ((MOVED, HELD, "wait until 22:40:00;04", LATER[1]), False, True),
    "too late": (("wait until 22:36:00;04", HELD, *LATER), False, True),
    "chosen by hand, which a revertive selector leaves": (
        (MOVED, f"select standby player on {CHOICE}"), False, True,
    ),
    "held before it has moved: the loss stays": ((HELD, *LATER), False, True),
    "nothing": ((), False, True),
}  # fmt: skip


@pytest.mark.parametrize("acts, held, redundant", RETURNS.values(), ids=RETURNS)
def test_a_return_must_be_held_through_the_final_and_let_go_after_it(
    acts: tuple[str, ...], held: bool, redundant: bool
) -> None:
    found = late_return(*acts)
    assert (found.held, found.redundancy is not None) == (held, redundant)
    assert found.reached == (held and redundant)


def test_what_a_return_costs_is_the_blink_of_the_selector() -> None:
    """Half a second of what the programme covers: the main screen less camera and results, of the
    pixels of all walls. Held, it costs the same outside the final.
    """
    main, banks = 3840 * 2160, 2 * 960 * 540
    blink = Fraction(main - 1920 * 1080 - 960 * 360, main + banks) / 2
    alone, held = late_return(), late_return(MOVED, HELD, *LATER)
    final = alone.plan.critical
    assert [loss(alone.plan.rig, alone.result.trace, *moment) for moment in final] == [blink]
    assert [loss(held.plan.rig, held.result.trace, *moment) for moment in final] == [0]
    assert alone.lost == held.lost > 0
    _, lock, _, unlock = held.effects
    assert lock.saved == -unlock.saved == blink and lock.right("critical")
    assert unlock.restored and unlock.right("critical") and not unlock.right("picture")


def test_without_a_spare_nothing_is_swapped_and_the_other_end_of_the_chain_is_mended() -> None:
    begun = ready(asked("river"), HOME / "river-last-spare.yaml")
    script = [text for text, _ in read_script(HOME / "river-last-spare.script.yaml")]
    acts = [parse_act(text, begun.tongue, "here") for text in script]
    swap = parse_act("swap main/chain-4/jumper-5", begun.tongue, "here")
    tried = review(begun.plan, [*acts[:5], swap, *acts[5:]])
    assert tried.reached and not tried.effects[5].done.well
    assert tried.effects[5].done.said == "no spare jumper is left"
    crew = begun.scenario.terms.crew
    assert crew is not None and begun.plan.crew is not None
    assert crew.spares["jumper"] > 0 == begun.plan.crew.spares["jumper"]
    stocked = review(replace(begun.plan, crew=crew), [*acts[:5], swap])
    assert stocked.effects[5].done.well and stocked.reached


@pytest.mark.parametrize("drill", drills())
def test_reports_of_drills_fit_their_width(drill: str) -> None:
    assert max(map(len, report(drill).splitlines())) <= 100


@pytest.mark.parametrize("drill", drills())
def test_a_drill_left_alone_does_not(drill: str, tmp_path: Path) -> None:
    scenario = read_drill(HOME / f"{drill}.yaml").text("scenario")
    script = tmp_path / "nothing.yaml"
    script.write_text("acts: [wait 1 min, look]\n")
    path = HOME / f"{drill}.yaml"
    made = json.loads(rehearse(asked(scenario, "json"), path, script).text)
    assert not made["reached"]
    assert made["lost"] == made["lost_by_doing_nothing"]
    assert [each["acted"] for each in made["frames"]] == [e["nothing"] for e in made["frames"]]


@pytest.mark.parametrize("drill", drills())
def test_a_drill_left_alone_is_the_engines_own_run(drill: str) -> None:
    path = HOME / f"{drill}.yaml"
    plan = ready(asked(read_drill(path).text("scenario")), path).plan
    alone = engine_run(plan.rig, plan.script, plan.values, plan.until)
    waits = (Act("wait", time=100 * FLICKS),) * 9
    assert rehearsed(plan, waits)[1].trace == alone
    struck = Fault("main/unit-a" if "river" in drill else "backdrop/unit-a", "restart", plan.begin)
    other = replace(plan.script, faults=(*plan.script.faults, struck))
    assert engine_run(plan.rig, other, plan.values, plan.until) != alone


@pytest.mark.parametrize("form", ("text", "markdown", "json"))
def test_the_same_script_gives_the_same_bytes(form: str) -> None:
    assert report("studio-dead-port", form) == report("studio-dead-port", form)


def test_a_report_tells_fault_symptom_act_and_effect_in_time_code() -> None:
    text = report("studio-dead-port")
    rows = [line for line in text.splitlines() if line.startswith("19:3")]
    assert "19:32:00:00" in rows[0] and "fault" in rows[0]
    for kind in ("fault", "symptom", "act", "effect", "goal"):
        assert any(f"  {kind}" in row for row in rows), kind
    assert max(map(len, text.splitlines())) <= 100


def test_cautions_stand_where_hands_are_sent() -> None:
    assert "never look into a fibre" in report("river-cut-trunk").partition("Before hands")[2]
    assert "Before hands are laid on" not in report("river-lost-source")


HANDS_ON = {
    "swap main/r1c1/receiver": (POWER, HEIGHT),
    "bypass main/r1c1": (POWER, HEIGHT),
    "reseat main/chain-1/jumper-2": (HEIGHT,),
    "reseat main/power-1/jumper-2": (POWER, HEIGHT),
    "restart main/r1c1/receiver": (HEIGHT,),
    "reseat main/trunk-main-a-1": (FIBRE,),
    "swap main/relay-main": (POWER, FIBRE),
    "restart shore A": (POWER,),
    "restart main/unit-a": (),
    "darken results strip": (FLASHING,),
    "look": (),
    "select standby player on main/unit-a#layer programme": (),
}


@pytest.mark.parametrize("text, cautions", HANDS_ON.items(), ids=HANDS_ON)
def test_every_act_has_its_cautions(text: str, cautions: tuple[str, ...]) -> None:
    """Fibre: IEC 60825-2; flashing: ITU-R BT.1702, WCAG 2.3.1; the rest is common practice."""
    rig = stage("river").rig
    act = parse_act(text, tongue_of(stage("river").scenario, rig, spoken(rig)), "here")
    cabinet = rig.cabinets.get(act.on)
    name = rig.nodes[cabinet.cards[0]].thing if cabinet else act.on
    assert cautions_of(act, rig.things.get(name)) == cautions


@pytest.mark.parametrize("flashes, due", [(5, True), (1, False)])
def test_a_flashing_drill_warns(flashes: int, due: bool) -> None:
    """More than three flashes in a second over a quarter of the screen (WCAG 2.3.1)."""
    period, trunk = FLICKS // flashes, "main/trunk-main-1"
    fault = Fault(trunk, "flapping", 20 * FLICKS, 25 * FLICKS, period=period, off=period // 2)
    found = review(plan_of(rig_of(long("single-feed")), fault, minutes=1), ())
    blocks = rehearse_blocks(Rehearsed(stage("studio").scenario, (), found))
    assert any(isinstance(each, Para) and each.warning for each in blocks) == due
    assert found.lost > 0


# ---- mistakes --------------------------------------------------------------------------

WRONG = {
    "unknown key": (GOOD + "titel: x\n", "no such key 'titel'", "nearest: title"),
    "no faults": ("title: t\n", "says no faults", "title and faults"),
    "empty": ("title: t\nfaults: []\n", "a drill without a fault", "faults"),
    "fault": (GOOD.replace("cut main", "cut mian"), "d.yaml:2: faults[1]", "nearest"),
    "until": (GOOD.replace("20:12:00;04", "20:05:00;04"), "after the end of the drill", "within"),
    "begin": (GOOD + "begin: 20:13:00;04\n", "ends at no such time", "after its begin"),
    "code": (GOOD.replace("20:12:00;04", "20:12:00;00"), "does not exist", "nearest: 20:12:00;04"),
    "place": (GOOD + "place: pontoons\n", "no place 'pontoons'", "nearest: pontoon"),
    "goal": (GOOD + "goal: win\n", "no goal 'win'", "picture, redundancy"),
    "group": (GOOD + "group: mian\n", "there is no wall group 'mian'", "nearest: main"),
    "topology": (GOOD + "topology: relay\n", "there is no 'relay'", "relay-pair"),
    "scenario": (GOOD + "scenario: studio\n", "for scenario 'studio'", "of this scenario"),
    "spare": (GOOD + "spares: {relais: 1}\n", "no spare 'relais'", "nearest: relay unit"),
    "count": (GOOD + "spares: {relay unit: one}\n", "'one' spares", "a whole number"),
    "hint": (GOOD + "hints: [{after: 1 min}]\n", "not whole", "{after"),
    "hint key": (GOOD + "hints: [{afer: 1 min}]\n", "no such key 'afer'", "nearest: after"),
    "fails": (GOOD + "fails: [nothing]\n", "no one changeover", "such as"),
    "list": ("just a text\n", "is no drill", "keys with values"),
}


@pytest.mark.parametrize("text, found, allowed", WRONG.values(), ids=WRONG)
def test_a_wrong_drill_is_refused_with_its_place(
    text: str, found: str, allowed: str, tmp_path: Path
) -> None:
    drill, script = tmp_path / "d.yaml", tmp_path / "s.yaml"
    drill.write_text(text)
    script.write_text("acts: [wait 10 s]\n")
    with pytest.raises(InputError) as caught:
        rehearse(asked("river"), drill, script)
    assert found in str(caught.value) and allowed in str(caught.value)
    assert str(caught.value).startswith(str(drill))


ACTS_WRONG = {
    "jump": "'jump' is nothing that can be done",
    "reboot main/unit-a": "nearest: restart",
    "wait": "does not say how long",
    "wait long": "long",
    "walk to roof": "no place 'roof'",
    "restart mian/unit-a": "nearest: main/unit-a",
    "select programme": "does not say what of which",
    "select radio on main/unit-a#layer programme": "no input 'radio'",
    "take news on main": "no arrangement 'news'",
    "take race on nobody": "no unit or group 'nobody'",
    "lock main/unit-a": "no selector 'main/unit-a'",
    "darken main/r99c1": "no such thing",
    "bypass main/r99c1": "no cabinet",
    "re-patch main/unit-a": "no such thing",
    "darken main/r1c1 on main/relay-main only": "no unit",
}


@pytest.mark.parametrize("text, found", ACTS_WRONG.items(), ids=ACTS_WRONG)
def test_a_wrong_act_is_refused_with_its_place(text: str, found: str, tmp_path: Path) -> None:
    drill, script = tmp_path / "d.yaml", tmp_path / "s.yaml"
    drill.write_text(GOOD)
    script.write_text(f'acts:\n  - wait 1 s\n  - "{text}"\n')
    with pytest.raises(InputError) as caught:
        rehearse(asked("river"), drill, script)
    assert found in str(caught.value)
    assert f"{script}:3: acts[2]" in str(caught.value)


def test_every_act_can_be_done_and_read() -> None:
    assert set(HANDS) == set(ACTS)
    assert set(COMMON.values()) <= set(ACTS)
    rig = stage("river").rig
    tongue = tongue_of(stage("river").scenario, rig, spoken(rig))
    for text in (
        "select standby player on main/unit-a#layer programme", "look", "tell", "break",
        "take pictures only on main/unit-b", "fade camera on main",
        "lock main/relay-main#bank 1", "wait 2 frames",
        "unlock main/relay-main#bank 1", "reseat main/chain-1/jumper-2", "swap main/r1c1/receiver",
        "re-patch main/port-main-1", "bypass main/r1c1", "light results strip", "load main/unit-a",
        "darken results strip on main/unit-b only", "ask main/unit-a", "walk to pontoon",
        "restart unit-b",
    ):  # fmt: skip
        act = parse_act(text, tongue, "here")
        assert act.do == text.split()[0]
        assert act.do == "wait" or parse_act(act_words(act, rig), tongue, "here") == act


def test_a_layer_is_faded_until_an_arrangement_is_taken(tmp_path: Path) -> None:
    """River's camera is dead: 25 % of main stands still. Without its layer the programme below is
    meant there, and all is lit; once its arrangement is taken again it stands as before. One with
    nothing below it cannot be faded: that would mean a black wall.
    """
    path = tmp_path / "drill.yaml"
    path.write_text(FADING, encoding="utf-8")
    begun = ready(Asked(SCENARIOS / "river.yaml"), path)
    texts = ["fade camera on main", "fade programme on main", "take race on main"]
    acts = [parse_act(f"{text}", begun.tongue, "here") for text in ["wait 20 s", *texts]]
    situations, result = rehearsed(begun.plan, acts)
    states = [dict(situation.shown.places[0].states) for situation in situations[1:]]
    assert states == [{"frozen": Fraction(1, 4)}, {}, {}, {"frozen": Fraction(1, 4)}]
    assert [done.well for done in result.done] == [True, True, False, True]
    assert "no layer programme with another one below it" in result.done[2].said
    with pytest.raises(InputError, match="no layer 'cameras'"):
        parse_act("fade cameras on main", begun.tongue, "here")


FADING = """\
title: a camera that is gone
scenario: river
faults: [dead camera at 20:10:00;00]
"""


def test_scripts_are_lists_of_texts(tmp_path: Path) -> None:
    script = tmp_path / "s.yaml"
    for text in ("acts: {look: 1}\n", "acts: [[look]]\n", "look\n", "steps: [look]\n"):
        script.write_text(text)
        with pytest.raises(InputError):
            read_script(script)
    script.write_text("acts: look\n")
    assert read_script(script) == (("look", f"{script}:1: acts"),)


def test_the_command_line(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("COLUMNS", "100")
    script = str(HOME / "studio-dead-port.script.yaml")
    assert run(["rehearse", "studio", "--drill", "studio-dead-port", "--script", script]) == 0
    assert capsys.readouterr().out == report("studio-dead-port")
    assert run(["rehearse", "studio", "--drill", "studio-dead-prot", "--script", script]) == 2
    assert "nearest: studio-dead-port" in capsys.readouterr().err
    assert run(["rehearse", "studio", "--drill", "studio-dead-port", "--script", "none"]) == 2
    assert "cannot be read" in capsys.readouterr().err


def test_without_a_script_acts_are_asked_for(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("sys.stdin", io.StringIO("wait until 19:32:10:00\nlook\n"))
    assert run(["rehearse", "studio", "--drill", "studio-dead-port"]) == 0
    said = capsys.readouterr()
    assert "backdrop 12.5 % dark" in said.err and "r3   ..D....." in said.err
    assert "a dead port" not in said.err, "the title would tell the cause"
    assert "backdrop/port-a-3 failed" in said.out

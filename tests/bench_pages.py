"""Break benches on pages of their own, and what they must show, worked out by plain code.

In: small rigs, faults of the engine's and others made up here. Out: documents of the bench, pages
as text; the state of every spot in a frame, frames by state.
"""

from __future__ import annotations

import itertools
import random
from collections.abc import Iterator, Sequence
from functools import cache
from typing import Any

from sim.report import bench_view
from sim.report.bench_data import Shown, bench_document
from sim.report.blocks import Heading
from sim.report.page import Report
from sim.report.page import page as whole_page
from sim.rig.patterns import build
from sim.rig.plan import Options, ShowPlan
from sim.rig.topology import Region, Rig
from sim.scenario.loader import load
from sim.scenario.scenario import Variant
from sim.shipped import find
from sim.study.laboratory import Laboratory
from sim.study.replay import replays
from sim.study.strikes import strikes
from tests.plans import banks, main

LIT = 5
MANY = 2600
"""Faults of a large rig."""
MADE = "made up"
LONG = 4000
"""Frames of a made-up recording."""
Document = dict[str, Any]
Course = list[int]


def page(document: Document, rigs: Sequence[Rig]) -> str:
    """A page with nothing on it but a title and the bench."""
    return whole_page([Report((Heading("Bench"),))], [], bench_view.bench(document, rigs))


# ---- documents -----------------------------------------------------------------------------------


def shown(plan: ShowPlan, label: str, every: int) -> Shown:
    """A topology of the first group of a plan, with its faults of sources, circuits and routes
    and every so many-th of the rest.
    """
    rig = build(plan)
    group = plan.groups[0]
    some = (s for n, s in enumerate(strikes(rig)) if n % every == 0 or "/" not in s.where)
    found = replays(Laboratory(rig, group.name), some)
    variant = Variant(group.name, label, group.topology, Options(), offered=label == "relay pair")
    return Shown(variant, rig, found, about=f"Made for tests: {label}.")


@cache
def benches() -> tuple[Shown, ...]:
    """Two topologies of a wall of 144 cabinets with regions, and two mirrored walls."""
    regions = (
        Region("top & <left>", "screen", 0, 0, 45, 32),
        Region("foot", "screen", 0, 70, 160, 20),
    )
    walls = [main(each, 9, 16, regions=regions) for each in ("relay-pair", "single-feed")]
    return (
        shown(walls[0], "relay pair", 41),
        shown(walls[1], "single feed", 43),
        shown(banks("mirrored-guarded"), "guarded", 5),
    )


def made(many: int = 0) -> Document:
    """The document of `benches`, with faults made up here: all states, flashes; and as many faults
    in all as asked.
    """
    document: Document = bench_document(load(find("river")), benches())
    document["clock"] |= {"first": 4_315_680}
    topology = document["topologies"][0]
    for number in range(12):
        add(document, topology, f"{MADE} {number}", [*drawn_parts(number)])
    add(document, topology, "blinks often", [(range(144), steps(0, LIT, 6, 600))])
    add(document, topology, "blinks each frame", [(range(144), steps(0, LIT, 1, 400))])
    add(document, topology, "blinks seldom", [(range(144), steps(0, LIT, 40, 600))])
    add(document, topology, "blinks in a corner", [(range(30), steps(0, LIT, 6, 600))])
    copies(topology, many)
    return document


def steps(one: int, other: int, frames: int, end: int) -> Course:
    """A course that goes to and fro."""
    pairs = [(at, one if at // frames % 2 else other) for at in range(0, end, frames)]
    return [number for pair in pairs for number in pair]


def drawn_parts(seed: int) -> Iterator[tuple[Sequence[int], Course]]:
    """Spots and courses drawn from a seed: up to six parts, up to nine steps, any states."""
    draw = random.Random(seed)
    left = list(range(145))
    draw.shuffle(left)
    for _ in range(draw.randint(1, 6)):
        some, left = left[: draw.randint(1, 30)], left[30:]
        frames = sorted({0, *(draw.randrange(LONG) for _ in range(draw.randint(0, 8)))})
        if some:
            yield sorted(some), [n for frame in frames for n in (frame, draw.randint(0, LIT))]


def add(document: Document, topology: Document, name: str, parts: list[tuple[Any, Course]]) -> None:
    """A fault `dead` of a thing of this name that does exactly this."""
    sets = [[n for spot in spots for n in (spot, spot)] for spots, _ in parts]
    places = [put(topology["sets"], one) for one in sets]
    courses = [put(topology["courses"], course) for _, course in parts]
    end = max(course[-2] for _, course in parts) + 30
    outcome = {
        "verdict": "lasting", "courses": courses, "end": end, "repeats": "", "flashes": 0,
        "events": [[0, "0 s", 0, put(topology["templates"], [0, " failed"])]],
    }  # fmt: skip
    fault = [
        put(topology["names"], name), put(topology["modes"], "dead"), "",
        put(topology["words"], MADE), put(topology["parts"], places),
        put(topology["outcomes"], outcome), put(topology["counts"], []), 0, "guess",
        [put(topology["names"], name)], False,
    ]  # fmt: skip
    topology["faults"].append(fault)
    frames = frames_by_state(document, topology, len(topology["faults"]) - 1)
    told = [[of, row] for of, row in enumerate(frames) if sum(row[:LIT])]
    fault[7] = put(topology["played"], told)


def put(values: list[Any], value: Any) -> int:
    """Its place in a list; it is added if it is not there."""
    if value not in values:
        values.append(value)
    return values.index(value)


def copies(topology: Document, many: int) -> None:
    """As many faults as asked: those there under further names."""
    own = topology["faults"][:]
    for number in range(many - len(own)):
        topology["names"].append(f"copy {number}")
        topology["faults"].append([len(topology["names"]) - 1, *own[number % len(own)][1:]])


# ---- what must be seen ---------------------------------------------------------------------------


def states(document: Document, topology: Document, fault: int, frame: int) -> list[int]:
    """The state of each spot in a frame, looked up step by step."""
    _, _, _, _, parts, outcome, *_ = topology["faults"][fault]
    shown_now = [LIT] * len(document["groups"][topology["group"]]["spots"])
    for place, course in zip(
        topology["parts"][parts], topology["outcomes"][outcome]["courses"], strict=True
    ):
        told = topology["courses"][course]
        state = [s for at, s in zip(told[::2], told[1::2], strict=True) if at <= frame][-1]
        for spot in spread(topology["sets"][place]):
            shown_now[spot] = state
    return shown_now


def spread(runs: list[int]) -> list[int]:
    return [n for a, b in zip(runs[::2], runs[1::2], strict=True) for n in range(a, b + 1)]


def frames_by_state(document: Document, topology: Document, fault: int) -> list[list[int]]:
    """For each target the frames in [0, end) by the worst state of any of its spots."""
    targets = document["groups"][topology["group"]]["targets"]
    found = [[0] * 6 for _ in targets]
    end = topology["outcomes"][topology["faults"][fault][5]]["end"]
    told = [
        topology["courses"][c]
        for c in topology["outcomes"][topology["faults"][fault][5]]["courses"]
    ]
    cuts = sorted({0, end, *(at for course in told for at in course[::2] if at < end)})
    for begin, stop in itertools.pairwise(cuts):
        now = states(document, topology, fault, begin)
        for of, target in enumerate(targets):
            if target["kind"] != "view":
                found[of][min(now[spot] for spot in spread(target["spots"]))] += stop - begin
    return found


def label(topology: Document, fault: int) -> str:
    """What the list calls a fault."""
    name, mode, detail, *_ = topology["faults"][fault]
    called = f"{topology['names'][name]}: {topology['modes'][mode]}"
    return f"{called} to {detail}" if detail else called


def only(document: Document, topology: int, faults: list[int]) -> Document:
    """The document with these faults of a topology only."""
    kept = [
        each if n != topology else {**each, "faults": [each["faults"][f] for f in faults]}
        for n, each in enumerate(document["topologies"])
    ]
    return {**document, "topologies": kept}

"""The break bench in a browser: what it draws is what the engine said, and anybody can use it.

In: pages of `tests.bench_pages`, made from engine results and from faults made up there. Out: what
Debian's Chromium shows, held to plain code over the same document. The page's clock stands still
unless a test moves it. Accessibility is judged by axe-core (from its package), time code by
`sim.timecode`, which test_timebase holds to SMPTE ST 12-1.
"""

from __future__ import annotations

import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any
from urllib.parse import quote_plus

import pytest
from playwright.sync_api import Browser, Page, sync_playwright

import sim.report
from sim.report.bench_view import SCRIPTS, embedded
from sim.report.scheme import scheme
from sim.timebase import RATES
from sim.timecode import time_code
from tests.bench_pages import (
    MADE,
    MANY,
    Document,
    benches,
    frames_by_state,
    label,
    made,
    page,
    states,
)

STATES = ("dark", "corrupt", "wrong", "frozen", "unlocked", "lit")
LETTERS = dict(zip(STATES, ("D", "C", "W", "F", "U", ""), strict=True))
TEMPLATES = Path(sim.report.__file__).parent / "templates"
SPEEDS = (100, 10, 1, 0.25, 0.1)


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    program = shutil.which("chromium")
    assert program, "install chromium (Debian's), as .ci/run does"
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=program, args=["--no-sandbox", "--disable-gpu"]
        )
        yield opened
        opened.close()


@pytest.fixture(scope="module")
def document() -> Document:
    found: Document = json.loads(json.dumps(made()))
    return found


@pytest.fixture(scope="module")
def where(tmp_path_factory: pytest.TempPathFactory, document: Document) -> str:
    return written(tmp_path_factory.mktemp("bench") / "bench.html", document)


@pytest.fixture(scope="module")
def large(tmp_path_factory: pytest.TempPathFactory) -> str:
    """A page of 2 600 faults of 144 cabinets."""
    return written(tmp_path_factory.mktemp("large") / "bench.html", made(MANY))


def everything(document: Document) -> str:
    """How many faults the first topology has."""
    return f"{len(document['topologies'][0]['faults'])} faults"


def written(path: Path, document: Document) -> str:
    path.write_text(page(document, [each.rig for each in benches()]), encoding="utf-8")
    return path.as_uri()


@dataclass
class Opened:
    """A page with what it has said on its console and asked for."""

    page: Page
    said: list[str] = field(default_factory=list)
    asked: list[str] = field(default_factory=list)

    def body(self, name: str) -> str:
        return self.page.locator("#bench-body").get_attribute(f"data-{name}") or ""

    def text(self, part: str) -> str:
        return self.page.locator(part).inner_text()

    def go(self, fragment: str) -> None:
        """Another view; the page's clock goes on by two seconds, so that nothing is held back."""
        self.page.clock.run_for(2000)
        self.page.evaluate("to => { location.hash = to; }", fragment)
        self.page.wait_for_function("to => location.hash === to", arg=fragment)
        self.page.clock.run_for(100)

    def frame(self, frame: int) -> None:
        """Scrubs to a frame."""
        self.page.clock.run_for(2000)
        self.page.locator("#bench-frame").evaluate(
            "(it, to) => { it.value = to; it.dispatchEvent(new Event('input')); }", frame
        )

    def drawn(self, pane: int = 0) -> list[str]:
        """The state of every spot as the page has it, by number; its letter must fit."""
        found = (
            self.page.locator(".bench-pane")
            .nth(pane)
            .locator(".bench-spot")
            .evaluate_all(
                "all => all.map(e => [Number(e.dataset.spot), e.dataset.state, e.textContent])"
            )
        )
        assert all(LETTERS[state] == letter for _, state, letter in found)
        return [state for _, state, _ in sorted(found)]


Open = Callable[..., Opened]


@pytest.fixture
def open_page(browser: Browser) -> Iterator[Open]:
    contexts = []

    def opened(where: str, still: bool = True, **options: Any) -> Opened:
        context = browser.new_context(**{"viewport": {"width": 1100, "height": 400}, **options})
        contexts.append(context)
        new = Opened(context.new_page())
        new.page.set_default_timeout(10_000)
        new.page.on("console", lambda message: new.said.append(message.text))
        new.page.on("pageerror", lambda error: new.said.append(str(error)))
        new.page.on("request", lambda request: new.asked.append(request.url))
        if still:
            new.page.clock.install(time=0)
            new.page.clock.pause_at(1000)
        new.page.goto(where)
        if still:
            new.page.clock.run_for(100)
        return new

    yield opened
    for context in contexts:
        context.close()


def numbers_of(topology: Document, name: str) -> int:
    """The fault of this label."""
    return next(n for n in range(len(topology["faults"])) if label(topology, n) == name)


def test_it_loads_without_a_word_and_asks_for_nothing(open_page: Open, large: str) -> None:
    it = open_page(large)
    it.page.locator("#bench-after").click()
    assert it.said == []
    assert it.asked == [large]
    assert it.text("#bench-found") == "2\u00a0600 faults."


def test_the_check_of_words_and_requests_finds_them(open_page: Open, where: str) -> None:
    it = open_page(where)
    it.page.evaluate("console.log('word'); new Image().src = 'file:///nowhere.png'; 0")
    it.page.wait_for_timeout(100)
    assert "word" in it.said and "file:///nowhere.png" in it.asked


def chosen(topology: Document, many: int) -> list[int]:
    """Faults drawn from a seed, among them those made up."""
    draw = random.Random(len(topology["faults"]))
    own = [n for n in range(len(topology["faults"])) if MADE in label(topology, n)]
    rest = [n for n in range(min(len(topology["faults"]), 100)) if n not in own]
    return [*own[:8], *draw.sample(rest, many - len(own[:8]))]


@pytest.mark.parametrize("number", [0, 1, 2])
def test_what_is_drawn_is_what_was_recorded(
    open_page: Open, where: str, document: Document, number: int
) -> None:
    topology = document["topologies"][number]
    it = open_page(where)
    it.page.locator("#bench-topology").select_option(str(number))
    seen = set()
    for fault in chosen(topology, 20):
        it.go(view(document, number, fault))
        assert label(topology, fault) in it.text("#bench-chosen")
        outcome = topology["outcomes"][topology["faults"][fault][5]]
        changes = [at for c in outcome["courses"] for at in topology["courses"][c][2::2]]
        draw = random.Random(fault)
        change = draw.choice(changes or [outcome["end"] // 2])
        for frame in (0, change - 1, change, outcome["end"] - 1):
            it.frame(frame)
            expected = [STATES[s] for s in states(document, topology, fault, frame)]
            assert it.drawn() == expected, (label(topology, fault), frame)
            seen |= set(expected)
    assert seen >= {"dark", "lit"} and (number or seen == set(STATES))


def view(document: Document, topology: int, fault: int, frame: int = 0) -> str:
    """A fragment put together by hand."""
    of = document["topologies"][topology]
    group = document["groups"][of["group"]]["name"]
    called = f"{group}: {of['label']}".replace(" ", "+").replace(":", "%3A")
    return f"#bench:topology={called}&fault=number~{fault}&frame={frame}"


def test_a_link_restores_the_very_view(open_page: Open, where: str, document: Document) -> None:
    first = open_page(where)
    first.go(view(document, 0, numbers_of(document["topologies"][0], f"{MADE} 3: dead")))
    first.page.locator("#bench-beside").select_option("1")
    first.go(view(document, 1, numbers_of(document["topologies"][1], "cam: dead")))
    first.page.locator("#bench-beside").select_option("0")
    first.frame(7)
    first.page.locator("#bench-copy").click()
    link = first.page.locator("#bench-link").input_value()
    assert link.endswith("frame=7") and "&beside=main%3A+relay+pair&fault=" in link
    second = open_page(link)
    for part in ("#bench-chosen", "#bench-count", "#bench-panes"):
        assert second.text(part) == first.text(part)
    assert [second.drawn(n) for n in (0, 1)] == [first.drawn(n) for n in (0, 1)]
    assert second.page.locator("#bench-topology").input_value() == "1"


NOWHERE = (
    "#bench:", "#bench:topology=x&fault=y", "#bench:%", "#other",
    "#bench:topology=topology-0&fault=number~99999",
)  # fmt: skip


@pytest.mark.parametrize("fragment", NOWHERE)
def test_a_fragment_that_means_nothing_is_passed_over(
    open_page: Open, where: str, fragment: str
) -> None:
    it = open_page(where + fragment)
    assert it.said == []
    assert it.text("#bench-count").startswith("frame 0 of")
    missing = it.page.locator("#bench-missing")
    assert missing.is_visible() == fragment.startswith("#bench:")


def test_the_button_selects_the_link_where_it_cannot_copy(open_page: Open, where: str) -> None:
    it = open_page(where)
    it.page.evaluate("Object.defineProperty(navigator, 'clipboard', {value: undefined}); 0")
    it.page.locator("#bench-copy").click()
    assert it.text("#bench-copied").startswith("Selected")
    selected = it.page.evaluate("String(getSelection())")
    assert selected == it.page.locator("#bench-link").input_value()


def test_searching_leaves_the_faults_that_hold_every_word(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    it.page.locator("#bench-search").fill(f"{MADE.upper()}  1")
    expected = [
        label(topology, n)
        for n, fault in enumerate(topology["faults"])
        if all(
            word in f"{label(topology, n)} {topology['words'][fault[3]]}".lower()
            for word in (*MADE.split(), "1")
        )
    ]
    assert it.page.locator("#bench-list .bench-fault").all_inner_texts() == expected[:120]
    assert it.text("#bench-found").startswith(f"{len(expected)} of {everything(document)}")
    it.page.locator("#bench-search").fill("nothing is called so")
    assert it.text("#bench-found") == "No fault fits."
    it.page.locator("#bench-all").click()
    assert it.text("#bench-found") == f"{everything(document)}."


def test_modes_and_verdicts_narrow_the_list(open_page: Open, where: str) -> None:
    it = open_page(where)
    it.page.locator("#bench-mode").select_option(label="stuck")
    it.page.locator("#bench-verdict").select_option("lasting")
    rows = it.page.locator("#bench-list li").all_inner_texts()
    assert rows and all(": stuck" in row and row.endswith("lasting") for row in rows)


def test_every_fault_can_be_reached_in_the_list(open_page: Open, large: str) -> None:
    it = open_page(large)
    rows = it.page.locator("#bench-list li")
    assert rows.count() < 200
    it.page.locator("#bench-list").focus()
    it.page.keyboard.press("End")
    assert rows.count() == MANY
    it.page.keyboard.press("Enter")
    assert "copy 2" in it.text("#bench-chosen")


def test_scrolling_the_list_brings_more_of_it(open_page: Open, large: str) -> None:
    it = open_page(large, still=False)
    rows = it.page.locator("#bench-list li")
    before = rows.count()
    it.page.locator("#bench-list").evaluate("list => { list.scrollTop = list.scrollHeight; }")
    more = "before => document.querySelectorAll('#bench-list li').length > before"
    it.page.wait_for_function(more, arg=before)


def names_in_list(it: Opened) -> set[str]:
    return {row.rpartition(":")[0] for row in it.page.locator(".bench-fault").all_inner_texts()}


def test_an_item_of_the_drawing_narrows_the_list_to_its_faults(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    for number in (3, 8, 12):
        title, names = topology["items"][number]
        it.page.locator(f'.bench-drawing [data-item="{number}"] .bench-hit').click(force=True)
        known = {topology["names"][name] for name in names}
        rows = names_in_list(it)
        assert {r for r in rows if "#" not in r and not r.startswith("route ")} <= known
        faults = {topology["names"][f[0]] for f in topology["faults"]} & known
        assert faults <= rows and (rows or f"No fault of {title}" in it.text("#bench-found"))
    it.page.locator("#bench-all").click()
    assert it.text("#bench-found") == f"{everything(document)}."


def test_a_route_belongs_to_what_lies_on_it(
    open_page: Open, where: str, document: Document
) -> None:
    """The trunk of the plan lies on route north; the catalogue knows the route's cut."""
    topology = document["topologies"][0]
    it = open_page(where)
    number = next(n for n, (title, _) in enumerate(topology["items"]) if "trunk-main" in title)
    it.page.locator(f'.bench-drawing [data-item="{number}"] .bench-hit').click(force=True)
    assert "route north" in names_in_list(it)


def test_a_cabinet_narrows_the_list_to_its_things(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    spots = document["groups"][0]["spots"]
    with_faults = {f[0] for f in topology["faults"]}
    cabinet = next(
        (spot[1], topology["cabinets"][spot[3]])
        for spot in spots
        if with_faults & set(topology["cabinets"][spot[3]])
    )
    it.page.locator(f'.bench-cabinet[data-cabinet="{cabinet[0]}"]').click()
    assert names_in_list(it) == {topology["names"][n] for n in with_faults & set(cabinet[1])}
    assert f"wall screen, {cabinet[0]}" in it.text("#bench-found")


def test_the_keyboard_alone_is_enough(open_page: Open, where: str, document: Document) -> None:
    it = open_page(where)
    press = it.page.keyboard.press
    stops = []
    for _ in range(60):
        press("Tab")
        focused = it.page.evaluate(FOCUSED)
        if focused["id"] in ("", "BODY"):
            break
        stops.append(focused["id"])
        assert focused["seen"], f"no visible focus on {focused['id']}"
    needed = {
        "bench-topology", "bench-beside", "bench-search", "bench-mode", "bench-verdict",
        "bench-list", "bench-play", "bench-speed", "bench-before", "bench-back", "bench-on",
        "bench-after", "bench-frame", "bench-copy", "bench-link", "bench-cabinet", "data-item",
    }  # fmt: skip
    assert needed <= {*stops}
    assert stops.count("bench-cabinet") == stops.count("data-item") == 1
    it.page.locator("#bench-search").focus()
    it.page.keyboard.type(f"{MADE} 1")
    press("ArrowDown")
    press("ArrowDown")
    press("Enter")
    assert f"{MADE} 1" in it.text("#bench-chosen") and f"{MADE} 1:" not in it.text("#bench-chosen")
    it.page.locator(".bench-cabinet").first.focus()
    press("ArrowRight")
    press("ArrowDown")
    assert it.page.evaluate("document.activeElement.dataset.cabinet") == "r2c2"
    press("Enter")
    assert "wall screen, r2c2" in it.text("#bench-found")
    assert it.page.evaluate("document.activeElement.id") == "bench-search"
    press("Escape")
    it.page.locator(".bench-drawing [data-item]").first.focus()
    press("End")
    press(" ")
    assert f"of {everything(document)} of" in it.text("#bench-found") or "No fault of" in it.text(
        "#bench-found"
    )


FOCUSED = """() => {
  const it = document.activeElement;
  const style = getComputedStyle(it);
  const hit = it.querySelector?.(':scope > .bench-hit');
  const inner = hit ? getComputedStyle(hit) : style;
  const line = style.outlineStyle !== 'none' && parseFloat(style.outlineWidth) >= 2;
  const stroke = inner.stroke !== 'none' && parseFloat(inner.strokeWidth) >= 3;
  const id = it.id || (it.dataset.item !== undefined ? 'data-item' : '') ||
    it.className.baseVal || it.className || it.tagName;
  return { id, seen: line || stroke };
}"""


def longest(topology: Document) -> int:
    """The fault made up here of which most frames are told."""
    ends = {
        topology["outcomes"][fault[5]]["end"]: number
        for number, fault in enumerate(topology["faults"])
        if MADE in label(topology, number)
    }
    return ends[max(ends)]


def test_steps_scrubbing_and_events_go_to_their_frames(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    fault = longest(topology)
    outcome = topology["outcomes"][topology["faults"][fault][5]]
    changes = sorted({at for c in outcome["courses"] for at in topology["courses"][c][2::2]})
    it.go(view(document, 0, fault))

    def now() -> int:
        it.page.clock.run_for(1000)
        return int(it.page.locator(".bench-pane").first.get_attribute("data-frame") or -1)

    visited = []
    for _ in changes:
        it.page.locator("#bench-after").click()
        visited.append(now())
    assert visited == changes and len(changes) > 3
    it.page.locator("#bench-before").click()
    assert now() == changes[-2]
    it.page.locator("#bench-back").click()
    assert now() == changes[-2] - 1
    it.page.locator("#bench-on").click()
    assert now() == changes[-2]
    it.page.locator(".bench-events button").first.click()
    assert now() == 0
    signs = it.page.locator(".bench-events .bench-sign").all_inner_texts()
    assert signs == ["now"]
    it.page.locator("#bench-frame").press("ArrowRight")
    assert now() == 1
    assert it.page.locator(".bench-events .bench-sign").all_inner_texts() == ["latest"]


def test_the_live_sentence_tells_the_frame_once_nothing_plays(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    it.go(view(document, 0, numbers_of(topology, "blinks in a corner: dead"), 6))
    live = it.page.locator("#bench-now")
    assert live.get_attribute("aria-live") == "polite"
    assert "wall screen in part dark" in (live.text_content() or "")
    before = live.text_content()
    it.page.locator("#bench-play").click()
    it.page.clock.run_for(300)
    assert it.text("#bench-play") == "Stop" and live.text_content() == before
    it.page.locator("#bench-play").click()
    assert live.text_content() != before


def test_the_self_check_holds_and_can_fail(
    open_page: Open, where: str, document: Document, tmp_path: Path
) -> None:
    topology = document["topologies"][0]
    fault = numbers_of(topology, f"{MADE} 4: dead")
    it = open_page(where + view(document, 0, fault))
    assert it.text(".bench-check").endswith("equal those that were counted.")
    other: Document = json.loads(json.dumps(document))
    wrong = other["topologies"][0]
    wrong["played"][wrong["faults"][fault][7]][0][1][0] += 1
    it = open_page(written(tmp_path / "wrong.html", other) + view(document, 0, fault))
    assert "differs from what was counted: group main, dark:" in it.text(".bench-check")
    places = [target for target, _ in topology["played"][topology["faults"][fault][7]]]
    assert {document["groups"][0]["targets"][n]["kind"] for n in places} >= {"wall", "region"}
    wrong["played"][wrong["faults"][fault][7]][0][1][0] -= 1
    wrong["played"][wrong["faults"][fault][7]][-1][1][0] += 1
    it = open_page(written(tmp_path / "region.html", other) + view(document, 0, fault))
    assert "differs from what was counted: region" in it.text(".bench-check")


def test_every_self_check_of_the_engines_faults_holds(open_page: Open, where: str) -> None:
    """What the engine counted, against what the page draws: all faults of two topologies."""
    it = open_page(where)
    for number in (1, 2):
        it.page.locator("#bench-topology").select_option(str(number))
        it.page.locator("#bench-list").focus()
        it.page.keyboard.press("Home")
        for _ in range(it.page.locator("#bench-list li").count()):
            it.page.keyboard.press("Enter")
            it.page.clock.run_for(50)
            assert it.page.locator(".bench-pane").get_attribute("data-check") == "equal"
            it.page.keyboard.press("ArrowDown")


def test_frames_by_state_are_those_that_the_engine_counted(document: Document) -> None:
    """The slow code here against the engine, so that it may judge the page."""
    for topology in document["topologies"]:
        targets = document["groups"][topology["group"]]["targets"]
        for number in range(50):
            counted = dict(topology["played"][topology["faults"][number][7]])
            for of, row in enumerate(frames_by_state(document, topology, number)):
                if targets[of]["kind"] != "view":
                    assert counted.get(of, [0] * 5 + [sum(row)]) == row


def script(name: str) -> str:
    return (TEMPLATES / f"{name}.js").read_text(encoding="utf-8")


def test_time_codes_are_those_of_the_command_line(open_page: Open) -> None:
    """Every rate, beside the numbers that drop-frame counting leaves out, and anywhere in a day."""
    it = open_page("about:blank", still=False)
    for rate in RATES:
        draw = random.Random(rate.frame)
        first, minute = draw.randrange(10**6), 60 * rate.base
        frames = [*range(2 * minute - 3, 2 * minute + 3), *range(10 * minute, 10 * minute + 2)]
        frames += [draw.randrange(24 * 60 * minute) for _ in range(3000)]
        clock = {"nominal": rate.base, "drop": rate.drop_frame, "first": first}
        told = it.page.evaluate(
            "([frames, clock]) => {" + script("bench_clock") + "\nreturn frames.map("
            "frame => timeCode(frame, clock)); }",
            [frames, clock],
        )
        start = time_code(first, rate)
        assert told == [time_code(frame, rate, start) for frame in frames], rate.label


def test_the_counter_shows_frame_time_code_and_time(
    open_page: Open, where: str, document: Document
) -> None:
    """Drop-frame numbers 00 to 03 of a minute are left out at 59.94 (practice after ST 12-1)."""
    it = open_page(where)
    it.go(view(document, 0, longest(document["topologies"][0]), 3600))
    assert "frame 3\u00a0600 of" in it.text("#bench-count")
    assert "time code 20:01:00;04, 60.1 s after the fault" in it.text("#bench-count")


def test_times_beyond_two_minutes_tell_one_frame_from_the_next(open_page: Open, where: str) -> None:
    """Frames of 1001/60000 s; at 60 frames a second two are 16.7 ms apart, by hand."""
    told = open_page(where).page.evaluate(
        "frames => {" + script("bench_clock") + "\nreturn frames.map("
        "frame => secondsWords(frame * 1001 / 60000)); }",
        [60, 7193, 60000, 60001, 647_352],
    )
    assert told == ["1 s", "2 min 0.00 s", "16 min 41.00 s", "16 min 41.01 s", "179 min 59.98 s"]


@pytest.mark.parametrize(("width", "scheme"), [(360, "dark"), (1024, "light"), (1920, "dark")])
def test_nothing_is_wider_than_the_page_and_axe_finds_nothing(
    open_page: Open, where: str, document: Document, width: int, scheme: str
) -> None:
    import axe_playwright_python

    axe = (Path(axe_playwright_python.__file__).parent / "axe.min.js").read_text(encoding="utf-8")
    size = {"width": width, "height": 900}
    fragment = view(document, 1, 3, 1) + "&beside=main%3A+relay+pair"
    it = open_page(
        where + fragment, still=False, viewport=size, color_scheme=scheme, bypass_csp=True
    )
    assert it.page.evaluate("document.documentElement.scrollWidth") <= width
    it.page.add_script_tag(content=axe)
    run = "tags => axe.run({runOnly: tags, resultTypes: ['violations']})"
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
    found = it.page.evaluate(run, tags)
    assert [(v["id"], [n["html"][:200] for n in v["nodes"]][:3]) for v in found["violations"]] == []
    assert len(found["passes"]) > 15
    it.page.evaluate("document.getElementById('bench-search').labels[0].remove()")
    it.page.evaluate("document.getElementById('bench-search').removeAttribute('aria-describedby')")
    again = it.page.evaluate("axe.run('#bench-search', {runOnly: ['label']})")
    assert [v["id"] for v in again["violations"]] == ["label"]


def test_less_motion_is_honoured(open_page: Open, where: str) -> None:
    it = open_page(where, reduced_motion="reduce")
    assert it.page.locator("#bench-play").is_disabled()
    assert "asks for less motion" in it.text("#bench-pace")
    before = it.text("#bench-count")
    it.page.clock.run_for(5000)
    assert it.text("#bench-count") == before
    it.page.locator("#bench-on").click()
    assert it.text("#bench-count") != before


def large_changes(document: Document, topology: Document, fault: int, speed: float) -> int:
    """The most changes of a quarter of the wall or more within a second, frame by frame."""
    outcome = topology["outcomes"][topology["faults"][fault][5]]
    seconds = 1001 / 60000 / speed
    before, at = states(document, topology, fault, 0), []
    for frame in range(1, outcome["end"]):
        now = states(document, topology, fault, frame)
        if sum(a != b for a, b in zip(before, now, strict=True)) >= 145 / 4:
            at.append(frame * seconds)
        before = now
    return max((sum(a <= b < a + 1 for b in at) for a in at), default=0)


FLASHING = [
    ("blinks often: dead", 1), ("blinks often: dead", 100), ("blinks each frame: dead", 1),
    ("blinks in a corner: dead", 1), ("blinks seldom: dead", 1), ("blinks seldom: dead", 10),
]  # fmt: skip


@pytest.mark.parametrize(("name", "asked"), FLASHING)
def test_it_never_plays_more_than_three_flashes_a_second(
    open_page: Open, where: str, document: Document, name: str, asked: float
) -> None:
    """WCAG 2.3.1 and ITU-R BT.1702: three flashes, that is six changes, within any second."""
    topology = document["topologies"][0]
    fault = numbers_of(topology, name)
    slower = [speed for speed in SPEEDS if speed <= asked]
    safe = [s for s in slower if large_changes(document, topology, fault, s) <= 6]
    it = open_page(where)
    it.go(view(document, 0, fault))
    it.page.locator("#bench-speed").select_option(str(asked))
    pace = it.text("#bench-pace")
    assert bool(pace) == (safe[:1] != [asked])
    if not safe:
        assert pace.endswith("step or scrub.") and it.page.locator("#bench-play").is_disabled()
        return
    it.page.clock.run_for(2000)
    it.page.locator("#bench-play").click()
    it.page.clock.run_for(500)
    frame = int(it.page.locator("#bench-frame").input_value())
    end = topology["outcomes"][topology["faults"][fault][5]]["end"]
    expected = min(end - 1, 0.5 * safe[0] * 60000 / 1001)
    assert abs(frame - expected) <= max(2, 0.05 * 60 * safe[0])


def test_what_is_played_is_watched_as_it_is_drawn(
    open_page: Open, where: str, document: Document
) -> None:
    """Three seconds of playing, looked at every 20 ms: changes of a quarter of the wall."""
    it = open_page(where)
    it.go(view(document, 0, numbers_of(document["topologies"][0], "blinks often: dead")))
    it.page.clock.run_for(2000)
    it.page.locator("#bench-play").click()
    before, at = it.drawn(), []
    for tick in range(150):
        it.page.clock.run_for(20)
        now = it.drawn()
        if sum(a != b for a, b in zip(before, now, strict=True)) >= 145 / 4:
            at.append(tick * 0.02)
        before = now
    assert len(at) >= 5 and max(sum(a <= b < a + 1 for b in at) for a in at) <= 6


def test_a_key_held_down_does_not_make_the_wall_flash(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    it.go(view(document, 0, numbers_of(document["topologies"][0], "blinks each frame: dead")))
    it.page.clock.run_for(2000)
    seen = []
    for _ in range(21):
        it.page.locator("#bench-on").press("Enter")
        seen.append(it.drawn()[0])
    assert sum(a != b for a, b in zip(["lit", *seen], seen, strict=False)) == 6
    assert it.page.locator("#bench-body[data-held]").count() == 1 and "frame 21 of" in it.text(
        "#bench-count"
    )
    it.page.clock.run_for(1100)
    assert set(it.drawn()[:144]) == {"dark"}


def test_the_first_drawing_and_a_chosen_fault_come_at_once(
    open_page: Open, large: str, document: Document
) -> None:
    """2 600 faults, 144 cabinets. Other work on the machine only ever adds: the least counts."""
    firsts, drawn = [], []
    for _ in range(3):
        it = open_page(large, still=False)
        it.page.wait_for_selector("#bench-body[data-first]")
        firsts.append(float(it.body("first")))
    assert it.page.locator(".bench-cabinet").count() == 144
    for fault in range(5, 15):
        it.page.evaluate("delete document.getElementById('bench-body').dataset.drawn; 0")
        it.page.evaluate("to => { location.hash = to; }", view(document, 0, fault))
        it.page.wait_for_selector("#bench-body[data-drawn]")
        drawn.append(float(it.body("drawn")))
    assert min(firsts) < 1000 and 0 < min(drawn) < 100


def test_what_is_not_there_beside_is_said(open_page: Open, where: str, document: Document) -> None:
    it = open_page(where)
    fault = numbers_of(document["topologies"][0], f"{MADE} 1: dead")
    it.go(view(document, 0, fault) + "&beside=main%3A+single+feed")
    beside = it.page.locator(".bench-pane").nth(1)
    assert beside.locator(".bench-none").inner_text() == (
        f"main: single feed has no fault \u201c{MADE} 1: dead\u201d: nothing there has this name."
    )
    assert not beside.locator(".bench-shown").is_visible()
    group = document["groups"][document["topologies"][2]["group"]]["name"]
    it.go(view(document, 0, fault) + f"&beside={quote_plus(group + ': guarded')}")
    assert beside.locator(".bench-none").inner_text() == (
        f"{group}: guarded has no fault \u201c{MADE} 1: dead\u201d: it is another wall group, in "
        "which nothing has this name."
    )
    same = next(
        (label(a, n), m)
        for a, b in [document["topologies"][:2]]
        for n in range(60)
        for m in range(len(b["faults"]))
        if label(a, n) == label(b, m)
    )
    it.go(view(document, 1, same[1]) + "&beside=main%3A+relay+pair")
    assert same[0] in it.text("#bench-chosen")
    assert it.page.locator(".bench-pane").nth(1).locator(".bench-shown").is_visible()


def test_names_are_text(open_page: Open, document: Document, tmp_path: Path) -> None:
    other: Document = json.loads(json.dumps(document))
    attack = "<img src=x onerror=alert(1)></script><script>alert(2)</script>\u2028&lt;"
    for topology in other["topologies"]:
        topology["label"] += attack
        topology["names"] = [name + attack for name in topology["names"]]
    it = open_page(written(tmp_path / "attack.html", other))
    assert it.said == [] and len(it.asked) == 1
    assert attack in (it.page.locator("#bench-chosen").text_content() or "")
    assert "<" not in embedded(attack) and json.loads(embedded(attack)) == attack


def test_every_part_of_the_script_is_in_it() -> None:
    there = {path.stem for path in TEMPLATES.glob("bench*.js")}
    assert there == {*SCRIPTS}
    assert all(len(script(name).splitlines()) < 300 for name in SCRIPTS)


def test_what_is_pointed_at_beside_is_found_in_the_first_topology(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    both = numbers_of(document["topologies"][0], "cam: dead")
    it.go(view(document, 0, both) + "&beside=main%3A+single+feed")
    second = it.page.locator(".bench-pane").nth(1)
    items = document["topologies"][1]["items"]
    camera = next(n for n, (title, _) in enumerate(items) if title == "cam")
    second.locator(f'[data-item="{camera}"] .bench-hit').click(force=True)
    assert it.page.locator("#bench-topology").input_value() == "0"
    assert names_in_list(it) == {"cam"}


def test_what_is_only_beside_changes_places(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    guarded = document["topologies"][2]
    group = document["groups"][guarded["group"]]["name"]
    it.go(view(document, 0, 0) + f"&beside={group}%3A+guarded")
    names = {guarded["names"][fault[0]] for fault in guarded["faults"]}
    other = {document["topologies"][0]["names"][f[0]] for f in document["topologies"][0]["faults"]}
    items = guarded["items"]
    own = next(
        n for n, (_, of) in enumerate(items)
        if {guarded["names"][name] for name in of} & (names - other)
        and not {guarded["names"][name] for name in of} & other
    )  # fmt: skip
    second = it.page.locator(".bench-pane").nth(1)
    second.locator(f'[data-item="{own}"] .bench-hit').click(force=True)
    assert it.page.locator("#bench-topology").input_value() == "2"
    assert it.page.locator("#bench-beside").input_value() == "0"


def test_the_drawing_can_be_fitted(open_page: Open, where: str) -> None:
    it = open_page(where)
    box = it.page.locator(".bench-equipment .bench-scroll")
    wider = "it => it.scrollWidth > it.clientWidth"
    assert box.evaluate(wider)
    it.page.locator(".bench-fit").click()
    assert it.page.locator(".bench-fit").get_attribute("aria-pressed") == "true"
    assert not box.evaluate(wider)


def test_the_counts_are_those_of_the_document(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology = document["topologies"][1]
    targets = document["groups"][0]["targets"]
    for name in ("cam: dead", "house-1: tripped", "cam: flapping"):
        fault = topology["faults"][numbers_of(topology, name)]
        it.go(view(document, 1, numbers_of(topology, name)))
        rows = it.page.locator(".bench-counts tbody tr").evaluate_all(
            "all => all.map(row => [...row.cells].map(cell => cell.textContent))"
        )
        told = {(row[0], row[1]): row[2:4] for row in rows}
        played = dict(topology["played"][fault[7]])
        for target, least, most, best, worst in topology["counts"][fault[6]]:
            for number, state in enumerate(STATES[:5]):
                here = played[target][number]
                if targets[target]["kind"] == "group" or not ((most and most[number]) or here):
                    continue
                span = "goes on" if most is None else f"{least[number]} to {most[number]}"
                if most and least[number] == most[number]:
                    span = str(most[number])
                found = told.pop((targets[target]["title"], state))
                assert found[1].replace("\u00a0", "") == str(here)
                lasting = {worst: "perhaps for good", best: "for good"} if most else {}
                if number in lasting:
                    span = f"{lasting[number]} ({span} until settled)"
                assert found[0].replace("\u00a0", "") == span
        assert all(row[1] == "0" for row in told.values())
        assert ("Grade of the timings: " in it.text(".bench-bound")) == bool(fault[8])


def test_what_is_struck_is_marked_by_a_word(
    open_page: Open, where: str, document: Document
) -> None:
    it = open_page(where)
    topology, rig = document["topologies"][0], benches()[0].rig
    for name in ("cam: dead", "route north: cut"):
        fault = numbers_of(topology, name)
        it.go(view(document, 0, fault))
        struck = it.page.locator(".bench-struck").evaluate_all(
            "all => all.map(e => Number(e.dataset.item))"
        )
        titles = [topology["items"][item][0] for item in struck]
        assert it.text(".bench-struck-said") == f"Struck here: {', '.join(titles)}."
        things = {n for n, thing in rig.things.items() if n == "cam" or "north" in thing.routes}
        hit = things & {"cam"} if name == "cam: dead" else things - {"cam"}
        assert hit and struck == [
            n for n, item in enumerate(scheme(rig).items.values()) if hit & {*item.names}
        ]
        words = it.page.locator(".bench-struck .bench-word").all_text_contents()
        assert words == ["struck"] * len(struck)


def test_one_script_can_be_watched(open_page: Open, tmp_path: Path) -> None:
    """As `inject` writes it: one recording, with a count of its own and none over the timings."""
    out = tmp_path / "script.html"
    fault = "dead relay-main at 4 s for 1 s"
    command = [sys.executable, "-m", "sim", "inject", "first", fault, "--output", str(out)]
    subprocess.run(command, check=True, capture_output=True, cwd=Path(__file__).parents[1])
    it = open_page(out.as_uri())
    assert it.said == [] and it.asked == [out.as_uri()]
    assert it.text("#bench-found") == "1 fault." and fault in it.text("#bench-chosen")
    assert "time code 00:00:04:00" in it.text("#bench-count")
    assert it.page.locator(".bench-pane").get_attribute("data-check") == "equal"
    assert it.text(".bench-bound").startswith("Of this recording alone")
    assert it.text(".bench-struck-said") == "Struck here: relay-main."


def test_nothing_lies_over_the_end_of_the_bench(open_page: Open, where: str) -> None:
    """The list stays in sight beside a long stage, and ends where that ends."""
    it = open_page(where, still=False, viewport={"width": 1280, "height": 800})
    it.page.locator("#bench-copy").scroll_into_view_if_needed()
    bottom, top = (
        it.page.locator(part).evaluate(f"it => it.getBoundingClientRect().{side}")
        for part, side in ((".bench-finder", "bottom"), (".bench-key", "top"))
    )
    assert bottom <= top
    it.page.locator("#bench-copy").click()


def test_the_row_of_the_frame_is_in_sight(open_page: Open, where: str, document: Document) -> None:
    it = open_page(where)
    topology = document["topologies"][0]
    most = max(
        range(50), key=lambda n: len(topology["outcomes"][topology["faults"][n][5]]["events"])
    )
    events = topology["outcomes"][topology["faults"][most][5]]["events"]
    it.go(view(document, 0, most, events[-1][0]))
    rows = it.page.locator('.bench-events tr[data-sign="now"]')
    assert rows.count() >= 1
    sides = "it => [it.getBoundingClientRect().top, it.getBoundingClientRect().bottom]"
    box = it.page.locator(".bench-course .bench-scroll").evaluate(sides)
    row = rows.first.evaluate(sides)
    assert box[0] - 1 <= row[0] <= row[1] <= box[1] + 1
    assert it.page.locator(".bench-course .bench-scroll").evaluate("it => it.scrollTop") > 0

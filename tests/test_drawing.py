"""The drawing of a rig, read back from its SVG: what it says, where it stands, what it hides.

In: all topologies, walls of several sizes, random rigs. Out: well-formed SVG whose texts lie apart
from each other and from lines, whose chains are those of the plan, whose marks are those asked for.
"""

from __future__ import annotations

import os
import re
import subprocess
import sys
from dataclasses import dataclass, replace
from functools import cache
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import pytest
from hypothesis import given
from hypothesis import strategies as st

from sim.errors import InputError
from sim.report import svg
from sim.report.drawing import draw
from sim.report.equipment_drawing import sizes
from sim.report.layering import plan, settle
from sim.report.ranks import Size, columns
from sim.report.scheme import Scheme, scheme, span
from sim.report.ways import chain_lines, fed_by, numbers, short, usual_edges
from sim.rig.chains import chains
from sim.rig.patterns import build
from sim.rig.plan import ControlPlan, Options, ShowPlan, WallPlan
from sim.rig.topology import Display, Rig
from sim.scenario.loader import load
from sim.scenario.plan import plan_of as plan_from
from tests.plans import group, main, show, source, wall
from tests.rigs import seeded

NAMESPACE = "{http://www.w3.org/2000/svg}"
ONE_WALL = ("single-feed", "return-loop", "two-unit", "relay-pair", "crossed-relays")
MIRRORED = ("mirrored", "mirrored-guarded")
SIZES = ((2, 2), (3, 4), (9, 16))
OPTIONS = ({}, {"seamless": True}, {"cards": 2}, {"returns": "gated"})
DRAWN = range(40)
SCENARIOS = sorted((Path(__file__).parents[1] / "scenarios").glob("*.yaml"))


def running(how: str, rows: int, columns: int, longest: int, start: str) -> WallPlan:
    """A wall whose power chains cross its data chains, each on one circuit."""
    return replace(
        wall(rows, columns),
        chains=chains(rows, columns, how, longest, start),
        power_chains=tuple(tuple((r, c) for r in range(rows)) for c in range(columns)),
        circuits=(("house-1",), ("house-2",)),
    )


def plan_of(topology: str, rows: int, columns: int) -> ShowPlan:
    if topology in ONE_WALL:
        return main(topology, rows, columns)
    walls = (wall(rows, columns, "left"), wall(rows, columns, "right"))
    return show(group(*walls, name="banks", topology=topology))


WALLS = {
    "snake up": running("serpentine by column", 4, 9, 12, "bottom left"),
    "snake left": running("serpentine by row", 4, 9, 18, "top right"),
    "pieces": running("by column", 6, 3, 3, "bottom right"),
    "single": running("by row", 3, 1, 1, "top left"),
    "big": running("serpentine by column", 20, 30, 40, "bottom left"),
}
PLANS = {f"{t} {c}x{r}": plan_of(t, r, c) for t in ONE_WALL + MIRRORED for r, c in SIZES}
PLANS |= {f"{t} {o}": main(t, options=o) for t in ONE_WALL for o in OPTIONS[1:]}
PLANS |= {
    f"{name} {cards}": show(group(made, topology="two-unit", options=Options(cards=cards)))
    for name, made in WALLS.items()
    for cards in (1, 2)
}


@cache
def rig(name: str) -> Rig:
    return build(PLANS[name])


@cache
def drawn(name: str) -> Picture:
    return Picture(draw(rig(name)))


@dataclass(frozen=True)
class Box:
    left: float
    top: float
    right: float
    bottom: float

    def meets(self, other: Box) -> bool:
        across = min(self.right, other.right) - max(self.left, other.left)
        down = min(self.bottom, other.bottom) - max(self.top, other.top)
        return across > 0 and down > 0


class Picture:
    """An SVG taken apart: texts and lines with where they are on the page."""

    def __init__(self, text: str) -> None:
        self.root = ElementTree.fromstring(text)
        self.texts: list[tuple[str, Box]] = []
        self.lines: list[tuple[str, list[tuple[float, float]]]] = []
        self.rects: list[tuple[str, Box]] = []
        self.dots: list[Box] = []
        self._take(self.root, 0, 0)

    def _take(self, element: ElementTree.Element, x: float, y: float) -> None:
        moved = re.fullmatch(r"translate\((\S+) (\S+)\)", element.get("transform", ""))
        if moved:
            x, y = x + float(moved[1]), y + float(moved[2])
        kind = element.tag.removeprefix(NAMESPACE)
        look = element.get("class", "")
        if kind == "text":
            self.texts.append((element.text or "", _text_box(element, x, y)))
        elif kind == "path":
            self.lines.append((look, _points(element.get("d", ""), x, y)))
        elif kind == "rect" and "width" in element.attrib:
            self.rects.append((look, _rect_box(element, x, y)))
        elif kind == "circle":
            cx, cy, r = (float(element.get(a, "")) for a in ("cx", "cy", "r"))
            self.dots.append(Box(x + cx - r, y + cy - r, x + cx + r, y + cy + r))
        for child in element:
            self._take(child, x, y)

    @property
    def words(self) -> list[str]:
        return [text for text, _ in self.texts]

    @property
    def page(self) -> Box:
        return Box(0, 0, float(self.root.get("width", "")), float(self.root.get("height", "")))


def _text_box(element: ElementTree.Element, x: float, y: float) -> Box:
    size = float(element.get("font-size", ""))
    wide = size * sum(map(_wide, element.text or ""))
    back = {"start": 0.0, "middle": wide / 2, "end": wide}[element.get("text-anchor", "")]
    left, base = x + float(element.get("x", "")) - back, y + float(element.get("y", ""))
    return Box(left, base - 0.75 * size, left + wide, base + 0.22 * size)


def _wide(letter: str) -> float:
    """Letters by five widths, in parts of their size: about as wide as the widest faces in use."""
    if letter in "ijl.,:;'|! /I":
        return 0.33
    if letter in "frt-()[]":
        return 0.40
    return 0.92 if letter in "mwMW@%" else 0.67 if letter.isupper() else 0.61


def _rect_box(element: ElementTree.Element, x: float, y: float) -> Box:
    left, top = x + float(element.get("x", "0")), y + float(element.get("y", "0"))
    return Box(
        left, top, left + float(element.attrib["width"]), top + float(element.attrib["height"])
    )


def _points(steps: str, x: float, y: float) -> list[tuple[float, float]]:
    numbers = [float(found) for found in re.findall(r"-?\d+(?:\.\d+)?", steps)]
    return [(x + a, y + b) for a, b in zip(numbers[::2], numbers[1::2], strict=True)]


def _clashes(picture: Picture) -> list[str]:
    found = [
        f"{one!r} on {other!r}"
        for number, (one, box) in enumerate(picture.texts)
        for other, beside in picture.texts[:number]
        if box.meets(beside)
    ]
    found += [
        f"a line through {text!r}"
        for _, points in picture.lines
        for (ax, ay), (bx, by) in pairwise(points)
        for text, box in picture.texts
        if box.meets(Box(min(ax, bx), min(ay, by) - 0.1, max(ax, bx) + 0.1, max(ay, by) + 0.1))
    ]
    found += [
        f"a dot on {t!r}" for dot in picture.dots for t, box in picture.texts if box.meets(dot)
    ]
    page = picture.page
    return found + [
        f"{text!r} leaves the page"
        for text, box in picture.texts
        if min(box.left, box.top) < 0 or box.right > page.right or box.bottom > page.bottom
    ]


@pytest.mark.parametrize("name", PLANS)
def test_texts_lie_apart_from_each_other_and_from_lines(name: str) -> None:
    assert not _clashes(drawn(name))


@pytest.mark.parametrize("seed", DRAWN)
def test_texts_of_drawn_rigs_lie_apart(seed: int) -> None:
    assert not _clashes(Picture(draw(seeded(seed)[0])))


@pytest.mark.parametrize("path", SCENARIOS, ids=lambda path: path.stem)
def test_texts_of_the_shipped_scenarios_lie_apart(path: Path) -> None:
    made = build(plan_from(load(path)))
    picture = Picture(draw(made))
    assert not _clashes(picture)
    assert len(picture.dots) == len(chain_lines(made))


def test_the_check_of_clashes_finds_them() -> None:
    texts = [svg.text(10, 20, "one"), svg.text(15, 25, "two"), svg.line([(0, 17), (40, 17)])]
    found = _clashes(Picture(svg.page(texts, (100, 22), "t", "d", "x")))
    assert found[0] == "'two' on 'one'"
    assert "a line through 'one'" in found and "'two' leaves the page" in found


@pytest.mark.parametrize("name", PLANS)
def test_what_every_drawing_keeps_to(name: str) -> None:
    root = drawn(name).root
    kinds = {element.tag.removeprefix(NAMESPACE) for element in root.iter()}
    assert kinds <= {"svg", "title", "desc", "style", "rect", "g", "path", "circle", "text"}
    assert min(float(t.get("font-size", "")) for t in root.iter(f"{NAMESPACE}text")) >= 11
    labels = root.get("aria-labelledby", "").split()
    told = {element.get("id"): element.text for element in root[:2]}
    assert root.get("role") == "img" and labels == [*told] and all(told.values())
    assert not any(key.startswith("on") or "href" in key for e in root.iter() for key in e.attrib)


def test_items_and_cabinets_can_be_found_by_scripts() -> None:
    root, made = drawn("relay-pair 4x3").root, rig("relay-pair 4x3")
    items = [e for e in root.iter() if "data-item" in e.attrib]
    told = {int(e.attrib["data-item"]): e[0].text for e in items}
    assert told == {
        number: f"{item.title}: {', '.join(item.names)}"
        for number, item in enumerate(scheme(made).items.values())
    }
    cabinets = [e.attrib["data-cabinet"] for e in root.iter() if "data-cabinet" in e.attrib]
    assert cabinets == list(made.cabinets)


@pytest.mark.parametrize("name", PLANS)
def test_units_stand_apart_and_hold_their_texts(name: str) -> None:
    picture = drawn(name)
    boxes = [box for look, box in picture.rects if look in ("box", "heavy")]
    assert not [1 for n, one in enumerate(boxes) for two in boxes[:n] if one.meets(two)]
    for text, box in picture.texts:
        inside = [b for b in boxes if b.meets(box)]
        assert all(b.left < box.left and box.right < b.right for b in inside), text
        assert all(b.top < box.top and box.bottom < b.bottom for b in inside), text


@pytest.mark.parametrize("name", PLANS)
def test_links_run_from_left_to_right(name: str) -> None:
    made = scheme(rig(name))
    laid = plan({key: _block(made, key) for key in made.items}, made.edges)
    assert not laid.left_out and set(laid.points) == set(made.edges)
    for (one, other), points in laid.points.items():
        assert laid.column[one] < laid.column[other]
        assert all(a[0] <= b[0] and (a[0] == b[0] or a[1] == b[1]) for a, b in pairwise(points))


def _block(made: Scheme, key: str) -> Size:
    return Size(80, 20, 20, made.items[key].least, not made.items[key].is_link)


@pytest.mark.parametrize("name", PLANS)
def test_chains_are_those_of_the_plan(name: str) -> None:
    found: dict[str, list[object]] = {}
    for line in chain_lines(rig(name)):
        if line.card == 0:
            found.setdefault(line.wall, []).append(line.places)
    for walls in PLANS[name].groups:
        for each in walls.walls:
            assert sorted(found[each.name]) == sorted(each.chains)
    assert len(found) == sum(len(each.walls) for each in PLANS[name].groups)


def test_each_chain_has_a_dot_a_bar_and_its_name_once() -> None:
    picture = drawn("relay-pair 16x9")
    assert len(picture.dots) == 16
    assert [picture.words.count(f"chain-{n}") for n in range(1, 17)] == [1] * 16
    assert sum(look == "grid" for look, _ in picture.rects) == 144
    lengths = [(len(p), abs(p[0][0] - p[-1][0]), abs(p[0][1] - p[-1][1])) for _, p in picture.lines]
    assert lengths.count((2, 12, 0)) == 16
    assert sum(many == 9 for many, _, _ in lengths) == 16


def test_a_chain_is_named_in_its_first_cabinet() -> None:
    for name in ("snake up 1", "snake left 2", "pieces 1", "single 2"):
        picture = drawn(name)
        grid = [box for look, box in picture.rects if look == "grid"]
        named = {text: box for text, box in picture.texts if re.fullmatch(r"chain-\d+(-b)?", text)}
        assert len(named) == len(chain_lines(rig(name))) == len(picture.dots)
        for line in chain_lines(rig(name)):
            row, column = line.places[0]
            cabinet = grid[row * PLANS[name].groups[0].walls[0].columns + column]
            assert cabinet.meets(named[line.name])
            assert any(cabinet.meets(dot) for dot in picture.dots)


def test_a_big_rig_stays_readable() -> None:
    words = drawn("crossed-relays 16x9").words
    assert words.count("8 ports") == 4 and "port-main-9 to port-main-16" in words
    assert not any(re.fullmatch(r"port-main-\d+", word) for word in words)
    assert len(words) < 160


def test_backups_are_dashed_and_the_rest_is_not() -> None:
    made = scheme(rig("relay-pair 4x3"))
    titles = {item.names[0]: item for item in made.items.values()}
    backup = {name for name, item in titles.items() if item.backup}
    assert backup == {
        "spare-cam", "spare-cam/to-main/unit-a", "sync-2", "sync-2/to-main/unit-a",
        "main/trunk-backup-1", "main/relay-backup", "main/port-backup-1", "main/chain-1/tail",
    }  # fmt: skip
    dashed = sum("dash" in look for look, _ in drawn("relay-pair 4x3").lines)
    links = sum(item.backup and item.is_link for item in made.items.values())
    assert dashed == links + sum(made.edges.values())


def test_only_feeds_that_wait_are_backup_edges() -> None:
    made = scheme(rig("relay-pair 4x3"))
    first = {key: item.names[0].removeprefix("main/") for key, item in made.items.items()}
    found = {(first[a], first[b]) for (a, b), backup in made.edges.items() if backup}
    assert found == {
        ("spare-cam", "spare-cam/to-main/unit-a"), ("spare-cam/to-main/unit-a", "unit-a"),
        ("sync-2", "sync-2/to-main/unit-a"), ("sync-2/to-main/unit-a", "unit-a"),
        ("unit-a", "trunk-backup-1"), ("trunk-backup-1", "relay-backup"),
        ("relay-backup", "port-backup-1"), ("port-backup-1", "chain-1/tail"),
        ("chain-1/tail", "r1c1/receiver"),
    }  # fmt: skip


@pytest.mark.parametrize("name", PLANS)
def test_lines_of_different_links_never_lie_on_each_other(name: str) -> None:
    made = scheme(rig(name))
    laid = plan(sizes(made), made.edges)
    parts = [(e, a, b) for e, way in laid.points.items() for a, b in pairwise(way)]
    for number, (one, a, b) in enumerate(parts):
        for other, c, d in parts[:number]:
            if not {*one} & {*other}:
                assert not Box(*_span(a, b)).meets(Box(*_span(c, d))) or _crossing(a, b, c, d)


def _span(a: tuple[float, float], b: tuple[float, float]) -> tuple[float, float, float, float]:
    """A line part made 3 pixels thick."""
    (ax, bx), (ay, by) = sorted((a[0], b[0])), sorted((a[1], b[1]))
    return ax - 1.5, ay - 1.5, bx + 1.5, by + 1.5


def _crossing(*ends: tuple[float, float]) -> bool:
    """Whether one of two line parts is level and the other upright."""
    a, b, c, d = ends
    return (a[1] == b[1]) != (c[1] == d[1])


def test_routes_lengths_and_circuits_are_written() -> None:
    words = drawn("relay-pair 4x3").words
    assert words.count("route north, 1.2 km") == 1 and words.count("route south, 1.5 km") == 1
    assert "power 2 1" in words and "10 m" in words
    assert "Power circuits: power 1 = house-1; power 2 = house-2 (held up for a time)." in words
    assert fed_by(rig("relay-pair 4x3"), "main/r2c3/receiver") == ["house-2", "house-1"]


def test_each_cabinet_says_what_feeds_it_where_they_differ() -> None:
    words = drawn("snake up 1").words
    assert words.count("1") >= 4 * 5 and words.count("2") >= 4 * 4
    assert any(word.endswith("power 1 2 to all") for word in drawn("relay-pair 4x3").words)


def test_single_points_are_marked_by_outline_and_word() -> None:
    plain, marked = (draw(rig("relay-pair 4x3"), s) for s in ({}, {"main/unit-a": "dead, corrupt"}))
    assert "takes all" not in plain and Picture(plain).words != Picture(marked).words
    picture = Picture(marked)
    assert [look for look, _ in picture.rects].count("heavy") == 1
    (heavy,) = (box for look, box in picture.rects if look == "heavy")
    assert [t for t, box in picture.texts if heavy.meets(box)] == [
        "unit-a", "scaler", "power 1 2", "takes all: dead, corrupt",
    ]  # fmt: skip


def test_a_route_marks_all_that_lies_on_it_and_a_bundle_counts() -> None:
    single = {
        "north": "cut", "main/port-main-2": "dead", "main/r1c1/receiver": "dead",
        "house-1": "tripped",
    }  # fmt: skip
    picture = Picture(draw(rig("relay-pair 4x3"), single))
    assert "1 of 4 takes all: dead" in picture.words
    assert "takes all: its route cut" in picture.words
    assert sum("strong" in look for look, _ in picture.lines) == 1
    assert [look for look, _ in picture.rects].count("mark") == 1
    assert any("house-1 (takes all: tripped)" in word for word in picture.words)


def test_an_unknown_single_point_is_refused() -> None:
    with pytest.raises(InputError, match="main/unit-a"):
        draw(rig("relay-pair 4x3"), {"main/unit-q": "dead"})


@pytest.mark.parametrize("name", ["<b>x</b>", "a & b", 'it\'s "so"', "]]>", "</title>", "&lt;"])
def test_names_are_never_markup(name: str) -> None:
    made = main("single-feed", 2, 2)
    first = replace(
        made.groups[0].layers[0],
        choices=(replace(made.groups[0].layers[0].choices[0], source=name),),
    )
    groups = (replace(made.groups[0], layers=(first, made.groups[0].layers[1])),)
    text = draw(
        build(replace(made, groups=groups, sources=(source(name), *made.sources[1:]))), ident=name
    )
    picture = Picture(text)
    assert name in picture.words
    plain = Picture(draw(build(made)))
    count = [len(list(p.root.iter())) for p in (picture, plain)]
    assert len({e.tag for e in picture.root.iter()} - {e.tag for e in plain.root.iter()}) == 0
    assert count[0] <= count[1]


@given(st.text(max_size=60), st.integers(20, 300))
def test_a_shortened_text_fits_and_keeps_its_ends(text: str, most: int) -> None:
    found = svg.shorten(text, most, 11)
    whole = svg.xml_text(text)
    assert found == whole or (svg.width(found, 11) <= most or len(found) <= 2)
    assert found == whole or (found[0] == whole[0] and "\u2026" in found)


def test_the_same_bytes_whatever_the_hash_seed() -> None:
    code = (
        "import hashlib; from tests.plans import main; from sim.rig.patterns import build;"
        "from sim.report.drawing import draw; from tests.rigs import seeded;"
        "texts = [draw(build(main('crossed-relays'))), draw(seeded(7)[0])];"
        "print(hashlib.sha256(''.join(texts).encode()).hexdigest())"
    )
    found = {
        subprocess.run(
            [sys.executable, "-c", code],
            cwd=Path(__file__).parents[1],
            env={**os.environ, "PYTHONHASHSEED": seed},
            capture_output=True,
            text=True,
            check=True,
        ).stdout
        for seed in ("1", "2", "3")
    }
    assert len(found) == 1


def _colours(style: str) -> dict[str, str]:
    return dict(re.findall(r"\.(\w+)\{(?:fill:none;)?(?:fill|stroke):(#[0-9a-f]{6})", style))


def _light(colour: str) -> float:
    parts = [int(colour[i : i + 2], 16) / 255 for i in (1, 3, 5)]
    red, green, blue = (p / 12.92 if p <= 0.04045 else ((p + 0.055) / 1.055) ** 2.4 for p in parts)
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


@pytest.mark.parametrize("dark", [False, True])
def test_tones_are_neutral_and_contrast_suffices(dark: bool) -> None:
    """Contrast as in WCAG 2 (1.4.3: 4.5 for text, 1.4.11: 3 for lines), formula from memory."""
    colours = _colours(svg.STYLE.split("@media")[dark])
    paper = _light(colours["paper"])
    for name, least in (("ink", 4.5), ("dim", 4.5), ("line", 3), ("point", 3)):
        tone = _light(colours[name])
        assert (max(tone, paper) + 0.05) / (min(tone, paper) + 0.05) >= least
    for colour in re.findall(r"#[0-9a-f]{6}", svg.STYLE):
        parts = [int(colour[i : i + 2], 16) for i in (1, 3, 5)]
        assert max(parts) - min(parts) <= 20


@given(st.lists(st.tuples(st.floats(-99, 99), st.floats(0, 20), st.floats(0, 30)), min_size=1))
def test_settled_places_keep_their_distance_and_no_others_are_nearer(
    draws: list[tuple[float, float, float]],
) -> None:
    wanted, apart = [want for want, _, _ in draws], [gap for _, gap, _ in draws[1:]]
    found = settle(wanted, apart)
    assert all(b - a >= gap - 1e-6 for (a, b), gap in zip(pairwise(found), apart, strict=True))
    other = [found[0]]
    for _, gap, more in draws[1:]:
        other.append(other[-1] + gap + more)
    far = [sum((a - b) ** 2 for a, b in zip(p, wanted, strict=True)) for p in (found, other)]
    assert far[0] <= far[1] + 1e-6 * (1 + far[1])


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)).filter(lambda e: e[0] != e[1])))
def test_columns_follow_the_edges_and_name_those_that_cannot(edges: list[tuple[int, int]]) -> None:
    named = list(dict.fromkeys((str(a), str(b)) for a, b in edges))
    sizes = {str(n): Size(1, 1, 1, n % 3, True) for n in range(6)}
    found, left_out = columns(sizes, named)
    assert all(found[a] < found[b] for a, b in named if (a, b) not in left_out)
    assert sorted(set(found.values())) == list(range(max(found.values()) + 1))
    if all(a < b for a, b in edges):
        assert not left_out


def test_alike_items_share_a_column_unless_one_leads_to_another() -> None:
    sizes = {name: Size(1, 1, 1, least, True) for name, least in
             {"u": 0, "loop": 1, "v": 0, "t": 2, "w": 2, "end": 3}.items()}  # fmt: skip
    found, left_out = columns(
        sizes, [("u", "loop"), ("loop", "v"), ("u", "t"), ("v", "w"), ("t", "end")]
    )
    assert found == {"u": 0, "loop": 1, "v": 2, "t": 3, "w": 3, "end": 4} and not left_out


def test_what_would_run_backwards_is_named_below() -> None:
    made = rig("two-unit 2x2")
    things = {**made.things}
    nodes = {
        name: replace(node, inputs=("main/unit-b#out",))
        if name == "cam/distributor#1" and "main/unit-b#out" in made.nodes
        else node
        for name, node in made.nodes.items()
    }
    picture = Picture(draw(replace(made, things=things, nodes=nodes)))
    assert any(word.startswith("Not drawn, for it would run backwards: ") for word in picture.words)


@given(st.sampled_from(DRAWN))
def test_what_is_in_use_is_one_way_from_each_cabinet(seed: int) -> None:
    made = seeded(seed)[0]
    found = usual_edges(made)
    for below in {name for _, name in found}:
        node = made.nodes[below]
        many = sum(other == below for _, other in found)
        assert many == len(set(node.reads)) if hasattr(node, "layers") else many == 1
    shown = {c.cards[0] for c in made.cabinets.values()}
    assert {n for _, n in found if isinstance(made.nodes[n], Display)} == shown


def test_control_links_and_circuits_are_listed() -> None:
    plan = replace(main("single-feed", 2, 2), controls=(ControlPlan("desk line"),))
    words = Picture(draw(build(plan))).words
    assert "Control links (they carry no picture): desk line." in words
    assert numbers(build(plan)) == {"house-1": "1", "house-2": "2"}


def test_short_words() -> None:
    assert span(["p-1"]) == "p-1" and span(["p-1", "p-2"]) == "p-1, p-2"
    assert span(["a/p-1", "a/p-2", "a/p-3"]) == "a/p-1 to p-3"
    made = rig("single-feed 2x2")
    assert short(made, "main/unit-a") == "unit-a"
    assert short(made, "cam/to-main/unit-a") == "cam/to-unit-a"


def test_short_names_of_circuits_stay_and_a_number_is_no_other_circuits_name() -> None:
    built = rig("relay-pair 4x3")
    circuit = built.things["house-1"]
    signs = {"A": "A", "long name": "2", "1": "1", "other name": "3"}
    things = {name: replace(circuit, name=name) for name in signs}
    assert numbers(replace(built, things=things)) == signs


def test_a_wall_whose_name_does_not_fit_keeps_it_whole_in_its_element() -> None:
    name = "the very long wall behind the stage " * 3
    made = draw(build(show(group(wall(1, 2, name)))))
    assert f"<title>{name}: 2 x 1 cabinets" in made
    assert f">{name}<" not in made and "\u2026" in made


def test_ports_say_from_which_trunk_input_they_come() -> None:
    assert any(word.startswith("from trunk input 1") for word in drawn("relay-pair 4x3").words)

"""Action slips: what is on them against exhaustive trial, against `inject`, against the catalogue.

In: slips of shipped scenarios. Out: first acts that no other act beats, frames that `inject` counts
too, every fault on one slip, the order. Each check is shown to fail on a doctored slip.
"""

from __future__ import annotations

import random
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from fractions import Fraction
from itertools import pairwise

import pytest

from sim.faults import CABLES, MODES, Script
from sim.practice.acts import Act
from sim.practice.aftermath import Aftermaths
from sim.practice.causes import Cause, singles
from sim.practice.handover import handover
from sim.practice.nevers import BACKUP, BOTH, RESTART, never_do
from sim.practice.remedies import AFTER, BREAK, Way, choosing, mending, restarting
from sim.practice.slips import MOST_TRIED, Slip
from sim.practice.steps import BLINK, NOTHING, WORTH
from sim.practice.trials import Bench
from sim.report.slips_words import told
from sim.rig.topology import Display, Rig, selectors
from sim.risk.striking import strike_at
from sim.scenario.loader import load
from sim.study.contingency import CORNERS, Laboratory
from sim.study.injection import inject
from sim.study.strikes import strikes
from sim.timebase import FLICKS, fixed
from tests.slip_books import SCENARIOS, Book, Outcome, book, book_of, wall_seconds, whole_rig


@pytest.fixture(scope="module")
def first() -> Book:
    return book("first")


@pytest.fixture(scope="module")
def river() -> Book:
    return book("river")


# ---- the first act against all acts --------------------------------------------------------------


def _every_act(made: Book) -> Iterator[tuple[Act, ...]]:
    """Everything that anybody could do to the rig in one go, whatever is wrong."""
    rig = made.rig
    for thing in rig.things.values():
        if thing.family == "circuit" or "restart" in MODES[thing.family]:
            yield (Act("restart", thing.name),)
        if thing.family in (*CABLES, "port"):
            yield (Act("reseat", thing.name),)
        if thing.family == "port":
            yield (Act("re-patch", thing.name),)
        if thing.family == "processor":
            yield (Act("load", thing.name),)
        yield (Act("swap", thing.name),)
    yield from ((Act("bypass", cabinet),) for cabinet in rig.cabinets)
    for of, node in selectors(rig):
        if len(node.inputs) > 1 and not isinstance(node, Display):
            yield from ((Act("select", of.name, str(n)),) for n in range(len(node.inputs)))
    for name, group in rig.groups.items():
        yield from ((Act("take", name, each),) for each in group.arrangements)


def _cost(outcome: Outcome) -> tuple[int, int]:
    """What everybody sees, and all."""
    return sum(outcome.lost[:-1]), sum(outcome.lost)


def _rest(outcome: Outcome) -> tuple[int, int]:
    return sum(outcome.left[:-1]), sum(outcome.left)


def _best_saving(made: Book, slip: Slip) -> Fraction:
    """Wall-seconds that the best first act is expected to save, by trying everything."""
    causes = made.causes(slip.at)[:MOST_TRIED]
    whole = sum(Fraction(cause.weight) for cause in causes)
    idle = {cause.name: whole_rig(made, cause.faults, ()) for cause in causes}
    known = any(not c.look.unseen or c.look.shown.alarms for c in causes)
    found = [((Fraction(0), Fraction(0)), 0)]
    for acts in _every_act(made) if known else ():
        seen = every = helped = Fraction(0)
        rest_seen = rest_all = Fraction(0)
        dear = longest = 0
        for cause in causes:
            before, after = idle[cause.name], whole_rig(made, cause.faults, acts)
            chance = Fraction(cause.weight) / whole
            seen += chance * (_cost(before)[0] - _cost(after)[0])
            every += chance * (_cost(before)[1] - _cost(after)[1])
            rest_seen += chance * (_rest(before)[0] - _rest(after)[0])
            rest_all += chance * (_rest(before)[1] - _rest(after)[1])
            helped += chance * (_cost(after) < _cost(before))
            more = max(a - b for a, b in zip(after.dark, before.dark, strict=True))
            dear += _cost(after) > _cost(before) or more > 0
            longest = max(longest, more)
        if (seen, every) <= (0, 0) or helped < WORTH or longest > BLINK:
            continue
        if dear and (not slip.lasts or (rest_seen, rest_all) <= (0, 0)):
            continue
        found.append(((seen, every), 1))
    return wall_seconds(made, [1]) * max(found)[0][1]


def _unfit(made: Book, slips: Sequence[Slip]) -> list[int]:
    """Slips whose first act does not save as much as the best."""
    return [slip.number for slip in slips if slip.first.saves != _best_saving(made, slip)]


def test_no_act_at_all_beats_the_first_one_on_a_slip_of_first(first: Book) -> None:
    assert _unfit(first, first.slips) == []
    assert sum(bool(slip.first.acts) for slip in first.slips) == 9


def test_a_first_act_left_out_or_made_up_would_be_found(first: Book) -> None:
    acting = next(slip for slip in first.slips if slip.first.acts)
    idle = next(slip for slip in first.slips if not slip.first.acts and slip.lasts)
    wrong = replace(idle, first=replace(acting.first, saves=Fraction(1)))
    assert _unfit(first, [replace(acting, first=NOTHING), wrong]) == [acting.number, idle.number]


CREW = """
crew:
  technicians: 1
  spares: {scaling unit: 1, relay unit: 1, receiving card: 1, jumper: 1, fibre trunk: 1}
  source: invented
"""


def test_with_spares_the_best_act_is_still_the_first(tmp_path: object) -> None:
    text = (SCENARIOS / "first.yaml").read_text(encoding="utf-8") + CREW
    path = type(SCENARIOS)(str(tmp_path)) / "spares.yaml"
    path.write_text(text, encoding="utf-8")
    made = book_of(load(path))
    few = [slip for slip in made.slips if slip.lasts][:6]
    assert _unfit(made, few) == []
    assert any(act.do == "swap" for s in made.slips for t in (s.first, s.second) for act in t.acts)


def test_what_a_first_act_makes_worse_is_said(first: Book) -> None:
    """Of every fault at the place tried: more dark, or more not lit, than if nobody acts."""
    for slip in (slip for slip in first.slips if slip.first.acts):
        worse = set()
        for cause in first.causes(slip.at)[:MOST_TRIED]:
            idle = whole_rig(first, cause.faults, ())
            done = whole_rig(first, cause.faults, slip.first.acts)
            darker = any(a > b for a, b in zip(done.dark, idle.dark, strict=True))
            worse |= {cause.name} if darker or _cost(done) > _cost(idle) else set()
        assert {price.name for price in slip.first.prices} == worse


# ---- trials on a part of the rig -----------------------------------------------------------------


@pytest.mark.parametrize("name", ["first", "river"])
def test_a_trial_on_a_part_of_the_rig_equals_a_drill_on_the_whole(name: str) -> None:
    made = book(name)
    chosen = random.Random(20)
    causes = chosen.sample(list(singles(made.library, made.hazards)), 25)
    bench, groups = Bench(made.site), list(made.rig.groups)
    whole = [False, False]
    for cause in causes:
        ways: list[Way | None] = [
            *mending(sorted(cause.things), made.site),
            *choosing(groups, made.site, {1}),
            *restarting(groups, made.site),
        ]
        for way in (None, *chosen.sample([w for w in ways if w and w.when != AFTER], 3)):
            _alike(made, bench, cause, way)
            whole[way is not None] = True
    assert all(whole)


def _alike(made: Book, bench: Bench, cause: Cause, way: Way | None) -> None:
    ways = [way] if way else []
    tried = bench.tried(cause.faults, ways, bench.part(cause.faults, ways))
    walk = [Act("walk", way.place)] if way and way.place not in ("", made.site.at) else []
    drill = whole_rig(made, cause.faults, [*walk, *(way.acts if way else ())])
    assert tried.lost == tuple(wall_seconds(made, [n]) for n in drill.lost), (cause.name, way)
    assert tried.left == tuple(wall_seconds(made, [n]) for n in drill.left)
    assert tuple(each.well for each in tried.done) == drill.well
    assert tried.whole == drill.whole
    assert sorted(tried.dark.values())[-1:] == [n for n in [max(drill.dark)] if n]


# ---- what is on the slips ------------------------------------------------------------------------


@pytest.mark.parametrize("name", ["first", "river"])
def test_every_single_fault_is_on_exactly_one_slip(name: str) -> None:
    made = book(name)
    names = Counter(each for slip in made.slips for each in slip.strikes)
    catalogue = {strike.name for strike in strikes(made.rig)}
    shared = {h.key for h in made.hazards if h.cause == "shared cause"}
    assert set(names) == catalogue | shared and set(names.values()) == {1}
    assert len(catalogue) > 100 and (name == "first" or len(shared) == 3)


def test_slips_stand_by_likelihood_times_damage(river: Book) -> None:
    weights = [slip.likelihood * slip.damage for slip in river.slips]
    assert all(a >= b for a, b in pairwise(weights)) and weights[0] > 100 * weights[40] > 0
    assert [slip.number for slip in river.slips] == list(range(1, len(river.slips) + 1))
    mass = {h.key: h.mass for h in river.hazards}
    for slip in river.slips:
        assert slip.likelihood == pytest.approx(sum(mass[name] for name in slip.strikes))
        assert sum(suspect.chance for suspect in slip.suspects) == pytest.approx(1)


def test_damage_is_what_a_fault_costs_at_any_time_of_the_show(first: Book) -> None:
    """A lasting fault of the whole wall costs half the show on average: uniform in [0, T) to T."""
    slip = next(s for s in first.slips if s.strikes == ("panel/unit-a unlocked", "player unlocked"))
    assert slip.damage == pytest.approx(300)
    relay = next(s for s in first.slips if s.at.startswith("panel/r1c1/receiver stuck"))
    assert relay.damage == pytest.approx(75)


PHASES = tuple(range(0, 100, 7))


def _counted(made: Book, cause: Cause) -> tuple[int, int]:
    """Least and most frames not lit that `inject` counts, over phases and corners."""
    numbers = []
    for which in ("all-least", "typical", "all-most"):
        for phase in PHASES:
            at = 50 * made.rig.frame + phase * made.rig.frame // 100
            found = inject(made.rig, Script(strike_at(cause.hazards[0], at)), which)
            wall = next(toll for toll in found.tolls if toll.kind == "group")
            numbers.append(sum(wall.frames[:5]))
    return min(numbers), max(numbers)


def _blinks(made: Book) -> list[tuple[Slip, Cause]]:
    """Faults after which cells are not lit all at once, and all are lit again well before the
    end.
    """
    every = {cause.name: cause for cause in singles(made.library, made.hazards)}
    return [
        (slip, every[name])
        for slip in made.slips
        for suspect in slip.suspects
        if suspect.recovers and not suspect.lasts and suspect.recovers[1] < 6000
        for name in suspect.names[:1]
        if suspect.mode not in ("flapping", "drops") and len(suspect.names) < 3
    ]


def test_frames_on_slips_are_those_that_inject_counts(first: Book) -> None:
    """Where all cells that blink do so together, what `inject` counts of the wall is the same."""
    lab = Laboratory(first.rig, "panel")
    aftermaths, together = Aftermaths([lab]), 0
    for slip, cause in _blinks(first):
        span = aftermaths.of(cause).recovers
        least, most = _counted(first, cause)
        assert span is not None and slip.recovers is not None
        assert slip.recovers[0] <= span[0] <= least and span[1] <= slip.recovers[1]
        faults = strike_at(cause.hazards[0], 0)
        if all(len({line for line, _ in lab.effect(faults, c).lines}) < 2 for c in CORNERS):
            assert (least, most) == span, cause.name
            together += 1
    assert together > 5


def test_frames_that_are_off_by_one_would_be_found(first: Book) -> None:
    slip, cause = next(pair for pair in _blinks(first) if pair[1].name == "panel/relay-main dead")
    spans = [suspect.recovers for suspect in slip.suspects if cause.name in suspect.names]
    assert spans == [_counted(first, cause)]
    biased = replace(first, site=replace(first.site, rig=_slower(first)))
    assert spans != [_counted(biased, cause)]


def _slower(made: Book) -> Rig:
    """The rig with cards that take a frame longer to notice."""
    longer = {
        key: fixed(timing.typical + made.rig.frame) if key.endswith(".detect") else timing
        for key, timing in made.rig.timings.items()
    }
    return replace(made.rig, timings=longer)


def test_a_slip_sends_nobody_to_what_cannot_be_reached(river: Book) -> None:
    for slip in river.slips:
        assert slip.first.when not in (BREAK, AFTER)
        assert slip.second.when != AFTER
        assert slip.first.place != "pontoon"
    assert any(slip.second.place == "pontoon" for slip in river.slips)


def test_a_wrong_arrangement_is_not_called_right() -> None:
    """To take on purpose what was taken by mistake would mend nothing."""
    seen = 0
    for slip in (*book("river").slips, *book("atrium").slips):
        wrong = {s.detail for s in slip.suspects if s.mode == "moved"}
        taken = {act.to for step in (slip.first, slip.second) for act in step.acts}
        takes = [act.do for step in (slip.first, slip.second) for act in step.acts]
        if wrong and "take" in takes:
            assert not wrong & taken
            seen += 1
    assert seen > 1


def test_cautions_stand_where_hands_are_sent(river: Book) -> None:
    for slip in river.slips:
        for step in (slip.first, slip.second):
            text = " ".join(slip.cautions)
            families = {river.rig.things[name].family for name in step.things}
            done = {act.do for act in step.acts}
            if done & {"swap", "reseat", "bypass"}:
                assert "Fibre:" in text or not families & {"fibre", "relay"}
                assert "Height:" in text or not families & {"jumper", "power-jumper", "receiver"}
            if "circuit" in families or ("swap" in done and families & {"receiver", "relay"}):
                assert "Power:" in text and any("electrician" in who for who in step.who)


def test_what_nobody_can_notice_asks_for_nothing(river: Book) -> None:
    unseen = [slip for slip in river.slips if slip.unseen]
    assert unseen and all(slip.first == NOTHING and not slip.nevers for slip in unseen)


def test_harm_on_a_slip_is_true_on_the_whole_rig(first: Book) -> None:
    """What never to do is worse than nothing under the fault named, and better under none."""
    checked = 0
    for slip in first.slips:
        for harm in slip.nevers:
            cause = next(c for c in first.causes(slip.at) if c.name == harm.price.name)
            idle = whole_rig(first, cause.faults, ())
            done = whole_rig(first, cause.faults, harm.acts)
            more = max(a - b for a, b in zip(done.dark, idle.dark, strict=True))
            assert -(-more // first.rig.frame) == harm.price.frames > 0
            checked += 1
    assert checked > 15


# ---- never do, hand-over -------------------------------------------------------------------------


def test_the_never_do_list_has_figures_of_this_rig(river: Book, first: Book) -> None:
    found = {never.what: never for never in never_do(Bench(river.site), list(river.rig.groups))}
    assert all(never.why for never in found.values()) and len(found) == 6
    units = [example.things for example in found[RESTART].examples]
    assert units == [("main/unit-a",), ("banks/unit-a",)]
    assert [e.things for e in found[BOTH].examples] == [("main/unit-a", "main/unit-b")]
    assert found[BOTH].examples[0].price.share == 1
    (backup,) = found[BACKUP].examples
    assert backup.things == ("main/relay-backup",) and backup.after == "main/relay-main dead"
    alone = {never.what: never for never in never_do(Bench(first.site), ["panel"])}
    assert alone[BOTH].examples == (), "one unit only: nothing to say"
    (restart,) = alone[RESTART].examples
    kept = whole_rig(first, (), (Act("restart", "panel/unit-a"),))
    assert restart.price.frames == -(-max(kept.dark) // first.rig.frame)


def test_the_hand_over_tells_which_leg_carries(river: Book) -> None:
    groups = list(river.rig.groups)

    def legs(*faults: str) -> dict[str, tuple[tuple[str, ...], int]]:
        struck = [
            replace(f, at=-1) for s in strikes(river.rig) if s.name in faults for f in s.faults
        ]
        found = handover(river.site, river.scenario.terms, river.scenario.breaks, groups, struck)
        return {leg.of: (leg.by, leg.count) for leg in found.legs}

    quiet, degraded = legs(), legs("main/relay-main dead")
    assert quiet["main"] == (("main/unit-a", "main/relay-main"), 144)
    assert degraded["main"] == (("main/unit-a", "main/relay-backup"), 144)
    assert degraded["left bank"] == quiet["left bank"]
    assert legs("house sync dead")["main/unit-a#reference"][0] == ("broadcast sync",)
    assert legs("banks/unit-a dead")["left bank"] == ((), 32)


def test_words_of_a_slip_contradict_nothing(river: Book) -> None:
    """Where the picture stands no act is said to help in no case; a long name never hides what a
    report says; a shared cause is told by what it strikes.
    """
    texts = [told(slip, river.rig, river.scenario.rate) for slip in river.slips]
    steps = [text for each in texts for text in (*each.first, *each.second)]
    assert not any("in 0 % of cases" in text for text in steps)
    assert any(t == "Nothing to win for the picture; full redundancy afterwards in 100 % of cases."
               for t in steps)  # fmt: skip
    seen = [text for each in texts for text in each.see if text.startswith(("reference", "input"))]
    assert seen and all(text.endswith((": signal no", ": signal yes")) for text in seen)
    maybe = [text for each in texts for text in each.maybe]
    assert any(text.startswith("bank power tripped (rain on the banks) (") for text in maybe)


def test_the_hand_over_names_what_nobody_tested(first: Book, river: Book) -> None:
    bare = handover(first.site, first.scenario.terms, (), ["panel"])
    assert bare.untested == ("panel/relay-backup",) and bare.stocks == ()
    full = handover(river.site, river.scenario.terms, river.scenario.breaks, list(river.rig.groups))
    assert full.untested == ("standby player",)
    (tested,) = full.tested
    assert tested == (("main/unit-b", "main/relay-backup"), 2 * 3600 * FLICKS)
    assert {stock.name: stock.count for stock in full.stocks}["jumper"] == 8
    assert {spot.name: spot.reach for spot in full.places}["pontoon"] == "in breaks"

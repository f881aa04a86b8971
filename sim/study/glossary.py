"""The words of the reports, each in a sentence or two.

In: nothing. Out: `GLOSSARY`, by word. The words are the trade's, a standard's, or plain English.
"""

from __future__ import annotations

from collections.abc import Mapping
from types import MappingProxyType

from sim.faults import MODES

STATES_OF = {
    "dark": "A cell is dark if nothing valid arrives, or a valid picture that is black.",
    "corrupt": "A picture that is torn or sparkles. As a fault: a thing that spoils what it sends.",
    "wrong": "A valid, moving picture, but not the one intended there.",
    "frozen": "A valid picture that stands still: seen by nobody in a still, at once in a camera.",
    "unlocked": (
        "A picture that moves but runs off the reference: only cameras see it. As a fault: a thing "
        "that lost its reference."
    ),
    "lit": "A cell that shows the intended picture, in step.",
}
VERDICTS = {
    "lasting": (
        "A fault is lasting if some cell is still not lit once the rig has settled, that is when "
        "no timer is left that ends within the show. A fault that ends of itself is judged after."
    ),
    "blink": "A fault that some cell shows for some frames, and none once the rig has settled.",
    "unseen": "A fault that no cell ever shows.",
    "latent": (
        "A fault that is unseen, but after which some other single dead or cut leaves more not "
        "lit than it would alone: a backup that is gone and that nobody misses until it is needed."
    ),
    "race": (
        "Two protections, one behind the other, of which the timings' ranges do not say which acts "
        "first. Then the frames at least and at most timings bound nothing."
    ),
    "single point": (
        "A thing, route or circuit of which one fault leaves a cell dark, lasting. It is always "
        "named with the mode, such as dead or blanked."
    ),
    "valid signal": (
        "Something that arrives and can be shown: black, torn, wrong or standing still as well as "
        "good. A backup that waits for a loss does not notice it."
    ),
}
GRADED = {
    "grade": "How a timing is known: measured, claim (its maker says so), or guess.",
    "measured": "Grade of a timing that somebody measured on this equipment.",
    "claim": "Grade of a timing that the maker, or a standard, says it keeps to.",
    "guess": "Grade of a timing that nobody vouches for: measure it before you rely on it.",
    "placeholder": "A figure that stands in for one that nobody has: no evidence at all.",
    "assumption": (
        "What the scenario does not say and is taken all the same, the unfavourable way. "
        "`staylit check` lists every one."
    ),
    "perhaps met": (
        "A limit that no fault breaks for certain, but that one may, by phase, by timings within "
        "their ranges, or because protections race."
    ),
    "least": (
        "All timings at their least, but those that shelter the picture (keeps_last, hold-up, "
        "holdover) at their greatest."
    ),
    "most": "All timings at their most, but those that shelter the picture at their least.",
    "typical": "The value of a timing to be expected; the middle of its range where not said.",
}
THINGS = {
    "cell": "The smallest area with one cabinet and one stack of layers; all is counted in cells.",
    "route": "The physical way of cables: all that lie on one route are cut together.",
    "circuit": "A power feed; what has several lives while any of them does.",
    "selector": "Anything that chooses between alternative inputs.",
    "topology": "One way of backing a wall group up.",
    "relay": "A relay unit: what turns fibre into copper.",
    "wall group": "Walls that are fed and backed up together.",
    "loop-through": (
        "A unit hands a source on to the next. A passive one is only wire; an active one dies "
        "with its unit, and the next unit loses the source in the same instant."
    ),
    "seamless pair": (
        "Two legs with one sender's packets, put together without a gap (SMPTE ST 2022-7, IEC "
        "62439-3). It cannot judge pictures."
    ),
    "margin": "What is left of a fibre's optical budget after length, connectors and splices.",
}
TIMES = {
    "hold-off": "A chosen delay before a selector leaves a lost input (as in ITU-T G.808.1).",
    "detect": "The time until a selector notices that its input is lost.",
    "switch": "The time that a change to another input takes; nothing is sent meanwhile.",
    "wait-to-restore": (
        "How long a preferred input must be back before a revertive selector returns to it (as in "
        "ITU-T G.808.1); the return is a second, planned blink."
    ),
    "revertive": "A selector that goes back to its preferred input by itself.",
    "non-revertive": "A selector that stays where it went until an operator acts.",
    "by-hand": "A selector that only an operator moves.",
    "locked": "A selector that does not move until it is unlocked.",
    "holdover": "How long a unit stays in step without a reference (as in ITU-T G.810).",
    "keeps_last": "How long a receiver shows its last picture when nothing arrives.",
    "start": "The time from power or repair to a picture: boot, link training.",
    "standing return": "A return signal that is always sent.",
    "gated return": "A return signal that is sent once the forward one no longer reaches the tail.",
}
FAULTS = {
    "dead": "The thing sends nothing.",
    "cut": "The cable carries nothing.",
    "blanked": "The thing sends a valid picture that is black.",
    "stuck": "The thing goes on sending the picture that it had.",
    "stale": "The thing works with out-of-date settings: a valid picture, but wrong.",
    "drops": "The source leaves out some of its frames.",
    "flapping": "The thing comes and goes, again and again.",
    "attenuated": "The fibre lost more light than its margin: torn up to 1 dB more, then nothing.",
    "tripped": "The circuit is off, after what its battery holds.",
    "restart": "The thing boots afresh: nothing comes from it until its start ends.",
    "moved": "Somebody selected the wrong input, or took the wrong arrangement.",
}

GLOSSARY: Mapping[str, str] = MappingProxyType(
    {**STATES_OF, **VERDICTS, **GRADED, **THINGS, **TIMES, **FAULTS}
)
"""What each word means."""


def struck_by(mode: str) -> tuple[str, ...]:
    """The kinds of things that a fault mode can strike; none if the word is no mode."""
    return tuple(family for family, modes in MODES.items() if mode in modes)

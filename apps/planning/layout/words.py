"""The plain words of layout plans: what an answer is best at, remedies, money."""

from collections.abc import Callable

from django.template.defaultfilters import floatformat

from apps.common.units import format_length
from apps.photics.layout import answers as best
from apps.photics.layout.advice import recommended as why
from apps.photics.layout.fixes import MORE_DEPTH_CM, MORE_HEIGHT_CM, NARROWER, STRONGER, WIDER
from apps.photics.layout.hanging import Layout

BEST_WORDS = {
    best.BEST: "closest to all bands",
    best.SOFT: "softest shadows",
    best.MONEY: "cheapest to buy",
    best.POWER: "least power",
    best.ROOM: "most light in reserve",
    best.KEEPS: "keeps most of what you have",
}
REASON_WORDS = {
    why.ONLY: "It is the only one here that likely serves every zone.",
    why.CHEAPEST: "It is the cheapest that likely serves every zone.",
    why.SURER: "It serves every zone, more surely than the cheapest and for little more.",
    why.SUREST: "It serves every zone most surely, whatever it costs.",
    why.UNPRICED: "It serves every zone most surely. Give prices to weigh money too.",
    why.NEAREST: "None likely serves every zone; it comes nearest.",
}
# What a reader may let the recommendation weigh; the first is the default.
WEIGHT_WORDS = {
    why.BALANCED: "cheapest, or surer for up to a quarter more",
    why.LEAST_MONEY: "cheapest that likely works",
    why.MOST_SURE: "surest",
}
# A remedy is worth telling when it brings this much more of the zones into band [1]: chosen,
# because less is within what the light itself is uncertain by.
WORTH_TELLING = 0.03
# From which least over mean light [1] a zone is called so: our own choice.
EVENNESS_WORDS = ((0.7, "even"), (0.5, "fairly even"), (0.0, "uneven"))


def fix_words(name: str, layout: Layout, length: Callable[[float], str]) -> str:
    """Return what a remedy is; `length` words a length [cm] in the reader's unit."""
    beam = layout.choice.beam_deg
    return {
        "fixture": "one more of the same lamp",
        "stronger": f"a lamp with {100 * (STRONGER - 1):.0f}\u00a0% more output",
        "narrower": f"a narrower lens, about {NARROWER * beam:.0f}°",
        "wider": f"a wider lens, about {WIDER * beam:.0f}°",
        "tubes": "a row of two tubes for fill beside them",
        "deeper": f"setting the corals {length(MORE_DEPTH_CM)} lower",
        "shallower": f"setting the corals {length(MORE_DEPTH_CM)} higher",
        "higher": f"hanging up to {length(MORE_HEIGHT_CM)} higher",
    }[name]


def length_words(unit: str) -> Callable[[float], str]:
    """Return what says a length [cm] in a unit."""
    return lambda value_cm: f"{format_length(value_cm, unit)} {unit}"


def evenness_words(evenness: float) -> str:
    """Return the least over the mean light of a zone [1] in a word."""
    return next(words for least, words in EVENNESS_WORDS if evenness >= least)


def price_words(price: float | None) -> str:
    """Return what is still to be paid as words, of a price that may be unknown."""
    if price is None:
        return "price not given"
    return str(floatformat(price, "-2")) if price else "nothing"

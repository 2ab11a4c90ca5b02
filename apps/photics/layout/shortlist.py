"""The choices of fixtures worth hanging: one kind, with fills, or several kinds mixed.

How many of a kind a tank takes is estimated by the lumen method; far fewer cannot serve and far
more only cost.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import combinations, product, zip_longest

import numpy as np

from apps.photics.layout.choice import (
    Choice,
    Part,
    allowed,
    kept_parts,
    price_of,
    watts_of,
)
from apps.photics.layout.light.lumen_method import estimated_umol
from apps.photics.layout.question import Question, Zone

# Fewer fixtures than give this part of the light wanted are left out, but for the most there may
# be, and more than so many times as many as are needed, or than so many [1]: chosen wide, because
# the estimate is rough.
TOO_LITTLE, TOO_MANY, ALWAYS = 0.45, 2.0, 4
# Choices of one kind that are tried at most: chosen, because a search of more takes minutes.
SINGLES_MOST = 120
# What mixed kinds may give of the light wanted [1], and how many mixes are tried: chosen, because
# single kinds serve most tanks and a keeper waits.
MIXED_FROM, MIXED_TO, MIXES_MOST = 0.65, 2.5, 12
# Kinds mixed at most, and how many of each where three are: chosen, as nobody hangs more.
KINDS_MOST, OF_THREE_MOST = 3, 3
# Mixed kinds that are looked over, those owned or cheapest first: chosen, because their pairs are
# many.
MIXABLE_MOST = 6
# What a zone without a top is lit to, of its lower edge [1]: chosen as in the middle of a band
# that is twice as high as low.
ABOVE_LOW = 1.4


def choices(question: Question) -> tuple[Choice, ...]:
    """Return every Choice that is tried, fewest fixtures first and mixed kinds last.

    Kinds that hang already and stay are in all of them.
    """
    kept = kept_parts(question)
    single = [parts for parts in single_kinds(question)
              if allowed(question, Choice((*parts, *kept)))]  # fmt: skip
    worth = nearest_first(question, list(worth_hanging(question, single)))
    every = [Choice((*parts, *kept)) for parts in worth]
    if kept and allowed(question, Choice(kept)):
        every.insert(0, Choice(kept))
    return (*every, *mixes(question))


def count_left(question: Question) -> int:
    """Return how many fixtures may hang beside those that stay."""
    staying = sum(part.count for part in kept_parts(question)
                  if not question.candidates[part.candidate].fills)  # fmt: skip
    return max(question.limits.count - staying, 0)


def free_kinds(question: Question) -> list[int]:
    """Return the candidates that may hang anywhere."""
    return [k for k, candidate in enumerate(question.candidates) if not candidate.is_kept]


def single_kinds(question: Question) -> Iterator[tuple[Part, ...]]:
    """Yield the parts of choices of one kind, alone and with tubes or bars beside it."""
    free = free_kinds(question)
    for count in range(1, count_left(question) + 1):
        for main in free:
            candidate = question.candidates[main]
            for beam in candidate.beams_deg:
                part = Part(main, beam, count)
                yield (part,)
                if not candidate.fills:
                    yield from with_fills(question, (part,))


def with_fills(question: Question, parts: tuple[Part, ...]) -> Iterator[tuple[Part, ...]]:
    """Yield parts with one kind of tube or bar beside them, in every count there may be."""
    tubes = [k for k in free_kinds(question) if question.candidates[k].fills]
    for fill, count in product(tubes, range(1, question.limits.fill_count + 1)):
        yield (*parts, Part(fill, question.candidates[fill].beams_deg[0], count))


def worth_hanging(
    question: Question, every: Sequence[tuple[Part, ...]]
) -> Iterator[tuple[Part, ...]]:
    """Yield those of the parts whose main kind is neither far too few nor far too many.

    The most there may be of a kind are always tried.
    """
    most: dict[tuple[int, float], int] = {}
    for main, *_ in every:
        key = (main.candidate, main.beam_deg)
        most[key] = max(most.get(key, 0), main.count)
    staying = enough(question, kept_parts(question))
    for parts in every:
        main = parts[0]
        each = enough(question, [replace(main, count=1)])
        needed = float(np.ceil(max(1.0 - staying, 0.0) / each))
        bright = main.count * each + staying >= TOO_LITTLE
        if not bright and main.count < most[main.candidate, main.beam_deg]:
            continue
        if main.count <= max(ALWAYS, TOO_MANY * needed):
            yield parts


def nearest_first(question: Question, every: Sequence[tuple[Part, ...]]) -> list[tuple[Part, ...]]:
    """Return the parts that are tried of all, in their order, where they are too many.

    Of each kind and beam those that give the light wanted most nearly, in turn.
    """
    if len(every) <= SINGLES_MOST:
        return list(every)
    by_kind: dict[tuple[int, float], list[tuple[Part, ...]]] = {}
    for parts in sorted(every, key=lambda parts: abs(np.log(enough(question, parts)))):
        by_kind.setdefault((parts[0].candidate, parts[0].beam_deg), []).append(parts)
    turns = [parts for turn in zip_longest(*by_kind.values()) for parts in turn if parts]
    kept = set(turns[:SINGLES_MOST])
    return [parts for parts in every if parts in kept]


def mixes(question: Question) -> tuple[Choice, ...]:
    """Return the most promising Choices of two or three kinds, the cheapest first."""
    kept = kept_parts(question)
    made = dict.fromkeys(Choice((*parts, *kept)) for parts in mixed_parts(question))
    ranked = sorted(
        (choice for choice in made if allowed(question, choice)),
        key=lambda choice: (cost_of(question, choice), choice.count,
                            abs(np.log(enough(question, choice.parts)))),
    )[:MIXES_MOST]  # fmt: skip
    best = ranked[0].parts[: len(ranked[0].parts) - len(kept)] if ranked else ()
    filled = (Choice((*parts, *kept)) for parts in with_fills(question, best)) if best else ()
    return (*ranked, *(choice for choice in filled if allowed(question, choice)))


def mixed_parts(question: Question) -> Iterator[tuple[Part, ...]]:
    """Yield the parts of two or three kinds that give about the light that is wanted."""
    most = count_left(question)
    staying = enough(question, kept_parts(question))
    for kinds in mixable(question):
        of_each = most if len(kinds) < KINDS_MOST else OF_THREE_MOST
        for counts in product(range(1, of_each + 1), repeat=len(kinds)):
            if sum(counts) > most:
                continue
            for beams in product(*(outer(question.candidates[k].beams_deg) for k in kinds)):
                parts = tuple(Part(*part) for part in zip(kinds, beams, counts, strict=True))
                if MIXED_FROM <= enough(question, parts) + staying <= MIXED_TO:
                    yield parts


def mixable(question: Question) -> Iterable[tuple[int, ...]]:
    """Return pairs and triples of kinds that may hang together, fills left out."""
    points = [k for k in free_kinds(question) if not question.candidates[k].fills]

    def rank(k: int) -> tuple[bool, float]:
        candidate = question.candidates[k]
        return not candidate.owned, candidate.price or 0.0

    points = sorted(sorted(points, key=rank)[:MIXABLE_MOST])
    return [kinds for size in range(2, KINDS_MOST + 1) for kinds in combinations(points, size)]


def outer(beams_deg: tuple[float, ...]) -> tuple[float, ...]:
    """Return the narrowest and the widest of beams [degrees]."""
    return tuple(dict.fromkeys((min(beams_deg), max(beams_deg))))


def cost_of(question: Question, choice: Choice) -> float:
    """Return what choices are ranked by, in one unit: price, else watts, else their count."""
    price = price_of(question, choice)
    if price is not None:
        return price
    watts = watts_of(question, choice)
    return float(choice.count) if watts is None else watts


def enough(question: Question, parts: Iterable[Part]) -> float:
    """Return the light of parts over what the brightest zone wants, by the lumen method [1]."""
    zone = brightest_zone(question)
    height = sum(question.limits.height_cm) / 2.0
    lamps = [
        (part.count * question.candidates[part.candidate].output.ppf_umol_s, part.beam_deg, height)
        for part in parts
    ]
    k_per_cm = float(np.exp(question.law.means[0]))
    depth = sum(zone.depth_cm) / 2.0
    light = estimated_umol(question.tank, lamps, depth_cm=depth, k_per_cm=k_per_cm, maintenance=1.0)
    return light / wanted_umol(zone)


def brightest_zone(question: Question) -> Zone:
    """Return the zone with the brightest lower edge."""
    return max(question.zones, key=lambda zone: zone.low_umol)


def wanted_umol(zone: Zone) -> float:
    """Return the PAR a zone is lit to, between the edges of its band [umol m-2 s-1]."""
    high = min(zone.top_umol, ABOVE_LOW**2 * zone.low_umol)
    return float(np.sqrt(zone.low_umol * max(high, zone.low_umol)))

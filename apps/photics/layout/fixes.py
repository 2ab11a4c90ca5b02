"""What would help when no layout serves the zones: each remedy is tried by searching with it."""

from collections.abc import Callable
from dataclasses import dataclass, replace

from apps.photics.ground.scene import Tank
from apps.photics.layout.choice import fills_of
from apps.photics.layout.hanging import Layout
from apps.photics.layout.question import Candidate, Question
from apps.photics.layout.score import Score
from apps.photics.rig.fixture_light import OutputEstimate, output_estimate

# How far corals and fixtures are moved on trial [cm], how much beams and output change [1], and
# the beams that remain ordinary optics [degrees]: chosen, as steps that a keeper could take.
MORE_DEPTH_CM, MORE_HEIGHT_CM = 10.0, 20.0
NARROWER, WIDER = 0.6, 1.4
BEAM_LEAST_DEG, BEAM_MOST_DEG = 30.0, 140.0
STRONGER = 1.5
FIXES = ("fixture", "stronger", "narrower", "wider", "tubes", "deeper", "shallower", "higher")
# A row of two tubes for fill: output a centimetre of length [umol/s], watts of it [W], width [cm]
# and beam [degrees]. Trade knowledge from memory, no published source.
TUBE_UMOL_S_CM, TUBE_WATTS_CM, TUBE_WIDTH_CM, TUBE_BEAM_DEG = 0.7, 0.78, 6.0, 120.0
# How long it is beside the tank [1], and no shorter than [cm]: chosen, as tubes are sold.
TUBE_OF_LENGTH, TUBE_LEAST_CM = 0.9, 15.0

# What searches a question from a layout of it: the best Layout with its Score, or None twice.
QuickSearch = Callable[[Question, Layout], tuple[Layout, Score] | tuple[None, None]]


@dataclass(frozen=True)
class Fix:
    """What a remedy brings: the zones' shares in band with it [1], and the objective [1]."""

    name: str  # one of FIXES
    zone_shares: tuple[float, ...]
    value: float


def try_fix(question: Question, name: str, best: Layout, search: QuickSearch) -> Fix | None:
    """Return the Fix a remedy of FIXES makes of the best layout so far, None where it can't be."""
    changed = remedied(question, name, best)
    if changed is None:
        return None
    # The kinds of the best layout are the first candidates of the changed question.
    start = Layout(tuple(
        kind._replace(candidate=k, beam_deg=changed.candidates[k].beams_deg[0])
        for k, kind in enumerate(best.hung)
    ))  # fmt: skip
    layout, score = search(changed, start)
    if layout is None or score is None:
        return None
    return Fix(name, score.zone_shares, score.objective)


def remedied(question: Question, name: str, best: Layout) -> Question | None:
    """Return the question with one remedy of FIXES, for the best layout's fixture alone.

    None where the remedy can't be had.
    """
    plain = best_alone(question, best)
    limits = plain.limits
    if name == "fixture":
        return replace(plain, limits=replace(limits, count=limits.count + 1))
    if name == "higher":
        low, high = limits.height_cm
        return replace(plain, limits=replace(limits, height_cm=(low, high + MORE_HEIGHT_CM)))
    if name in ("deeper", "shallower"):
        return deeper(plain, by_cm=MORE_DEPTH_CM if name == "deeper" else -MORE_DEPTH_CM)
    if name == "tubes":
        return with_tubes(plain)
    main = remedied_main(plain.candidates[0], name)
    return None if main is None else replace(plain, candidates=(main, *plain.candidates[1:]))


def best_alone(question: Question, best: Layout) -> Question:
    """Return the question with the kinds and counts of its best layout, at any price and power."""
    kinds = [
        replace(question.candidates[kind.candidate], beams_deg=(kind.beam_deg,))
        for kind in best.hung
    ]
    fills = sum(len(best.hung[k].places_cm) for k in fills_of(question, best.choice))
    limits = replace(question.limits, count=best.choice.count - fills, fill_count=fills,
                     budget=None, watts=None)  # fmt: skip
    return replace(question, candidates=tuple(kinds), limits=limits)


def remedied_main(main: Candidate, name: str) -> Candidate | None:
    """Return a fixture "stronger", "narrower" or "wider"; None where no such optic is ordinary."""
    if name == "stronger":
        output = main.output
        more = replace(
            output,
            ppf_umol_s=STRONGER * output.ppf_umol_s,
            low_umol_s=STRONGER * output.low_umol_s,
            high_umol_s=STRONGER * output.high_umol_s,
        )
        return replace(main, output=more)
    beam = round(main.beams_deg[0] * (NARROWER if name == "narrower" else WIDER))
    if not BEAM_LEAST_DEG <= beam <= BEAM_MOST_DEG:
        return None
    return replace(main, beams_deg=(float(beam),))


def with_tubes(question: Question) -> Question | None:
    """Return the question with a row of tubes beside its fixture, None where it has one or is."""
    if question.candidates[0].fills or len(question.candidates) > 1:
        return None
    return replace(
        question,
        candidates=(*question.candidates, fill_tube(question.tank)),
        limits=replace(question.limits, fill_count=1),
    )


def deeper(question: Question, *, by_cm: float) -> Question | None:
    """Return the question with its zones moved down, or up, by [cm]; None where none can move."""
    moved = question.lowered(by_cm)
    return None if moved.zones == question.zones else moved


def fill_tube(tank: Tank) -> Candidate:
    """Return the row of tubes tried as a fill: as long as the tank lets it, on its long side."""
    length = max(TUBE_OF_LENGTH * tank.length_cm, TUBE_LEAST_CM)
    return Candidate(
        name="row of tubes",
        kind="tube",
        panel_x_cm=length,
        panel_y_cm=TUBE_WIDTH_CM,
        beams_deg=(TUBE_BEAM_DEG,),
        output=rated_output(TUBE_UMOL_S_CM * length),
        watts=TUBE_WATTS_CM * length,
    )


def rated_output(ppf_umol_s: float) -> OutputEstimate:
    """Return the OutputEstimate of a rated output above zero [umol/s]."""
    estimate = output_estimate(ppf_umol_s=ppf_umol_s)
    if estimate is None:
        raise ValueError("An output is above zero.")
    return estimate

"""What would help when no layout serves the zones: each remedy is tried by searching with it."""

from dataclasses import dataclass, replace

from apps.photics.layout.question import Candidate, Question
from apps.photics.layout.score import Layout
from apps.photics.rig.fixture_light import output_estimate

MORE_DEPTH_CM, MORE_HEIGHT_CM = 10.0, 20.0
NARROWER, WIDER = 0.6, 1.4
BEAM_LEAST_DEG, BEAM_MOST_DEG = 30.0, 140.0
STRONGER = 1.5
FIXES = ("fixture", "stronger", "narrower", "wider", "tubes", "deeper", "shallower", "higher")
# A row of two tubes for fill: output a centimetre of length [umol/s], trade knowledge from memory.
TUBE_UMOL_S_CM, TUBE_WATTS_CM, TUBE_WIDTH_CM, TUBE_BEAM_DEG = 0.7, 0.78, 6.0, 120.0


@dataclass(frozen=True)
class Fix:
    """What a remedy brings: the zones' shares in band with it."""

    name: str  # one of FIXES
    zone_shares: tuple[float, ...]
    value: float


def try_fix(question: Question, name, best: Layout, search):
    """Return the Fix a remedy makes of the best layout so far, None where it can't be had."""
    changed = remedied(question, name, best)
    if changed is None:
        return None
    choice = replace(best.choice, main=0, fill=None if best.choice.fill is None else 1,
                     beam_deg=changed.candidates[0].beams_deg[0])  # fmt: skip
    layout, score = search(changed, replace(best, choice=choice))
    return None if layout is None else Fix(name, score.zone_shares, score.objective)


def remedied(question, name, best):
    """Return the question with one remedy, asked of the best layout's fixture alone."""
    choice, limits = best.choice, question.limits
    main = replace(question.candidates[choice.main], beams_deg=(choice.beam_deg,))
    parts = [main]
    if choice.fill is not None:
        parts.append(question.candidates[choice.fill])
    limits = replace(limits, count=choice.count, fill_count=choice.fill_count,
                     budget=None, watts=None)  # fmt: skip
    plain = replace(question, candidates=tuple(parts), limits=limits)
    if name == "fixture":
        return replace(plain, limits=replace(limits, count=choice.count + 1))
    if name == "stronger":
        output = main.output
        more = {
            k: STRONGER * getattr(output, k) for k in ("ppf_umol_s", "low_umol_s", "high_umol_s")
        }
        return replace(
            plain, candidates=(replace(main, output=replace(output, **more)), *parts[1:])
        )
    if name in ("narrower", "wider"):
        beam = round(choice.beam_deg * (NARROWER if name == "narrower" else WIDER))
        if not BEAM_LEAST_DEG <= beam <= BEAM_MOST_DEG:
            return None
        return replace(plain, candidates=(replace(main, beams_deg=(float(beam),)), *parts[1:]))
    if name == "tubes":
        if main.fills or choice.fill is not None:
            return None
        return replace(plain, candidates=(main, fill_tube(question.tank)),
                       limits=replace(limits, fill_count=1))  # fmt: skip
    if name == "higher":
        low, high = limits.height_cm
        return replace(plain, limits=replace(limits, height_cm=(low, high + MORE_HEIGHT_CM)))
    return deeper(plain, MORE_DEPTH_CM if name == "deeper" else -MORE_DEPTH_CM)


def deeper(question, by_cm):
    """Return the question with its zones moved down or up, None where no zone can move."""
    moved = question.lowered(by_cm)
    return None if moved.zones == question.zones else moved


def fill_tube(tank):
    """Return the row of tubes tried as a fill: as long as the tank lets it, on its long side."""
    length = max(0.9 * tank.length_cm, 15.0)
    output = output_estimate(kind="tube", ppf_umol_s=TUBE_UMOL_S_CM * length)
    return Candidate("row of tubes", "tube", length, TUBE_WIDTH_CM, (TUBE_BEAM_DEG,), output,
                     TUBE_WATTS_CM * length)  # fmt: skip

"""From the facts of a case to what it comes to, how sure that is, and the one next step.

Stated rules, first one that holds: what common practice makes of such facts. None of them can
prove a cause; what a tank's own notes prove is another question (`association/verdict.py`). All
of it is our own choice, from common practice without a published source, but for what a light
does to a coral's colour: more than it is used to can pale it, less can brown it.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum

from apps.outcomes.case.case_facts import FRESH_DAYS, CaseFacts, Others, Sign

# From so many corals that got worse together, think of what reaches them all.
TOGETHER_MIN = 3
# So many of its kind that look well in the same light speak against the light.
KIN_MIN = 2


class Finding(StrEnum):
    """What a case comes to; in this order the first that holds."""

    GONE = "gone"
    RECOVERED = "recovered"
    OLD = "old"
    TISSUE_LOSS = "tissue_loss"
    WHOLE_TANK = "whole_tank"
    WATER = "water"
    LIGHT_OR_WATER = "light_or_water"
    SETTLING = "settling"
    CHANGED = "changed"
    OUT_OF_BAND = "out_of_band"
    LIGHT_UNKNOWN = "light_unknown"
    AGAINST = "against"
    STEADY = "steady"


class Sureness(IntEnum):
    """How much the facts carry, of a cause; more than FAIR no single case can carry."""

    NONE = 0
    WEAK = 1
    FAIR = 2


class NextStep(StrEnum):
    """The one thing to do next."""

    NOTHING = "nothing"
    LOOK = "look"  # note how it looks today
    WAIT = "wait"  # note weekly
    WATER = "water"
    READ = "read"  # two check readings
    PLAN = "plan"  # an acclimation
    FOLLOW = "follow"  # the acclimation under way
    MOVE = "move"
    PLACE = "place"
    MEND_SPOT = "mend_spot"
    SURVEY = "survey"


@dataclass(frozen=True)
class CaseJudgement:
    """What the facts come to; `for_it` and `against_it` name what made it more or less sure."""

    finding: Finding
    sureness: Sureness
    for_it: tuple[str, ...]
    against_it: tuple[str, ...]
    step: NextStep


def judge_case(facts: CaseFacts) -> CaseJudgement:
    """Return the CaseJudgement of some CaseFacts."""
    finding = finding_of(facts)
    for_it, against_it = weighed(facts, finding)
    return CaseJudgement(
        finding, sureness_of(finding, for_it, against_it), for_it, against_it, step(facts, finding)
    )


def finding_of(facts: CaseFacts) -> Finding:
    """Return what the facts come to. The order of the rules is the rule."""
    light_fits = facts.changed_fits or (facts.place_fits and not facts.is_vague)
    rules = (
        (facts.gone_on is not None, Finding.GONE),
        (facts.well_on is not None, Finding.RECOVERED),
        (facts.days_since_note > FRESH_DAYS, Finding.OLD),
        (facts.sign is Sign.TISSUE_LOSS, Finding.TISSUE_LOSS),
        (is_whole_tank(facts.others), Finding.WHOLE_TANK),
        (has_water(facts) and light_fits, Finding.LIGHT_OR_WATER),
        (has_water(facts), Finding.WATER),
        (facts.is_settling, Finding.SETTLING),
        (facts.changed_fits, Finding.CHANGED),
        (facts.light is None or facts.is_vague, Finding.LIGHT_UNKNOWN),
        (facts.place_fits, Finding.OUT_OF_BAND),
        (facts.place_speaks_against or facts.change_speaks_against, Finding.AGAINST),
    )
    return next((finding for holds, finding in rules if holds), Finding.STEADY)


def is_whole_tank(others: Others) -> bool:
    """Tell whether so many got worse together that one coral's light is not the question."""
    return others.turned >= TOGETHER_MIN and 2 * others.turned >= others.living


def has_water(facts: CaseFacts) -> bool:
    """Tell whether the water log has something that could do it."""
    return bool(facts.water or facts.out_of_range)


# Findings that say something of a cause. Of the others "how sure" has no meaning.
OF_LIGHT = (Finding.CHANGED, Finding.OUT_OF_BAND)
OF_A_CAUSE = (
    *OF_LIGHT, Finding.WHOLE_TANK, Finding.WATER, Finding.LIGHT_OR_WATER, Finding.SETTLING,
)  # fmt: skip


def weighed(facts: CaseFacts, finding: Finding) -> tuple[tuple[str, ...], tuple[str, ...]]:
    """Return what speaks for a finding and what makes it less sure, each by its name."""
    others, light = facts.others, facts.light
    speaks = {
        "changed": finding in OF_LIGHT and facts.changed_fits,
        "out_of_band": finding in OF_LIGHT
        and facts.place_fits and not facts.vague_band and light is not None and light.place_sure,
        "kin_same": finding in OF_LIGHT and others.kin_same > others.kin_well,
        "together": finding is Finding.WHOLE_TANK,
        "logged": finding in (Finding.WATER, Finding.WHOLE_TANK) and has_water(facts),
        "arrived": finding is Finding.SETTLING,
        "several_notes": finding in OF_A_CAUSE and facts.notes > 1,
    }  # fmt: skip
    doubts = {
        "noted_once": facts.notes == 1,
        "other_eyes": facts.other_eyes,
        "kin_well": finding in OF_LIGHT and others.kin_well >= max(KIN_MIN, others.kin_same),
        "not_measured": finding in OF_LIGHT and light is not None and not light.measured,
        "extrapolated": finding in OF_LIGHT and light is not None and light.extrapolated,
        "at_its_edge": finding is Finding.OUT_OF_BAND and light is not None
        and not light.place_sure,
        "vague_band": finding is Finding.OUT_OF_BAND and facts.vague_band,
        "place_against": finding is Finding.CHANGED and facts.place_speaks_against,
        "change_against": finding is Finding.OUT_OF_BAND and facts.change_speaks_against,
        "two_causes": finding is Finding.LIGHT_OR_WATER,
        "light_too": finding is Finding.SETTLING and (facts.changed_fits or facts.place_fits),
        "water_too": finding is Finding.WHOLE_TANK and not has_water(facts),
    }  # fmt: skip
    return named(speaks), named(doubts)


def named(holds: dict[str, bool]) -> tuple[str, ...]:
    return tuple(name for name, is_so in holds.items() if is_so)


def sureness_of(finding: Finding, for_it: tuple[str, ...], against_it: tuple[str, ...]) -> Sureness:
    """Return how sure a finding is: what speaks for it, less what makes it doubtful."""
    if finding not in OF_A_CAUSE:
        return Sureness.NONE
    # What its own kind bears in the same light is the one comparison a case has.
    most = Sureness.WEAK if "kin_well" in against_it else Sureness.FAIR
    return Sureness(min(max(len(for_it) - len(against_it), Sureness.NONE), most))


def step(facts: CaseFacts, finding: Finding) -> NextStep:
    """Return the one next step."""
    plain = {
        Finding.GONE: NextStep.NOTHING,
        Finding.RECOVERED: NextStep.WAIT,
        Finding.OLD: NextStep.LOOK,
        Finding.TISSUE_LOSS: NextStep.WATER,
        Finding.WHOLE_TANK: NextStep.WATER,
        Finding.WATER: NextStep.WATER,
        Finding.LIGHT_OR_WATER: NextStep.WATER,
    }
    if finding in plain:
        return plain[finding]
    if finding is Finding.SETTLING:
        return settling_step(facts)
    if finding is Finding.LIGHT_UNKNOWN:
        return NextStep.READ if facts.is_vague else unknown_step(facts.unknown)
    if finding in OF_LIGHT:
        return light_step(facts)
    # Steady light, or light the other way: one slight note is too little to go by.
    return NextStep.WAIT if facts.notes == 1 and facts.slight else NextStep.WATER


def settling_step(facts: CaseFacts) -> NextStep:
    """Return the step for a coral that came lately."""
    too_bright = facts.sign is Sign.LIGHTER and (facts.changed_fits or facts.place_fits)
    if not too_bright or facts.is_mended:
        return NextStep.WAIT
    return NextStep.FOLLOW if facts.plan_under_way else NextStep.PLAN


def unknown_step(reason: str) -> NextStep:
    """Return the step that makes the light known; `reason` as `why_unknown` has it."""
    steps = {
        "no_map": NextStep.SURVEY,
        "no_spot": NextStep.PLACE,
        "in_rock": NextStep.MEND_SPOT,
    }
    return steps.get(reason, NextStep.WAIT)


def light_step(facts: CaseFacts) -> NextStep:
    """Return the step where the light fits what is seen."""
    light = facts.light
    if facts.is_mended:
        return NextStep.WAIT
    if facts.plan_under_way:
        return NextStep.FOLLOW
    if light is None or facts.light_is_a_guess or doubtful_place(facts):
        return NextStep.READ
    if facts.sign is Sign.UNWELL:
        return NextStep.WAIT
    is_out = light.place_now == ("above" if facts.sign is Sign.LIGHTER else "below")
    if facts.sign is Sign.DARKER and not is_out:
        return NextStep.WAIT
    by_lamps = light.shift is not None and light.shift.kind == "light" and facts.changed_fits
    return NextStep.MOVE if is_out and not by_lamps else NextStep.PLAN


def doubtful_place(facts: CaseFacts) -> bool:
    """Tell whether all rests on a place near the edge of its band."""
    light = facts.light
    return light is not None and not facts.changed_fits and not light.place_sure

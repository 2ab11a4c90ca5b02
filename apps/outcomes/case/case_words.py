"""The words of a case: one sentence, how sure it is and why, what would settle it, what to do.

All of it follows from the facts and the judgement; nothing here looks anything up.
"""

import datetime as dt

from django.utils.text import capfirst

from apps.common.moments import day_text
from apps.outcomes.case.case_facts import CaseFacts, Shift, Sign
from apps.outcomes.case.case_rules import (
    OF_A_CAUSE,
    CaseJudgement,
    Finding,
    NextStep,
    Sureness,
    has_water,
)

COUNTS = ("no", "one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten")
# What a coral does, of a sign: "many pale while they settle".
DOES = {Sign.LIGHTER: "pale", Sign.DARKER: "brown", Sign.UNWELL: "sulk"}
SIDE = {"above": "brighter", "below": "dimmer"}
# From so much more light on, it is told in times [%].
TWICE_PERCENT = 95


def count(number: int) -> str:
    """Return a small number as a word."""
    return COUNTS[number] if number < len(COUNTS) else str(number)


def day(date: dt.date, today: dt.date) -> str:
    """Return a date as a keeper says it; with its year where that is another."""
    return day_text(date).removesuffix(f" {today.year}")


# --- The sentence ---------------------------------------------------------------------------
def sentence(facts: CaseFacts, judgement: CaseJudgement) -> str:
    """Return the one sentence of a case."""
    return capfirst(SENTENCES[judgement.finding](facts)) + "."


def gone(facts: CaseFacts) -> str:
    assert facts.gone_on is not None
    return f"it left this tank on {day(facts.gone_on, facts.today)}; this is what was known then"


def recovered(facts: CaseFacts) -> str:
    assert facts.well_on is not None
    return f"it looked better again on {day(facts.well_on, facts.today)}"


def old(facts: CaseFacts) -> str:
    return (
        f"{facts.seen} was last noted on {day(facts.last_on, facts.today)}, and nothing since: see "
        "how it looks today"
    )


def tissue_loss(facts: CaseFacts) -> str:
    return (
        f"it was losing tissue on {day(facts.last_on, facts.today)}: that can spread fast, so "
        "check the water, the flow and for pests today; the light can wait"
    )


def whole_tank(facts: CaseFacts) -> str:
    others = facts.others
    start = (
        f"{count(others.turned)} of the {count(others.living)} corals here got worse within two "
        "weeks of each other: look for something they share"
    )
    if has_water(facts):
        return f"{start}; {logged(facts)}"
    if facts.changed_fits and facts.light and facts.light.shift:
        return f"{start}, the water first, then the light, which changed{on_day(facts)}"
    return f"{start}, the water first"


def logged(facts: CaseFacts) -> str:
    """Say what the water log has: "temperature 28.9 °C was logged on 3 May"."""
    what = facts.out_of_range or facts.water[-1]
    words = f"“{what.words}”" if "," in what.words else what.words
    return f"{words} was logged on {day(what.on, facts.today)}"


def water(facts: CaseFacts) -> str:
    return f"{logged(facts)}, shortly before: that alone can do this, whatever the light"


def light_or_water(facts: CaseFacts) -> str:
    return f"{light_clause(facts)}, and {logged(facts)}: one coral can’t show which it was"


def settling(facts: CaseFacts) -> str:
    days = facts.days_here
    here = f"it had been here {days} day{'' if days == 1 else 's'}" if days else "it had just come"
    text = f"{here}, and many corals {DOES.get(facts.sign, 'sulk')} while they settle in"
    if facts.changed_fits:
        return f"{text}; it also got {gap(facts)}"
    return f"{text}; it also sat {side_words(facts)}" if facts.place_fits else text


def changed(facts: CaseFacts) -> str:
    text = light_clause(facts)
    if facts.place_speaks_against:
        text += f", though it still sat {side_words(facts)}"
    return text + kin_clause(facts)


def out_of_band(facts: CaseFacts) -> str:
    text = light_clause(facts)
    if facts.change_speaks_against:
        text += f", though it got {gap(facts)}"
    else:
        text += ", and no change of its light is on record for the six weeks before"
    return text + kin_clause(facts)


def light_unknown(facts: CaseFacts) -> str:
    reasons = {
        "no_map": "there is no light map of this tank yet",
        "no_spot": "its spot is not entered",
        "in_rock": "its spot lies inside a rock as drawn",
    }
    reason = reasons.get(facts.unknown, "its light then is not known")
    if facts.is_vague and facts.light:
        ends = f"{facts.light.low_umol:.0f} to {facts.light.high_umol:.0f}"
        reason = f"its light may have been anything from PAR {ends}"
    return f"{reason}, so it can’t be said whether it is the light"


def against(facts: CaseFacts) -> str:
    does = {Sign.LIGHTER: "pale", Sign.DARKER: "brown"}[facts.sign]
    if facts.change_speaks_against:
        text = f"it got {gap(facts)}{after(facts)}"
    else:
        text = f"it sat {side_words(facts)}"
    return f"{text}, and that seldom makes a coral {does}: look beyond the light"


def steady(facts: CaseFacts) -> str:
    about = "" if facts.light and facts.light.place_sure else "about "
    wants = "in the band you gave it" if facts.keepers_band else "what its kind usually wants"
    return (
        f"its light was {about}{wants} and did not change in the six weeks before: look elsewhere, "
        "at the water first"
    )


SENTENCES = {
    Finding.GONE: gone,
    Finding.RECOVERED: recovered,
    Finding.OLD: old,
    Finding.TISSUE_LOSS: tissue_loss,
    Finding.WHOLE_TANK: whole_tank,
    Finding.WATER: water,
    Finding.LIGHT_OR_WATER: light_or_water,
    Finding.SETTLING: settling,
    Finding.CHANGED: changed,
    Finding.OUT_OF_BAND: out_of_band,
    Finding.LIGHT_UNKNOWN: light_unknown,
    Finding.AGAINST: against,
    Finding.STEADY: steady,
}


# --- Clauses --------------------------------------------------------------------------------
def light_clause(facts: CaseFacts) -> str:
    """Say how its light stood: out of its band, or changed, and after what."""
    light = facts.light
    is_measured = light is None or light.measured
    it = "it" if is_measured else "going by your lamps’ output alone, it"
    if facts.place_fits and facts.changed_fits and shift_of(facts).place_before == facts.place:
        return f"{it} sat {side_words(facts)}, and got {gap(facts)}{after(facts)}"
    if facts.place_fits:
        return f"{it} sat {side_words(facts)}" + (after(facts) if facts.changed_fits else "")
    return f"{it} got {gap(facts)}{after(facts)}"


def side_words(facts: CaseFacts) -> str:
    """Say on which side of its band it sits: "in dimmer light than its kind usually wants"."""
    light = facts.light
    assert light is not None
    probably = "" if light.place_sure else "probably "
    if facts.keepers_band:
        return f"{probably}{light.place} the band you gave it"
    return f"{probably}in {SIDE[light.place]} light than its kind usually wants"


def gap(facts: CaseFacts) -> str:
    """Say how much more or less light it got: "about 60 % more light than usual"."""
    ratio = shift_of(facts).ratio
    percent = 100 * (ratio - 1)
    if percent >= TWICE_PERCENT:
        times = f"{ratio:.1f}".removesuffix(".0")
        return f"about {'twice' if times == '2' else f'{times} times'} as much light as usual"
    # To five of a hundred: the estimate is no better.
    rounded = 5 * round(abs(percent) / 5)
    return f"about {rounded}\u00a0% {'more' if percent > 0 else 'less'} light than usual"


def shift_of(facts: CaseFacts) -> Shift:
    assert facts.light is not None and facts.light.shift is not None
    return facts.light.shift


def on_day(facts: CaseFacts) -> str:
    """Return " on 3 May", the day its light changed; empty if not known."""
    on = shift_of(facts).on
    return f" on {day(on, facts.today)}" if on else ""


def after(facts: CaseFacts) -> str:
    """Say what changed its light and when: " after it was moved on 3 May"; empty if not known."""
    what = {"moved": "it was moved", "placed": "it was placed"}
    on = on_day(facts)
    return f" after {what.get(shift_of(facts).kind, 'the lamps changed')}{on}" if on else ""


def kin_clause(facts: CaseFacts) -> str:
    """Say what the others in the same light did; its own kind first."""
    others = facts.others
    if others.kin_same > others.kin_well:
        return f"; {of_them(others.kin_same)} of its kind in the same light turned the same way"
    if others.kin_well:
        return f"; {of_them(others.kin_well)} of its kind in the same light looked well"
    if others.near_same > others.near_well:
        return f"; {of_them(others.near_same)} in the same light turned the same way"
    if others.near_well:
        return f"; {of_them(others.near_well)} in the same light looked well"
    return ""


def of_them(number: int) -> str:
    return f"{count(number)} other{'' if number == 1 else 's'}"


# --- How sure -------------------------------------------------------------------------------
LEVELS = {
    Sureness.FAIR: "likely, not proven",
    Sureness.WEAK: "a weak hint",
    Sureness.NONE: "little more than a guess",
}
NO_CAUSE = {
    Finding.TISSUE_LOSS: "the sign is clear, its cause is not",
    Finding.LIGHT_UNKNOWN: "the cause is not known, nor is its light",
    Finding.AGAINST: "the cause is not known",
    Finding.STEADY: "the cause is not known",
    Finding.OLD: "how it is today is not known",
    Finding.RECOVERED: "why it got better is not known",
    Finding.GONE: "the cause can’t be looked into any more",
}


def how_sure(facts: CaseFacts, judgement: CaseJudgement) -> str:
    """Return how sure the sentence is, in a few words."""
    if judgement.finding in OF_A_CAUSE:
        return LEVELS[judgement.sureness]
    return NO_CAUSE[judgement.finding]


def why_so_sure(facts: CaseFacts, judgement: CaseJudgement) -> str:
    """Return what speaks for the sentence and what makes it less sure; "" where neither does."""
    if judgement.finding not in OF_A_CAUSE:
        return ""
    parts = []
    if judgement.for_it:
        parts.append("For it: " + ", ".join(reason(n, facts) for n in judgement.for_it) + ".")
    if judgement.against_it:
        parts.append("Against: " + ", ".join(reason(n, facts) for n in judgement.against_it) + ".")
    return " ".join(parts)


def reason(name: str, facts: CaseFacts) -> str:
    """Return one reason of a judgement in words."""
    others = facts.others
    words = {
        "changed": "its light changed in the way that can do this",
        "out_of_band": "its light lies clear of its band",
        "kin_same": f"{of_them(others.kin_same)} of its kind in the same light did the same",
        "together": "they turned together",
        "logged": "it is in the water log",
        "arrived": "new corals often do",
        "several_notes": f"noted {count(facts.notes)} times",
        "noted_once": "noted only once",
        "other_eyes": "seen by someone else than before",
        "kin_well": f"{of_them(others.kin_well)} of its kind looked well in the same light",
        "not_measured": "the light there was not measured",
        "extrapolated": "no reading lies near its spot",
        "at_its_edge": "its light may still lie within the band",
        "vague_band": "its group has no usual band of its own",
        "place_against": "it still sits on the other side of its band",
        "change_against": "its light changed the other way",
        "two_causes": "two things happened at once",
        "light_too": "its light could do it too",
        "water_too": "the water log names no cause",
    }
    return words[name]


# --- What would settle it, and the step -----------------------------------------------------
SETTLES = {
    NextStep.NOTHING: "",
    NextStep.LOOK: "A look today.",
    NextStep.WAIT: "",  # the step itself says to note it every week
    NextStep.WATER: "A test out of range, or others in other light that turn too.",
    NextStep.READ: "Readings: what light it really gets.",
    NextStep.PLAN: "Whether it looks better four to six weeks after.",
    NextStep.FOLLOW: "Whether it looks better four to six weeks after.",
    NextStep.MOVE: "Whether it looks better four to six weeks after.",
    NextStep.PLACE: "Its spot, and since when it sits there.",
    NextStep.MEND_SPOT: "Its true spot, or the true size of the rock.",
    NextStep.SURVEY: "A light survey: an afternoon with a meter.",
}


def settles(judgement: CaseJudgement) -> str:
    """Return what would make the case surer."""
    return SETTLES[judgement.step]


def step_words(facts: CaseFacts, judgement: CaseJudgement) -> tuple[str, str]:
    """Return (what the button says, one sentence about the step)."""
    button, words = STEP_WORDS[judgement.step]
    if judgement.step is NextStep.WAIT and facts.is_mended:
        way = "down" if facts.sign is Sign.LIGHTER else "up"
        words = f"Its light is {way} again. Give it four to six weeks, and note it every week."
    if judgement.step is NextStep.MOVE:
        way = "dimmer" if facts.sign is Sign.LIGHTER else "brighter"
        words = f"Find it a {way} spot and move it there in small steps."
    if judgement.step is NextStep.PLAN and facts.sign is Sign.LIGHTER:
        words = "Turn its light back, then raise it in small steps."
    return button, words


STEP_WORDS = {
    NextStep.NOTHING: ("", ""),
    NextStep.LOOK: ("Note how it looks", "See how it is now; the rest follows."),
    NextStep.WAIT: (
        "Add a note",
        "Change nothing yet; note it every week.",
    ),
    NextStep.WATER: (
        "Log a water test",
        "Test the water and log it; look at flow, pests and neighbours.",
    ),
    NextStep.READ: (
        "Take two check readings",
        "Before you change the light, measure at its spot and where the last survey read nearby.",
    ),
    NextStep.PLAN: (
        "Plan acclimation",
        "Raise its light to what it wants, in small steps.",
    ),
    NextStep.FOLLOW: (
        "Open its acclimation",
        "An acclimation is under way: should its next step wait?",
    ),
    NextStep.MOVE: ("Find it a place", ""),
    NextStep.PLACE: ("Enter its spot", "Enter where it sits, so that its light is known."),
    NextStep.MEND_SPOT: ("Edit its spot", "Correct its spot or the rock, so its light is known."),
    NextStep.SURVEY: (
        "Start a light survey",
        "A survey now also gives the light before, if your light log is complete.",
    ),
}

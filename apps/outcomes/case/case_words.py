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
    return (
        f"it looked better again on {day(facts.well_on, facts.today)}; {facts.seen} was noted "
        f"first on {day(facts.first_on, facts.today)}"
    )


def old(facts: CaseFacts) -> str:
    return (
        f"{facts.seen} was noted last on {day(facts.last_on, facts.today)}, and nobody has noted "
        "this coral since: see how it looks today"
    )


def tissue_loss(facts: CaseFacts) -> str:
    return (
        f"it was losing tissue on {day(facts.last_on, facts.today)}: that can run fast, so look "
        "at the water, the flow and for pests today, and leave the light for later"
    )


def whole_tank(facts: CaseFacts) -> str:
    others = facts.others
    start = (
        f"{count(others.turned)} of the {count(others.living)} corals here got worse within two "
        "weeks of each other: look for what reaches them all"
    )
    if has_water(facts):
        return f"{start}; {logged(facts)}"
    if facts.changed_fits and facts.light and facts.light.shift:
        return f"{start}, the water first, then the light, which changed{since(facts, ' ')}"
    return f"{start}, the water first"


def logged(facts: CaseFacts) -> str:
    """Say what the water log has: "temperature 28.9 °C was logged on 3 May"."""
    what = facts.out_of_range or facts.water[-1]
    words = f"“{what.words}”" if "," in what.words else what.words
    return f"{words} was logged on {day(what.on, facts.today)}"


def water(facts: CaseFacts) -> str:
    return f"{logged(facts)}, shortly before: that can do this without any change of light"


def light_or_water(facts: CaseFacts) -> str:
    return f"{light_clause(facts)}, and {logged(facts)}: one coral can’t show which of them it was"


def settling(facts: CaseFacts) -> str:
    days = facts.days_here
    before = "the day this was noted" if days == 0 else f"{days} days before this was noted"
    before = "the day before this was noted" if days == 1 else before
    text = f"it came {before}, and many corals {DOES.get(facts.sign, 'sulk')} while they settle"
    if facts.changed_fits:
        return f"{text}; it also got {gap(facts)} than it was used to"
    return f"{text}; it also sits {side_words(facts)}" if facts.place_fits else text


def changed(facts: CaseFacts) -> str:
    text = light_clause(facts)
    if facts.place_speaks_against:
        text += f", though it still sits {side_words(facts)}"
    return text + kin_clause(facts)


def out_of_band(facts: CaseFacts) -> str:
    text = light_clause(facts)
    if facts.change_speaks_against:
        text += f", though it gets {gap(facts)} than it was used to"
    else:
        text += ", and nothing we know of changed its light in the six weeks before"
    return text + kin_clause(facts)


def light_unknown(facts: CaseFacts) -> str:
    reasons = {
        "no_map": "there is no light map of this tank yet",
        "no_spot": "nobody entered where it sits",
        "in_rock": "its spot lies within a rock as drawn",
    }
    reason = reasons.get(facts.unknown, "its light then is not known")
    if facts.is_vague and facts.light:
        ends = f"{facts.light.low_umol:.0f} to {facts.light.high_umol:.0f}"
        reason = f"its light may have been anything from PAR {ends}"
    return f"{reason}, so nothing can be said of light as a cause"


def against(facts: CaseFacts) -> str:
    does = {Sign.LIGHTER: "pale", Sign.DARKER: "brown"}[facts.sign]
    if facts.change_speaks_against:
        text = f"it got {gap(facts)} than it was used to{since(facts)}"
    else:
        text = f"it sits {side_words(facts)}"
    return f"{text}, and that seldom makes a coral {does}: look beyond the light"


def steady(facts: CaseFacts) -> str:
    about = "" if facts.light and facts.light.place_sure else "about "
    wants = "in the band you gave it" if facts.keepers_band else "what its kind usually wants"
    return (
        f"its light was {about}{wants} and did not change in the six weeks before: look beyond "
        "the light, at the water first"
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
    """Say how its light stood: out of its band, or changed, and since what."""
    light = facts.light
    reckoned = "" if light is None or light.measured else "by your fixtures’ stated output alone, "
    if facts.place_fits and facts.changed_fits and shift_of(facts).place_before == facts.place:
        return f"{reckoned}{side_words(facts)}, and {gap(facts)}{since(facts)}"
    if facts.place_fits:
        return reckoned + side_words(facts) + (since(facts) if facts.changed_fits else "")
    return f"{reckoned}{gap(facts)} than it was used to{since(facts)}"


def side_words(facts: CaseFacts) -> str:
    """Say on which side of its band it sits: "dimmer than its kind usually wants"."""
    light = facts.light
    assert light is not None
    probably = "" if light.place_sure else "probably "
    wants = "the band you gave it" if facts.keepers_band else "its kind usually wants"
    return f"{probably}{SIDE[light.place]} than {wants}"


def gap(facts: CaseFacts) -> str:
    """Say how much more or less light it got: "about 60 % more light"."""
    shift = shift_of(facts)
    percent = 100 * (shift.ratio - 1)
    if percent >= 95:
        return f"about {shift.ratio:.1f} times as much light".replace(".0 times", " times")
    # To five of a hundred: the estimate is no better.
    rounded = 5 * round(abs(percent) / 5)
    return f"about {rounded} % {'more' if percent > 0 else 'less'} light"


def shift_of(facts: CaseFacts) -> Shift:
    assert facts.light is not None and facts.light.shift is not None
    return facts.light.shift


def since(facts: CaseFacts, before: str = " since ") -> str:
    """Say what changed its light and when: " since it was moved on 3 May"; empty if not known."""
    shift = shift_of(facts)
    if shift.on is None:
        return ""
    on = f"on {day(shift.on, facts.today)}"
    if before != " since ":
        return f"{before}{on}"
    what = {"moved": "it was moved", "placed": "it was placed"}
    return f" since {what.get(shift.kind, 'the lamps changed')} {on}"


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
    Finding.TISSUE_LOSS: "the sign is plain, its cause is not known",
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
        "changed": "its light changed the way that can do this",
        "out_of_band": "its light lies clear of its band",
        "kin_same": f"{of_them(others.kin_same)} of its kind in the same light did the same",
        "together": "they turned together",
        "logged": "it stands in the water log",
        "arrived": "new corals often do",
        "several_notes": f"noted {count(facts.notes)} times",
        "noted_once": "noted only once",
        "other_eyes": "seen by another than the time before",
        "kin_well": f"{of_them(others.kin_well)} of its kind looked well in the same light",
        "not_measured": "nobody measured the light there",
        "extrapolated": "no reading lies near its spot",
        "at_its_edge": "its light may still lie within the band",
        "vague_band": "its group has no usual band of its own",
        "place_against": "it still sits on the other side of its band",
        "change_against": "its light changed the other way",
        "two_causes": "two things happened at once",
        "light_too": "its light could do it as well",
        "water_too": "the water log names no cause",
    }
    return words[name]


# --- What would settle it, and the step -----------------------------------------------------
SETTLES = {
    NextStep.NOTHING: "",
    NextStep.LOOK: "A look today.",
    NextStep.WAIT: "Two more notes, a week apart.",
    NextStep.WATER: "A test out of range, or others in other light that turn too.",
    NextStep.READ: "Readings: what light it really gets.",
    NextStep.PLAN: "Whether it looks better four to six weeks after.",
    NextStep.FOLLOW: "Whether it looks better four to six weeks after.",
    NextStep.MOVE: "Whether it looks better four to six weeks after.",
    NextStep.PLACE: "Its spot, and since when it sits there.",
    NextStep.MEND_SPOT: "Its true spot, or the rock’s true size.",
    NextStep.SURVEY: "A light survey: an afternoon with a meter.",
}


def settles(judgement: CaseJudgement) -> str:
    """Return what would make the case surer."""
    return SETTLES[judgement.step]


def step_words(facts: CaseFacts, judgement: CaseJudgement) -> tuple[str, str]:
    """Return (what the button says, one sentence about the step)."""
    button, words = STEP_WORDS[judgement.step]
    if judgement.step is NextStep.WAIT and facts.is_mended:
        words = "Its light went back since. Give it four to six weeks, and note it every week."
    if judgement.step is NextStep.MOVE:
        way = "dimmer" if facts.sign is Sign.LIGHTER else "brighter"
        words = f"Find it a {way} spot, and go there in small steps."
    if judgement.step is NextStep.PLAN and facts.sign is Sign.LIGHTER:
        words = "Take its light back, then raise it in small steps that it can follow."
    return button, words


STEP_WORDS = {
    NextStep.NOTHING: ("", ""),
    NextStep.LOOK: ("Note how it looks", "See how it is now; all else follows from that."),
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
        "Read at its spot, and where the last survey read nearby, before you change the light.",
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
    NextStep.PLACE: ("Enter its spot", "Say where it sits, so that its light is known."),
    NextStep.MEND_SPOT: ("Edit its spot", "Correct its spot or the rock, so its light is known."),
    NextStep.SURVEY: (
        "Start a light survey",
        "A survey now also tells the light of before, if the light log is complete.",
    ),
}

"""What a case comes to: one fact changes at a time, and sentence and next step follow."""

import itertools
import re
from dataclasses import replace

import pytest

from apps.outcomes.case.case_facts import CaseLight, Shift, Sign
from apps.outcomes.case.case_rules import Finding, NextStep, Sureness, judge_case
from apps.outcomes.case.case_words import (
    how_sure,
    sentence,
    settles,
    step_words,
    why_so_sure,
)
from tests.outcomes.case.facts import (
    BROWNED,
    FELL,
    HEAT,
    LOGGED,
    ROSE,
    TODAY,
    ago,
    with_light,
    with_others,
)

STEADY = Shift(1.02, 0.95, 1.08)
PALED = replace(
    BROWNED,
    sign=Sign.LIGHTER,
    seen="paling",
    light=CaseLight(place="above", place_sure=True, place_now="above", shift=ROSE),
)
STILL = with_light(BROWNED, shift=STEADY)
INSIDE = with_light(STILL, place="within", place_now="within")
UNLIT = replace(BROWNED, light=None)


def words(facts):
    return sentence(facts, judge_case(facts))


# What was changed in the usual case: the finding, the step and a part of the sentence.
ONE_FACT = {
    "as it is": (
        BROWNED, Finding.CHANGED, NextStep.MOVE,
        "It sat in dimmer light than its kind usually wants after it was moved on 3 May; one other",
    ),
    "five of its kind look well": (
        with_others(BROWNED, kin_well=5), Finding.CHANGED, NextStep.MOVE,
        "five others of its kind in the same light looked well",
    ),
    "its kind does the same": (
        with_others(BROWNED, kin_well=0, kin_same=2), Finding.CHANGED, NextStep.MOVE,
        "two others of its kind in the same light turned the same way",
    ),
    "only others of other kinds": (
        with_others(BROWNED, kin_well=0, near_well=4), Finding.CHANGED, NextStep.MOVE,
        "four others in the same light looked well",
    ),
    "the lamps did it": (
        with_light(BROWNED, shift=replace(FELL, kind="light")), Finding.CHANGED, NextStep.PLAN,
        "after the lamps changed on 3 May",
    ),
    "dim before, dimmer since": (
        with_light(BROWNED, shift=replace(FELL, place_before="below")), Finding.CHANGED,
        NextStep.MOVE,
        "than its kind usually wants, and got about 50 % less light than usual after it was moved",
    ),
    "still in its band": (
        with_light(BROWNED, place="within", place_now="within"), Finding.CHANGED, NextStep.WAIT,
        "It got about 50 % less light than usual after it was moved on 3 May",
    ),
    "above its band, yet dimmed": (
        with_light(BROWNED, place="above", place_now="above"), Finding.CHANGED, NextStep.WAIT,
        "though it still sat in brighter light than its kind usually wants",
    ),
    "moved back since": (
        with_light(BROWNED, since=2.0, place_now="within"), Finding.CHANGED, NextStep.WAIT,
        "dimmer light than its kind usually wants",
    ),
    "moved up since, and not far enough": (
        with_light(BROWNED, since=2.0, place_now="below"), Finding.CHANGED, NextStep.MOVE,
        "dimmer light than its kind usually wants",
    ),
    "an acclimation is under way": (
        replace(BROWNED, plan_under_way=True), Finding.CHANGED, NextStep.FOLLOW, "in dimmer light",
    ),
    "its light was never measured": (
        with_light(BROWNED, measured=False), Finding.CHANGED, NextStep.READ,
        "Going by your lamps’ stated output, it sat in dimmer light than its kind usually wants",
    ),
    "no reading near its spot": (
        with_light(BROWNED, extrapolated=True), Finding.CHANGED, NextStep.READ, "dimmer light than",
    ),
    "the keeper's own band": (
        replace(BROWNED, keepers_band=True), Finding.CHANGED, NextStep.MOVE,
        "It sat below the band you gave it",
    ),
    "nothing changed its light": (
        STILL, Finding.OUT_OF_BAND, NextStep.MOVE,
        "no change of its light is on record for the six weeks before",
    ),
    "nothing changed, and near the edge": (
        with_light(STILL, place_sure=False), Finding.OUT_OF_BAND, NextStep.READ,
        "It sat probably in dimmer light than its kind usually wants",
    ),
    "nothing changed, within its band": (
        INSIDE, Finding.STEADY, NextStep.WATER, "look elsewhere, at the water first",
    ),
    "the same, noted once and slight": (
        replace(INSIDE, notes=1, slight=True), Finding.STEADY, NextStep.WAIT, "look elsewhere",
    ),
    "brighter than before": (
        with_light(INSIDE, shift=ROSE), Finding.AGAINST, NextStep.WATER,
        "It got about 60 % more light than usual after it was moved on 3 May, and that "
        "seldom makes a coral brown",
    ),
    "above its band": (
        with_light(INSIDE, place="above"), Finding.AGAINST, NextStep.WATER,
        "It sat in brighter light than its kind usually wants, and that seldom makes a coral brown",
    ),
    "its light may be anything": (
        with_light(STILL, low_umol=34, high_umol=1457), Finding.LIGHT_UNKNOWN, NextStep.READ,
        "anything from PAR 34 to 1457",
    ),
    "no light map": (
        replace(UNLIT, unknown="no_map"), Finding.LIGHT_UNKNOWN, NextStep.SURVEY,
        "There is no light map of this tank yet",
    ),
    "no spot": (
        replace(UNLIT, unknown="no_spot"), Finding.LIGHT_UNKNOWN, NextStep.PLACE,
        "Its spot is not entered",
    ),
    "its spot lies in rock": (
        replace(UNLIT, unknown="in_rock"), Finding.LIGHT_UNKNOWN, NextStep.MEND_SPOT,
        "Its spot lies inside a rock as drawn",
    ),
    "it came three weeks before": (
        replace(BROWNED, came_on=ago(36)), Finding.SETTLING, NextStep.WAIT,
        "It had been here 21 days, and many corals brown while they settle in; it also got about "
        "50 % less light than usual",
    ),
    "alkalinity ran high": (
        replace(INSIDE, water=(LOGGED,)), Finding.WATER, NextStep.WATER,
        "Alkalinity 11 dKH was logged on 10 Jun, shortly before",
    ),
    "it was hot": (
        replace(INSIDE, out_of_range=HEAT), Finding.WATER, NextStep.WATER,
        "Temperature 29.4 °C was logged on 11 Jun",
    ),
    "alkalinity ran high, and it was dimmed": (
        replace(BROWNED, water=(LOGGED,)), Finding.LIGHT_OR_WATER, NextStep.WATER,
        "one coral can’t show which it was",
    ),
    "alkalinity ran high, light unknown": (
        replace(UNLIT, water=(LOGGED,)), Finding.WATER, NextStep.WATER, "Alkalinity 11 dKH",
    ),
    "half the tank with it": (
        with_others(BROWNED, turned=4), Finding.WHOLE_TANK, NextStep.WATER,
        "Four of the eight corals here got worse within two weeks of each other",
    ),
    "half the tank, and alkalinity": (
        replace(with_others(BROWNED, turned=4), water=(replace(LOGGED, words="pH 7.6, lid on"),)),
        Finding.WHOLE_TANK, NextStep.WATER, "; “pH 7.6, lid on” was logged on 10 Jun.",
    ),
    "half the tank, and the lamps": (
        with_others(with_light(BROWNED, shift=replace(FELL, kind="light")), turned=4),
        Finding.WHOLE_TANK, NextStep.WATER,
        "the water first, then the light, which changed on 3 May",
    ),
    "it loses tissue": (
        replace(BROWNED, sign=Sign.TISSUE_LOSS, seen="tissue loss"), Finding.TISSUE_LOSS,
        NextStep.WATER, "check the water, the flow and for pests today",
    ),
    "not noted for a year": (
        replace(BROWNED, first_on=ago(380), last_on=ago(371), came_on=ago(900)), Finding.OLD,
        NextStep.LOOK, "Browning was last noted on 24 Jun 2025",
    ),
    "well again": (
        replace(BROWNED, well_on=ago(2)), Finding.RECOVERED, NextStep.WAIT,
        "It looked better again on 28 Jun",
    ),
    "gone": (
        replace(BROWNED, gone_on=ago(3)), Finding.GONE, NextStep.NOTHING,
        "It left this tank on 27 Jun",
    ),
    "paled, brighter": (
        PALED, Finding.CHANGED, NextStep.MOVE,
        "brighter light than its kind usually wants after it was moved on 3 May",
    ),
    "paled, brighter by the lamps": (
        with_light(PALED, shift=replace(ROSE, kind="light")), Finding.CHANGED, NextStep.PLAN,
        "brighter light than its kind usually wants after the lamps changed",
    ),
    "paled, within its band now": (
        with_light(PALED, place="within", place_now="within"), Finding.CHANGED, NextStep.PLAN,
        "It got about 60 % more light than usual after it was moved on 3 May",
    ),
    "paled where it is dim": (
        with_light(PALED, shift=STEADY, place="below"), Finding.AGAINST, NextStep.WATER,
        "It sat in dimmer light than its kind usually wants, and that seldom makes a coral pale",
    ),
    "paled, came lately, too bright": (
        replace(PALED, came_on=ago(20)), Finding.SETTLING, NextStep.PLAN, "many corals pale",
    ),
    "paled, came lately, light as before": (
        replace(with_light(PALED, shift=STEADY, place="within"), came_on=ago(15)),
        Finding.SETTLING, NextStep.WAIT, "It had just come",
    ),
    "polyps in": (
        replace(BROWNED, sign=Sign.UNWELL, seen="polyps in"), Finding.CHANGED, NextStep.WAIT,
        "dimmer light than its kind usually wants",
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_FACT)
def test_one_fact_changes_sentence_and_step(name):
    facts, finding, step, part = ONE_FACT[name]
    judged = judge_case(facts)
    assert (judged.finding, judged.step) == (finding, step)
    assert part in sentence(facts, judged)


# What was changed in the usual case, and how sure it is then.
SURENESS = {
    "as it is": (BROWNED, Sureness.FAIR),
    "noted once": (replace(BROWNED, notes=1), Sureness.WEAK),
    "noted once, by other eyes": (replace(BROWNED, notes=1, other_eyes=True), Sureness.NONE),
    "five of its kind look well": (with_others(BROWNED, kin_well=5), Sureness.WEAK),
    "two of its kind look well": (with_others(BROWNED, kin_well=2), Sureness.WEAK),
    "one of its kind looks well": (with_others(BROWNED, kin_well=1), Sureness.FAIR),
    "never measured": (with_light(BROWNED, measured=False), Sureness.FAIR),
    "never measured, noted once": (
        with_light(replace(BROWNED, notes=1), measured=False), Sureness.NONE,
    ),
    "nothing changed, near the edge": (with_light(STILL, place_sure=False), Sureness.NONE),
    "nothing changed": (STILL, Sureness.FAIR),
    "nothing changed, no band of its group": (replace(STILL, vague_band=True), Sureness.NONE),
    "two causes": (replace(BROWNED, water=(LOGGED,)), Sureness.NONE),
    "no cause": (INSIDE, Sureness.NONE),
}  # fmt: skip


@pytest.mark.parametrize("name", SURENESS)
def test_one_fact_changes_how_sure_it_is(name):
    facts, sureness = SURENESS[name]
    assert judge_case(facts).sureness == sureness


def all_cases():
    """Yield every combination of what most facts may be."""
    lights = [None] + [
        CaseLight(place, place_sure=sure, place_now=place, shift=shift, since=since)
        for place, sure, shift, since in itertools.product(
            ("below", "within", "above"), (True, False), (None, STEADY, ROSE, FELL), (1.0, None)
        )
    ]
    more = [
        {},
        {"came_on": ago(20)},
        {"water": (LOGGED,)},
        {"out_of_range": HEAT},
        {"well_on": ago(1)},
        {"gone_on": ago(1)},
        {"others": replace(BROWNED.others, turned=8)},
        {"plan_under_way": True},
        {"notes": 1, "slight": True},
        {"first_on": ago(400), "last_on": ago(400), "came_on": ago(500)},
    ]
    for sign, light, changes in itertools.product(Sign, lights, more):
        yield replace(BROWNED, sign=sign, light=light, **changes)


ALL = list(all_cases())
SOOTHING = re.compile(r"\b(safe|harmless|healthy|fine|no danger|don’t worry|nothing to fear)\b")


def said(facts):
    """Return all that a page says of a case."""
    judged = judge_case(facts)
    parts = (sentence(facts, judged), how_sure(facts, judged), why_so_sure(facts, judged))
    return " ".join((*parts, settles(judged), *step_words(facts, judged)))


def test_no_case_says_that_an_animal_is_safe():
    assert [text for facts in ALL if SOOTHING.search((text := said(facts)).lower())] == []


def test_no_case_says_that_light_did_it():
    blame = re.compile(r"\b(because of|caused by|is to blame|proves)\b|\btoo (much|little) light\b")
    assert [text for facts in ALL if blame.search(text := said(facts))] == []


def test_light_that_does_not_fit_is_never_put_forward():
    """A sentence that names light as what to look at rests on light that could do it."""
    named = {Finding.CHANGED, Finding.OUT_OF_BAND, Finding.LIGHT_OR_WATER}
    wrong = [
        facts
        for facts in ALL
        if judge_case(facts).finding in named and not (facts.changed_fits or facts.place_fits)
    ]
    assert wrong == []


def test_tissue_loss_is_never_put_on_light():
    steps = {
        judge_case(facts).step
        for facts in ALL
        if facts.sign is Sign.TISSUE_LOSS and not facts.well_on and not facts.gone_on
    }
    assert steps == {NextStep.WATER, NextStep.LOOK}


def test_paling_coral_is_never_sent_to_brighter_light():
    pale = [f for f in ALL if f.sign is Sign.LIGHTER and f.light and f.light.place_now == "below"]
    assert NextStep.MOVE not in {judge_case(facts).step for facts in pale}


def test_no_single_case_is_proof():
    assert max(judge_case(facts).sureness for facts in ALL) == Sureness.FAIR
    assert "not proven" in how_sure(BROWNED, judge_case(BROWNED))


def test_what_speaks_for_and_against_is_named():
    facts = with_others(BROWNED, kin_well=5)
    text = why_so_sure(facts, judge_case(facts))
    assert text.startswith("For it: its light changed in the way that can do this")
    assert "Against: five others of its kind looked well in the same light." in text


def test_every_case_but_that_of_one_gone_has_a_next_step():
    without = [f for f in ALL if not judge_case(f).step or not step_words(f, judge_case(f))[0]]
    assert without and all(facts.gone_on for facts in without)


def test_year_is_said_where_it_is_another():
    assert "3 May 2025" in words(
        with_light(BROWNED, shift=replace(FELL, on=TODAY.replace(2025, 5, 3)))
    )

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


# What was changed in the usual case: the finding, the step, and which facts the sentence names.
ONE_FACT = {
    "as it is": (
        BROWNED, Finding.CHANGED, NextStep.MOVE, ("dimmer", "moved", "3 May", "one other"),
    ),
    "five of its kind look well": (
        with_others(BROWNED, kin_well=5), Finding.CHANGED, NextStep.MOVE,
        ("five others", "its kind", "well"),
    ),
    "its kind does the same": (
        with_others(BROWNED, kin_well=0, kin_same=2), Finding.CHANGED, NextStep.MOVE,
        ("two others", "its kind", "same way"),
    ),
    "only others of other kinds": (
        with_others(BROWNED, kin_well=0, near_well=4), Finding.CHANGED, NextStep.MOVE,
        ("four others", "well"),
    ),
    "the lamps did it": (
        with_light(BROWNED, shift=replace(FELL, kind="light")), Finding.CHANGED, NextStep.PLAN,
        ("lamps", "3 May"),
    ),
    "dim before, dimmer since": (
        with_light(BROWNED, shift=replace(FELL, place_before="below")), Finding.CHANGED,
        NextStep.MOVE, ("dimmer", "50\u00a0% less", "moved"),
    ),
    "still in its band": (
        with_light(BROWNED, place="within", place_now="within"), Finding.CHANGED, NextStep.WAIT,
        ("50\u00a0% less", "moved", "3 May"),
    ),
    "above its band, yet dimmed": (
        with_light(BROWNED, place="above", place_now="above"), Finding.CHANGED, NextStep.WAIT,
        ("50\u00a0% less", "brighter"),
    ),
    "moved back since": (
        with_light(BROWNED, since=2.0, place_now="within"), Finding.CHANGED, NextStep.WAIT,
        ("dimmer",),
    ),
    "moved up since, and not far enough": (
        with_light(BROWNED, since=2.0, place_now="below"), Finding.CHANGED, NextStep.MOVE,
        ("dimmer",),
    ),
    "an acclimation is under way": (
        replace(BROWNED, plan_under_way=True), Finding.CHANGED, NextStep.FOLLOW, ("dimmer",),
    ),
    "its light was never measured": (
        with_light(BROWNED, measured=False), Finding.CHANGED, NextStep.READ,
        ("output alone", "dimmer"),
    ),
    "no reading near its spot": (
        with_light(BROWNED, extrapolated=True), Finding.CHANGED, NextStep.READ, ("dimmer",),
    ),
    "the keeper's own band": (
        replace(BROWNED, keepers_band=True), Finding.CHANGED, NextStep.MOVE,
        ("below", "you gave it"),
    ),
    "nothing changed its light": (
        STILL, Finding.OUT_OF_BAND, NextStep.MOVE, ("dimmer", "six weeks"),
    ),
    "nothing changed, and near the edge": (
        with_light(STILL, place_sure=False), Finding.OUT_OF_BAND, NextStep.READ,
        ("probably", "dimmer"),
    ),
    "nothing changed, within its band": (
        INSIDE, Finding.STEADY, NextStep.WATER, ("six weeks", "water first"),
    ),
    "the same, noted once and slight": (
        replace(INSIDE, notes=1, slight=True), Finding.STEADY, NextStep.WAIT, ("six weeks",),
    ),
    "brighter than before": (
        with_light(INSIDE, shift=ROSE), Finding.AGAINST, NextStep.WATER,
        ("60\u00a0% more", "moved", "3 May"),
    ),
    "above its band": (
        with_light(INSIDE, place="above"), Finding.AGAINST, NextStep.WATER, ("brighter",),
    ),
    "its light may be anything": (
        with_light(STILL, low_umol=34, high_umol=1457), Finding.LIGHT_UNKNOWN, NextStep.READ,
        ("34", "1457"),
    ),
    "no light map": (
        replace(UNLIT, unknown="no_map"), Finding.LIGHT_UNKNOWN, NextStep.SURVEY,
        ("no light map",),
    ),
    "no spot": (
        replace(UNLIT, unknown="no_spot"), Finding.LIGHT_UNKNOWN, NextStep.PLACE, ("spot",),
    ),
    "its spot lies in rock": (
        replace(UNLIT, unknown="in_rock"), Finding.LIGHT_UNKNOWN, NextStep.MEND_SPOT, ("rock",),
    ),
    "it came three weeks before": (
        replace(BROWNED, came_on=ago(36)), Finding.SETTLING, NextStep.WAIT,
        ("21 days", "brown", "50\u00a0% less"),
    ),
    "alkalinity ran high": (
        replace(INSIDE, water=(LOGGED,)), Finding.WATER, NextStep.WATER,
        ("Alkalinity 11 dKH", "10 Jun"),
    ),
    "it was hot": (
        replace(INSIDE, out_of_range=HEAT), Finding.WATER, NextStep.WATER,
        ("Temperature 29.4 °C", "11 Jun"),
    ),
    "alkalinity ran high, and it was dimmed": (
        replace(BROWNED, water=(LOGGED,)), Finding.LIGHT_OR_WATER, NextStep.WATER,
        ("dimmer", "alkalinity 11 dKH"),
    ),
    "alkalinity ran high, light unknown": (
        replace(UNLIT, water=(LOGGED,)), Finding.WATER, NextStep.WATER, ("Alkalinity 11 dKH",),
    ),
    "half the tank with it": (
        with_others(BROWNED, turned=4), Finding.WHOLE_TANK, NextStep.WATER, ("Four", "eight"),
    ),
    "half the tank, and alkalinity": (
        replace(with_others(BROWNED, turned=4), water=(replace(LOGGED, words="pH 7.6, lid on"),)),
        Finding.WHOLE_TANK, NextStep.WATER, ("“pH 7.6, lid on”", "10 Jun"),
    ),
    "half the tank, and the lamps": (
        with_others(with_light(BROWNED, shift=replace(FELL, kind="light")), turned=4),
        Finding.WHOLE_TANK, NextStep.WATER, ("water first", "3 May"),
    ),
    "it loses tissue": (
        replace(BROWNED, sign=Sign.TISSUE_LOSS, seen="tissue loss"), Finding.TISSUE_LOSS,
        NextStep.WATER, ("water", "flow", "pests", "today"),
    ),
    "not noted for a year": (
        replace(BROWNED, first_on=ago(380), last_on=ago(371), came_on=ago(900)), Finding.OLD,
        NextStep.LOOK, ("Browning", "24 Jun 2025"),
    ),
    "well again": (
        replace(BROWNED, well_on=ago(2)), Finding.RECOVERED, NextStep.WAIT, ("28 Jun",),
    ),
    "gone": (
        replace(BROWNED, gone_on=ago(3)), Finding.GONE, NextStep.NOTHING, ("27 Jun",),
    ),
    "paled, brighter": (
        PALED, Finding.CHANGED, NextStep.MOVE, ("brighter", "moved", "3 May"),
    ),
    "paled, brighter by the lamps": (
        with_light(PALED, shift=replace(ROSE, kind="light")), Finding.CHANGED, NextStep.PLAN,
        ("brighter", "lamps"),
    ),
    "paled, within its band now": (
        with_light(PALED, place="within", place_now="within"), Finding.CHANGED, NextStep.PLAN,
        ("60\u00a0% more", "moved", "3 May"),
    ),
    "paled where it is dim": (
        with_light(PALED, shift=STEADY, place="below"), Finding.AGAINST, NextStep.WATER,
        ("dimmer",),
    ),
    "paled, came lately, too bright": (
        replace(PALED, came_on=ago(20)), Finding.SETTLING, NextStep.PLAN, ("pale",),
    ),
    "paled, came lately, light as before": (
        replace(with_light(PALED, shift=STEADY, place="within"), came_on=ago(15)),
        Finding.SETTLING, NextStep.WAIT, ("just come",),
    ),
    "polyps in": (
        replace(BROWNED, sign=Sign.UNWELL, seen="polyps in"), Finding.CHANGED, NextStep.WAIT,
        ("dimmer",),
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", ONE_FACT)
def test_one_fact_changes_sentence_and_step(name):
    facts, finding, step, named = ONE_FACT[name]
    judged = judge_case(facts)
    assert (judged.finding, judged.step) == (finding, step)
    text = sentence(facts, judged)
    assert [word for word in named if word not in text] == []


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
    judged = judge_case(facts)
    assert judged.for_it == ("changed", "out_of_band", "several_notes")
    assert judged.against_it == ("kin_well",)
    speaks, against = why_so_sure(facts, judged).split("Against:")
    assert "five others" in against and speaks.count(",") == 2


def test_every_case_but_that_of_one_gone_has_a_next_step():
    without = [f for f in ALL if not judge_case(f).step or not step_words(f, judge_case(f))[0]]
    assert without and all(facts.gone_on for facts in without)


def test_year_is_said_where_it_is_another():
    assert "3 May 2025" in words(
        with_light(BROWNED, shift=replace(FELL, on=TODAY.replace(2025, 5, 3)))
    )

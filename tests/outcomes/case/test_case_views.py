"""Cases on their pages: who may look, what is gathered, and where the next step leads."""

import datetime as dt
import re

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone
from django.utils.text import capfirst

from apps.corals.models import Spot
from apps.outcomes.case.calm import calm_of
from apps.outcomes.case.case_rules import Finding, NextStep
from apps.outcomes.case.gathering import CaseBook
from apps.outcomes.case.page import Usual, case_page
from apps.outcomes.case.views import CASES_AT_FIRST
from apps.surveys.models import Survey
from tests.factories import (
    hang,
    make_acclimation,
    make_coral,
    make_fixture,
    make_light_change,
    make_lit_survey,
    make_note,
    make_rock,
    make_survey,
    make_water_event,
)

NAMES = ("coral_case", "coral_case_proof")


def date_ago(tank, days):
    return tank.today() - dt.timedelta(days=days)


def days_ago(days):
    return timezone.now() - dt.timedelta(days=days)


@pytest.fixture
def lit(tank):
    """A surveyed tank whose light has not changed for half a year."""
    make_lit_survey(tank, taken_at=days_ago(190))
    tank.light_changes.update(happened_at=days_ago(200))
    return tank


@pytest.fixture
def browned(lit):
    """A coral that browned three weeks after it was moved to the dim bottom."""
    coral = make_coral(lit, name="Cream staghorn", at_cm=(30, 30, 6))
    Spot.objects.create(coral=coral, x_cm=12, y_cm=12, depth_cm=45, since=date_ago(lit, 40))
    for days in (19, 12):
        make_note(coral, noted_on=date_ago(lit, days), seen="browning")
    return coral


def case_of(coral):
    cases = CaseBook(coral.tank, timezone.now())
    return cases.case_of(cases.book.coral_by_pk[coral.pk])


def case_url(coral, name="coral_case"):
    return reverse(name, args=[coral.pk])


def text_of(response):
    return " ".join(response.content.decode().split())


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
@pytest.mark.parametrize("name", NAMES)
def test_those_let_in_see_a_case(request, as_user, browned, who, name):
    assert as_user(request.getfixturevalue(who)).get(case_url(browned, name)).status_code == 200


@pytest.mark.parametrize("name", NAMES)
def test_stranger_finds_no_case(as_user, stranger, browned, name):
    assert as_user(stranger).get(case_url(browned, name)).status_code == 404


def test_list_gives_the_most_urgent_in_full_and_names_the_rest(as_user, owner, tank):
    days = range(CASES_AT_FIRST + 2)
    corals = [make_coral(tank, name=f"Frag {n}", at_cm=(10 + n, 30, 30)) for n in days]
    for n, coral in enumerate(corals):
        make_note(coral, noted_on=tank.today() - dt.timedelta(days=n), seen="browning")
    answer = as_user(owner).get(reverse("outcome_list", args=[tank.pk]))
    shown, named = answer.context["cases"], answer.context["more_cases"]
    assert [page.case.coral for page in shown] == corals[:CASES_AT_FIRST]
    assert [coral for coral, _ in named] == corals[CASES_AT_FIRST:]
    text = answer.content.decode().split('id="more-cases"')[1].split("</details>")[0]
    assert all(case_url(coral) in text for coral in corals[CASES_AT_FIRST:])


def test_list_says_once_what_holds_for_several(as_user, owner, lit):
    corals = [make_coral(lit, name=f"Frag {n}", at_cm=(10 + n, 30, 30)) for n in range(3)]
    make_water_event(lit, happened_at=days_ago(10), kind="temperature", value=29.5)
    for coral in corals:
        make_note(coral, noted_on=date_ago(lit, 5), seen="tissue_loss")
    page = as_user(owner).get(reverse("outcome_list", args=[lit.pk]))
    (once,) = page.context["once"]
    (button,) = {case_page(case_of(coral)).step.url for coral in corals}
    assert page.content.decode().count(f'href="{button.replace("&", "&amp;")}"') == 1
    assert once.sentence and once.step.url == button
    assert once.sure.how_sure
    for shown in page.context["cases"]:
        assert not (shown.sentence or shown.how_sure or shown.step.button)


def test_step_that_leads_each_elsewhere_keeps_its_buttons(as_user, owner, tank):
    corals = [make_coral(tank, name=f"Frag {n}", at_cm=None) for n in range(2)]
    for n, coral in enumerate(corals):
        make_note(coral, noted_on=date_ago(tank, 300 + n), seen="browning")
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk]))
    (once,) = page.context["once"]
    assert once.step.words and not once.step.button
    urls = [shown.step.url for shown in page.context["cases"] if shown.step.button]
    assert urls == [case_page(case_of(coral)).step.url for coral in corals]


def test_one_case_says_all_itself(as_user, owner, browned):
    page = as_user(owner).get(reverse("outcome_list", args=[browned.tank_id]))
    (shown,) = page.context["cases"]
    assert not page.context["once"] and shown.sentence and shown.step.words


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_check_readings_are_for_those_who_may_write(request, as_user, browned, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.post(case_url(browned, "coral_case_check")).status_code == status
    assert Survey.objects.count() == 1


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_check_readings_begin_at_its_spot_and_where_one_was_read(request, as_user, browned, who):
    answer = as_user(request.getfixturevalue(who)).post(case_url(browned, "coral_case_check"))
    survey = Survey.objects.newest_first().first()
    assert answer["Location"] == reverse("survey_enter", args=[survey.pk])
    places = [(p.x_cm, p.y_cm, p.depth_cm) for p in survey.planned_points.order_by("number")]
    assert places == [(12, 12, 45), (12, 12, 40)]


def test_check_readings_without_a_survey_start_one(as_user, owner, tank):
    answer = as_user(owner).post(case_url(make_coral(tank), "coral_case_check"))
    assert answer["Location"] == reverse("survey_new", args=[tank.pk])


def test_case_says_what_happened_and_what_to_do(as_user, owner, browned):
    page = as_user(owner).get(case_url(browned))
    text, shown = text_of(page), page.context["shown"]
    assert shown.case.judgement.finding is Finding.CHANGED
    assert shown.sentence in text and "dimmer" in shown.sentence and "moved" in shown.sentence
    assert f"{reverse('place_coral', args=[browned.tank_id])}?coral={browned.pk}" in text
    assert "p-value" not in text


@pytest.mark.parametrize("others", [0, 1])
def test_a_trial_is_offered_where_there_is_a_coral_to_compare(as_user, owner, browned, others):
    browned.tank.corals.exclude(pk=browned.pk).delete()
    for _ in range(others):
        make_coral(browned.tank, name="Another")
    text = text_of(as_user(owner).get(case_url(browned)))
    trial = f"{reverse('trial_new', args=[browned.tank_id])}?question=more&amp;coral={browned.pk}"
    assert (trial in text) == bool(others)


def test_viewer_reads_the_step_without_a_button(as_user, viewer, browned):
    page = as_user(viewer).get(case_url(browned))
    text, step = text_of(page), page.context["shown"].step
    assert step.key == NextStep.MOVE and step.words in text and "?coral=" not in text


def test_coral_without_trouble_has_no_case(as_user, owner, lit):
    coral = make_coral(lit)
    assert case_of(coral) is None
    page = as_user(owner).get(case_url(coral))
    assert page.context["shown"] is None
    assert reverse("note_new", args=[coral.pk]) in page.content.decode()


def test_every_page_of_an_unwell_coral_leads_to_its_case(as_user, owner, browned):
    client, link = as_user(owner), f'href="{case_url(browned)}"'
    tank_pk = browned.tank_id
    for name, pk in (
        ("coral_detail", browned.pk),
        ("coral_list", tank_pk),
        ("tank_detail", tank_pk),
        ("outcome_list", tank_pk),
    ):
        assert link in client.get(reverse(name, args=[pk])).content.decode(), name
    make_note(browned, seen="well")
    # What is over warns nobody.
    assert (
        'id="case"' not in client.get(reverse("coral_detail", args=[browned.pk])).content.decode()
    )


def test_cases_come_first_and_the_worst_of_them(as_user, owner, browned):
    tank = browned.tank
    make_note(make_coral(tank, name="Old one"), noted_on=date_ago(tank, 90))
    make_note(make_coral(tank, name="Dying"), noted_on=date_ago(tank, 3), seen="tissue_loss")
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk])).content.decode()
    names = re.findall(r'<h2><a href="/corals/\d+/case/">([^<]*)<', page)
    assert names == ["Dying", "Cream staghorn", "Old one"]
    assert page.index("Old one") < page.index('<details class="statistics"')


def test_gathered_light_is_that_of_its_own_spot(browned):
    case = case_of(browned)
    shift = case.facts.light.shift
    assert (shift.kind, shift.on) == ("moved", date_ago(browned.tank, 40))
    assert shift.way == "fell" and case.facts.light.place == "below"
    # Weeks later it has half got used to it; the change counts as it was.
    assert shift.ratio < 0.6 * case.exposure.ratio


def test_lamp_turned_up_is_named(lit):
    make_light_change(lit, happened_at=days_ago(30), factor=1.6, summary="Turned up")
    coral = make_coral(lit, at_cm=(30, 30, 40))
    make_note(coral, noted_on=date_ago(lit, 9))
    shift = case_of(coral).facts.light.shift
    assert shift.kind == "light" and shift.ratio == pytest.approx(1.6, rel=0.05)


def test_light_given_back_since_is_seen(browned):
    today = browned.tank.today()
    Spot.objects.create(coral=browned, x_cm=30, y_cm=30, depth_cm=20, since=today)
    assert case_of(browned).judgement.step is NextStep.WAIT


def test_readings_that_say_otherwise_give_it_no_light(browned):
    noted, tank = case_of(browned), browned.tank
    first = tank.surveys.get()
    # Since long before, a third more than the first survey said.
    readings = [(r.x_cm, r.y_cm, r.depth_cm, 1.35 * r.par_umol) for r in first.readings.all()]
    make_survey(tank, taken_at=days_ago(1), readings=readings)
    make_survey(tank, taken_at=days_ago(0), readings=readings)
    seen = case_of(browned)
    assert seen.light_now.par_umol > 1.2 * noted.light_now.par_umol
    assert seen.facts.light.since == 1.0 and not seen.facts.is_mended


@pytest.mark.parametrize(
    ("value", "unit", "is_heat"),
    [
        (28.1, "°C", True),
        (28.0, "°C", False),
        (82.5, "°F", True),
        (22.9, "C", True),
        (23.0, "C", False),
        (29.0, "percent", False),
    ],
)
def test_temperature_out_of_the_usual_counts(browned, value, unit, is_heat):
    what = {"kind": "temperature", "value": value, "unit": unit, "could_hurt": False}
    make_water_event(browned.tank, happened_at=days_ago(25), **what)
    assert bool(case_of(browned).facts.out_of_range) == is_heat


@pytest.mark.parametrize(("days", "counts"), [(18, False), (19, True), (33, True), (34, False)])
def test_water_counts_in_the_two_weeks_before(browned, days, counts):
    happened = days_ago(days)
    make_water_event(browned.tank, happened_at=happened, kind="alkalinity", value=14, unit="dKH")
    assert bool(case_of(browned).facts.out_of_range) == counts


def test_value_furthest_out_of_range_is_named_and_asked_for(as_user, owner, browned):
    for kind, value, unit in (("temperature", 28.2, "°C"), ("alkalinity", 16, "dKH")):
        make_water_event(
            browned.tank, happened_at=days_ago(25), kind=kind, value=value, unit=unit,
            could_hurt=False, text="",
        )  # fmt: skip
    assert case_of(browned).facts.out_of_range.words == "alkalinity 16 dKH"
    text = text_of(as_user(owner).get(case_url(browned)))
    assert f"{reverse('water_event_new', args=[browned.tank_id])}?kind=alkalinity" in text
    form = as_user(owner).get(
        reverse("water_event_new", args=[browned.tank_id]) + "?kind=alkalinity"
    )
    assert form.context["form"].instance.kind == "alkalinity"


def test_others_in_the_same_light_are_counted_by_kind(browned):
    tank = browned.tank
    for name, group, seen in (
        ("Kin well", "sps", "well"),
        ("Kin brown", "sps", "browning"),
        ("Other well", "lps", "growth"),
    ):
        make_note(
            make_coral(tank, name=name, group=group, at_cm=(13, 12, 45)),
            noted_on=date_ago(tank, 15),
            seen=seen,
        )
    far = make_coral(tank, name="In bright light", at_cm=(30, 30, 6))
    make_note(far, noted_on=date_ago(tank, 15), seen="well")
    others = case_of(browned).facts.others
    assert (others.kin_well, others.kin_same, others.near_well, others.near_same) == (1, 1, 1, 0)
    assert (others.turned, others.living) == (2, 5)


def test_coral_that_was_unwell_before_did_not_turn_with_it(browned):
    tank, other = browned.tank, make_coral(browned.tank, name="Long unwell")
    for days in (45, 15):
        make_note(other, noted_on=date_ago(tank, days), seen="polyps_in")
    assert case_of(browned).facts.others.turned == 1


def test_trouble_ends_with_a_note_that_it_looks_well(browned):
    make_note(browned, noted_on=date_ago(browned.tank, 15), seen="well")
    trouble = case_of(browned).trouble
    assert len(trouble.notes) == 1 and trouble.first_on == date_ago(browned.tank, 12)


@pytest.mark.parametrize(
    ("condition", "seen", "is_better"),
    [(4, "colour_gain", True), (3, "colour_gain", False), (4, "paling", False), (4, "well", False)],
)
def test_trouble_ends_where_a_coral_is_on_the_mend(browned, condition, seen, is_better):
    make_note(browned, noted_on=date_ago(browned.tank, 2), condition=condition, seen=seen)
    case = case_of(browned)
    assert (case.judgement.finding is Finding.RECOVERED) == is_better


def test_a_case_that_is_over_is_still_found(as_user, owner, browned):
    client, tank = as_user(owner), browned.tank
    pages = (reverse("outcome_list", args=[tank.pk]), reverse("coral_detail", args=[browned.pk]))
    assert client.get(pages[0]).context["mended"] == []
    make_note(browned, noted_on=date_ago(tank, 2), seen="well")
    ((coral, trouble),) = client.get(pages[0]).context["mended"]
    assert coral == browned and trouble.well_on == date_ago(tank, 2)
    for page in pages:
        assert case_url(browned) in client.get(page).content.decode()


def test_a_coral_that_got_better_is_said_to_be_once_and_first(as_user, owner, browned):
    make_note(browned, noted_on=date_ago(browned.tank, 2), seen="well")
    page = as_user(owner).get(case_url(browned))
    text, shown = text_of(page), page.context["shown"]
    assert not shown.seen and text.count(shown.sentence) == 1
    assert text.index(shown.sentence) < text.index(capfirst(shown.seen_when))


def test_a_tank_without_trouble_shows_when_each_coral_was_last_noted(as_user, owner, viewer, tank):
    for days, name in ((3, "Lately"), (40, "Long ago"), (9, "Between")):
        make_note(make_coral(tank, name=name), noted_on=date_ago(tank, days), seen="well")
    never = make_coral(tank, name="Never noted")
    make_note(make_coral(tank, name="Gone", gone_on=tank.today()), noted_on=date_ago(tank, 5))
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk]))
    calm, main = page.context["calm"], page.content.decode().split("<main", 1)[1]
    assert [(row.coral.name, row.days) for row in calm.rows] == [
        ("Long ago", 40), ("Between", 9), ("Lately", 3)
    ]  # fmt: skip
    assert calm.never == (never,) and "3 of 4" in calm.words and calm.words in main
    assert main.count(reverse("coral_round", args=[tank.pk])) == 1
    seen = as_user(viewer).get(reverse("outcome_list", args=[tank.pk])).content.decode()
    assert reverse("coral_round", args=[tank.pk]) not in seen.split("<main", 1)[1]


def test_lines_of_last_notes_reach_back_to_the_longest_ago(as_user, owner, tank):
    coral = make_coral(tank)
    make_note(coral, noted_on=date_ago(tank, 100), seen="browning")
    make_note(coral, noted_on=date_ago(tank, 60), seen="well")
    calm = as_user(owner).get(reverse("outcome_list", args=[tank.pk])).context["calm"]
    assert calm.since == date_ago(tank, 91) and not calm.shows_trouble
    make_note(coral, noted_on=date_ago(tank, 70), seen="browning")
    calm = as_user(owner).get(reverse("outcome_list", args=[tank.pk])).context["calm"]
    ((first, last),) = [row.dots for row in calm.rows]
    assert first.is_unwell and not last.is_unwell and first.percent < last.percent < 50


@pytest.mark.parametrize("days", [3, 360])
def test_the_beginning_of_the_lines_names_a_year_that_is_not_this_one(as_user, owner, tank, days):
    make_note(make_coral(tank), noted_on=date_ago(tank, days), seen="well")
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk]))
    since, this_year = page.context["calm"].since, tank.today().year
    ends = page.content.decode().split('class="last-noted__ends"', 1)[1].split("</span>", 1)[0]
    assert (str(since.year) in ends) == (since.year != this_year)


@pytest.mark.parametrize(
    ("conditions", "words"),
    [
        ([5, 5, 5], "all 3 looked well"),
        ([5, 5, 4], "2 of 3 looked well, 1 a little off"),
        ([4, 4, 4], "all 3 looked a little off"),
        ([4, 4, None], "2 of 3 looked a little off, 1 never noted"),
        ([5], "it looked well"),
        ([4], "it looked a little off"),
        ([None], "this coral looks"),
        ([None, None], "these corals look"),
    ],
)
def test_calm_words_count_only_what_there_is(tank, conditions, words):
    for condition in conditions:
        coral = make_coral(tank)
        if condition:
            make_note(coral, noted_on=tank.today(), seen="growth", condition=condition)
    corals = tank.corals.prefetch_related("notes")
    assert re.search(rf"(^|[: ]){words}\.", calm_of(corals, timezone.localtime()).words)


@pytest.mark.parametrize("has_coral", [True, False])
def test_a_tank_nobody_noted_yet_offers_the_first_step(as_user, owner, tank, has_coral):
    if has_coral:
        make_coral(tank)
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk])).content.decode()
    step = reverse("coral_round" if has_coral else "coral_new", args=[tank.pk])
    assert page.split("<main", 1)[1].count(step) == 1


def test_all_that_are_better_again_are_listed(as_user, owner, tank):
    corals = [make_coral(tank, name=f"Coral {n}") for n in range(9)]
    for coral in corals:
        make_note(coral, noted_on=date_ago(tank, 9), seen="browning", strength=3)
        make_note(coral, noted_on=date_ago(tank, 2), seen="well")
    page = as_user(owner).get(reverse("outcome_list", args=[tank.pk]))
    assert {coral.pk for coral, _ in page.context["mended"]} == {coral.pk for coral in corals}


def test_two_notes_of_one_day_name_it_once(as_user, owner, lit):
    coral = make_coral(lit)
    for _ in range(2):
        make_note(coral, noted_on=date_ago(lit, 3))
    text = text_of(as_user(owner).get(case_url(coral)))
    assert (
        f"2 notes, {date_ago(lit, 3):%-d %b}" in text
        and " to " not in text.split("2 notes")[1][:30]
    )


def test_condition_alone_is_named_by_its_word(browned):
    make_note(browned, noted_on=date_ago(browned.tank, 2), condition=3, seen="growth")
    assert case_of(browned).trouble.seen == "“poor”"


def test_tissue_loss_in_any_of_its_notes_counts(browned):
    make_note(browned, noted_on=date_ago(browned.tank, 15), seen="tissue_loss")
    assert case_of(browned).judgement.finding is Finding.TISSUE_LOSS


def test_spot_in_rock_leads_to_the_spot(lit):
    coral = make_coral(lit, at_cm=(30, 30, 40))
    make_rock(lit)
    make_note(coral, noted_on=date_ago(lit, 3))
    case = case_of(coral)
    assert case.facts.unknown == "in_rock" and case.judgement.step is NextStep.MEND_SPOT


def test_acclimation_under_way_is_followed(as_user, owner, browned):
    plan = make_acclimation(browned)
    assert case_of(browned).judgement.step is NextStep.FOLLOW
    text = text_of(as_user(owner).get(case_url(browned)))
    assert reverse("acclimation_detail", args=[plan.pk]) in text


def test_tank_without_any_light_still_has_cases(as_user, owner, tank):
    coral = make_coral(tank)
    make_note(coral, seen="tissue_loss")
    assert "losing tissue" in text_of(as_user(owner).get(case_url(coral)))
    page = text_of(as_user(owner).get(reverse("outcome_list", args=[tank.pk])))
    assert "losing tissue" in page and reverse("trial_list", args=[tank.pk]) in page


def test_light_that_nobody_measured_is_said_to_be_so(as_user, owner, tank):
    change = make_light_change(tank, happened_at=days_ago(60), factor=1)
    hang(change, make_fixture(owner, ppf_umol_s=20))
    coral = make_coral(tank, at_cm=(5, 5, 45))
    make_note(coral, noted_on=date_ago(tank, 5), seen="browning")
    case = case_of(coral)
    assert case.facts.light.measured is False and case.judgement.step is NextStep.READ
    text = text_of(as_user(owner).get(case_url(coral)))
    assert "output alone" in text and "not measured" in text


def test_deleted_note_makes_no_case(browned):
    for note in browned.notes.all():
        note.remove()
    assert case_of(browned) is None


@pytest.mark.parametrize(
    ("ratio", "words"),
    [
        (1.0, "as much as usual"),
        (1.04, "as much as usual"),
        (1.06, "6\u00a0% more"),
        (0.7, "30\u00a0% less"),
        (1.94, "94\u00a0% more"),
        (1.96, "2.0 times as much"),
    ],
)
def test_light_is_told_against_the_usual(ratio, words):
    assert Usual(ratio, 0.5, 2.5, None).words == words


def test_trial_is_planned_from_a_case_with_its_coral_chosen(as_user, owner, browned):
    url = f"{reverse('trial_new', args=[browned.tank_id])}?question=more&coral={browned.pk}"
    form = as_user(owner).get(url).context["form"]
    assert form.initial["question"] == "more" and form.initial["corals"] == [str(browned.pk)]


def test_viewer_is_offered_no_trial(as_user, viewer, browned):
    text = text_of(as_user(viewer).get(case_url(browned)))
    assert reverse("trial_new", args=[browned.tank_id]) not in text


def test_number_of_queries_does_not_grow_with_cases(as_user, owner, browned):
    client, url = as_user(owner), reverse("outcome_list", args=[browned.tank_id])

    def queries():
        with CaptureQueriesContext(connection) as captured:
            assert client.get(url).status_code == 200
        return len(captured)

    queries()
    few = queries()
    for k in range(6):
        coral = make_coral(browned.tank, name=f"Coral {k}", at_cm=(10 + 5 * k, 20, 20))
        make_note(coral, noted_on=date_ago(browned.tank, 5 + k))
    assert queries() <= few + 1


def shown_words(page):
    """Return the words of a page's main part that no fold hides."""
    main = page.split("<main", 1)[1].split("</main>")[0].split(">", 1)[1]
    main = re.sub(r"<details.*?</summary>.*?</details>", " ", main, flags=re.DOTALL)
    main = re.sub(r'<(script|span class="out-of-sight").*?</(script|span)>', " ", main, flags=re.S)
    return re.sub("<[^>]*>", " ", main).split()


def test_case_is_short(as_user, owner, browned):
    client = as_user(owner)
    page = client.get(case_url(browned)).content.decode()
    proof = client.get(case_url(browned, "coral_case_proof"), headers={"HX-Request": "true"})
    words = len(shown_words(page)) + len(re.sub("<[^>]*>", " ", proof.content.decode()).split())
    assert words <= 150


def test_proof_says_what_the_notes_can_show_without_figures(as_user, owner, browned):
    text = text_of(as_user(owner).get(case_url(browned, "coral_case_proof")))
    assert 'data-state="sure-0"' in text and "1 note" in text and "1 coral" in text
    assert "p-value" not in text


def test_sign_that_is_not_weighed_says_so(as_user, owner, lit):
    coral = make_coral(lit)
    make_note(coral, seen="polyps_in")
    text = text_of(as_user(owner).get(case_url(coral, "coral_case_proof")))
    assert 'data-state="unknown"' in text and reverse("outcome_weighing", args=[lit.pk]) not in text

"""A tank's report: the answer first, what it shows of many corals and events, what it counts."""

import re

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.outcomes.association.event_list import REPORT_EVENTS
from apps.outcomes.report.unhappy import CASES_MAX, NAMED_MAX
from apps.outcomes.report.views import CORALS_DRAWN
from tests.factories import make_coral, make_lit_survey, make_note
from tests.outcomes.crowd import MANY, date_ago


def report(client, tank):
    return client.get(reverse("outcome_report", args=[tank.pk]))


def test_report_bears_its_title_once_and_prints_no_link_alone(as_user, owner, crowded):
    page = as_user(owner).get(reverse("outcome_report", args=[crowded.pk])).content.decode()
    heads = re.findall(r"<h[1-6][^>]*>\s*(?:<a[^>]*>)?\s*([^<]*)", page)
    assert sum(heads[0].strip() in head for head in heads) == 1
    left_out = page.split('id="left-out"')[1]
    csv_url = reverse("outcome_export", args=[crowded.pk])
    assert re.search(rf'<div class="no-print">\s*<a\s+href="{csv_url}', left_out)


def test_report_tells_a_few_events_and_says_what_is_left_out(as_user, owner, crowded):
    old = make_coral(crowded, name="Old", since=date_ago(crowded, 450))
    make_note(old, noted_on=date_ago(crowded, 420))
    answer = as_user(owner).get(reverse("outcome_report", args=[crowded.pk]))
    assert len(answer.context["shown"]) == REPORT_EVENTS
    assert answer.context["left_out"] == MANY - REPORT_EVENTS and answer.context["outside"] == 1
    text = answer.content.decode()
    for name in ("outcome_export", "outcome_export_corals"):
        assert reverse(name, args=[crowded.pk]) in text.split('id="left-out"')[1]


def test_report_does_not_grow_with_events(as_user, owner, crowded):
    def words():
        text = as_user(owner).get(reverse("outcome_report", args=[crowded.pk])).content.decode()
        return len(re.sub("<[^>]*>", " ", text.split("<main", 1)[1]).split())

    few = words()
    for coral in list(crowded.corals.all()):
        for k in range(3):
            make_note(coral, noted_on=date_ago(crowded, 200 + 60 * k), seen="browning")
    assert words() < 1.6 * few and few < 5000


def test_answer_comes_before_the_map_and_the_map_before_corals(as_user, owner, crowded):
    page = report(as_user(owner), crowded).content.decode()
    places = [page.index(f'id="{name}"') for name in ("light-today", "unhappy", "each-event")]
    assert page.index('class="answer__short"') < places[0] and places == sorted(places)


def test_corals_beyond_those_given_are_named_or_counted(as_user, owner, crowded):
    unhappy = report(as_user(owner), crowded).context["unhappy"]
    assert len(unhappy.corals) == CASES_MAX and len(unhappy.named) == NAMED_MAX
    assert unhappy.unnamed == MANY - CASES_MAX - NAMED_MAX and unhappy.number == MANY


def test_corals_given_bear_their_numbers_on_the_map(as_user, owner, crowded):
    context = report(as_user(owner), crowded).context
    members = [one for _, members in context["groups"] for one in members]
    assert [number for number, _ in members] == [1, 2, 3, 4]
    pins = [light.pin.name for light in context["map"].drawn.pin_lights]
    assert pins == [shown.case.coral.name for _, shown in members]


def test_cases_of_one_cause_and_step_stand_together(as_user, owner, tank):
    for name in ("One", "Two"):
        make_note(make_coral(tank, name=name), seen="tissue_loss")
    make_note(make_coral(tank, name="Three"), seen="paling")
    groups = report(as_user(owner), tank).context["unhappy"].groups
    names = [[page.case.coral.name for page in group.pages] for group in groups]
    assert names == [["One", "Two"], ["Three"]]


def test_coral_without_a_spot_bears_no_number(as_user, owner, tank):
    make_lit_survey(tank)
    make_note(make_coral(tank, name="Nowhere", at_cm=None), seen="bleaching")
    make_note(make_coral(tank, name="Somewhere"), noted_on=date_ago(tank, 2))
    context = report(as_user(owner), tank).context
    members = [one for _, members in context["groups"] for one in members]
    numbers = {shown.case.coral.name: number for number, shown in members}
    assert numbers == {"Nowhere": None, "Somewhere": 1}


def test_strip_of_the_report_says_how_many_corals_it_leaves_out(as_user, owner, crowded):
    for k in range(8):
        make_coral(crowded, name=f"Well {k}", at_cm=(30, 30, 5 + k), since=date_ago(crowded, 480))
    (answer,) = report(as_user(owner), crowded).context["answers"]
    assert len(answer.strip.rows) == CORALS_DRAWN
    assert answer.strip.left_out == MANY + 8 - CORALS_DRAWN


def test_tank_without_events_still_reports_map_and_corals(as_user, owner, tank):
    make_lit_survey(tank)
    make_note(make_coral(tank), seen="tissue_loss")
    page = report(as_user(owner), tank).content.decode()
    assert 'id="light-today"' in page and 'id="unhappy"' in page and 'id="evidence"' not in page


def test_new_tank_has_a_report(as_user, owner, tank):
    assert report(as_user(owner), tank).context["map"] is None


def test_queries_do_not_grow_with_corals(as_user, owner, tank):
    make_lit_survey(tank)
    client, counts = as_user(owner), []
    for k in range(5):
        make_note(make_coral(tank, name=f"Coral {k}", at_cm=(10 + 5 * k, 20, 20)))
        with CaptureQueriesContext(connection) as queries:
            report(client, tank)
        counts.append(len(queries))
    assert len(set(counts)) == 1

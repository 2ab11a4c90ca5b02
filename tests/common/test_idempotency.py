"""A form that makes a row makes it once, however often it is sent."""

import datetime as dt
import re
import threading

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from django.db import connection
from django.test import Client
from django.urls import resolve, reverse
from django.utils import timezone

from apps.common.idempotency import ANOTHER_ENTRY, SENT_TWICE, new_mark
from apps.common.models import SentForm
from apps.corals.models import WaterEvent
from apps.lighting.models import DayCurve, LightChange
from apps.outcomes.models import Trial
from apps.planning.models import Acclimation, Plan
from apps.surveys.models import LoggedSeries, Survey
from tests.factories import make_coral, make_day_curve, make_lit_survey, make_tank
from tests.lighting.change.test_light_log import FORM as LIGHT_CHANGE
from tests.lightmap.channels.test_logger import FORM as LOG
from tests.lightmap.channels.test_logger import day_text
from tests.outcomes.trial.test_trials import form_data as trial_data
from tests.planning.acclimation.test_acclimation_views import typed as acclimation_data
from tests.planning.questions import make_layout_plan
from tests.surveys.survey.test_survey_views import HEAD as SURVEY
from tests.test_every_address import ALL, Rows

WATER = {
    "kind": "temperature", "value": "25", "unit": "°C", "could_hurt": "False",
    "happened_at": "2026-03-01T12:00",
}  # fmt: skip
WORD, UUID = re.compile(r"<(\w+):(\w+)>"), "00000000-0000-0000-0000-000000000000"
# A comment sent twice stands once by its words; no note of a form at a secret address is kept.
TOLD_APART_BY_CONTENT = {"shared_comment_new"}
# What an answer shows once, a secret address, must come anew when it is asked for again.
SHOWN_ONCE = {
    "share_link_new", "plan_link_new", "calendar_link_new", "photo_link_new", "club_link_new",
}  # fmt: skip


def mark_on(client, url):
    """Return the mark a page gives its form."""
    result = re.findall(
        r'name="form_mark" value="([0-9a-f]{32})"', client.get(url).content.decode()
    )
    assert result, url
    return result[0]


def water(tank):
    return reverse("water_event_new", args=[tank.pk])


def said(client, answer):
    return client.get(answer["Location"]).content.decode()


def test_sent_twice_is_entered_once_and_led_to_the_same_page(as_user, owner, tank):
    client = as_user(owner)
    data = WATER | {"form_mark": mark_on(client, water(tank))}
    first, again = (client.post(water(tank), data) for _ in range(2))
    assert WaterEvent.objects.count() == 1 and first["Location"] == again["Location"]
    assert SENT_TWICE in said(client, again)


def test_page_asked_for_anew_makes_another_entry_of_the_same(as_user, owner, tank):
    client = as_user(owner)
    for _ in range(2):
        client.post(water(tank), WATER | {"form_mark": mark_on(client, water(tank))})
    assert WaterEvent.objects.count() == 2


def test_other_content_from_the_same_page_is_another_entry_and_both_are_told(as_user, owner, tank):
    client = as_user(owner)
    data = WATER | {"form_mark": mark_on(client, water(tank))}
    assert ANOTHER_ENTRY not in said(client, client.post(water(tank), data))
    later = client.post(water(tank), data | {"value": "26"})
    assert sorted(e.value for e in WaterEvent.objects.all()) == [25, 26]
    assert ANOTHER_ENTRY in said(client, later)


def test_refused_form_keeps_its_mark_and_counts_once_it_is_right(as_user, owner, tank):
    client, mark = as_user(owner), new_mark()
    wrong = client.post(water(tank), WATER | {"value": "much", "form_mark": mark})
    assert wrong.status_code == 422 and mark in wrong.content.decode()
    for _ in range(2):
        answer = client.post(water(tank), WATER | {"form_mark": mark})
    assert answer.status_code in (302, 303) and WaterEvent.objects.count() == 1


def test_what_failed_half_way_leaves_nothing_and_may_come_again(as_user, owner, tank, monkeypatch):
    client, data = as_user(owner), WATER | {"form_mark": new_mark()}
    client.raise_request_exception = False
    with monkeypatch.context() as broken:
        broken.setattr("apps.corals.water.views.offer_undo", lambda *_: 1 / 0)
        assert client.post(water(tank), data).status_code == 500
    assert not WaterEvent.objects.exists() and not SentForm.objects.exists()
    client.post(water(tank), data)
    assert WaterEvent.objects.count() == 1


def test_a_mark_counts_for_its_keeper_alone(as_user, owner, co_keeper, tank):
    data = WATER | {"form_mark": new_mark()}
    for user in (owner, co_keeper):
        as_user(user).post(water(tank), data)
    assert WaterEvent.objects.count() == 2


@pytest.mark.parametrize("mark", ["", "x" * 32, "a" * 31])
def test_form_without_a_sound_mark_is_taken_as_often_as_it_comes(as_user, owner, tank, mark):
    for _ in range(2):
        as_user(owner).post(water(tank), WATER | {"form_mark": mark})
    assert WaterEvent.objects.count() == 2 and not SentForm.objects.exists()


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_refused_visitor_leaves_no_trace(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.post(water(tank), WATER | {"form_mark": new_mark()}).status_code == status
    assert not SentForm.objects.exists()


def test_old_marks_are_forgotten(as_user, owner, tank):
    client = as_user(owner)
    client.post(water(tank), WATER | {"form_mark": new_mark()})
    SentForm.objects.update(sent_at=timezone.now() - dt.timedelta(days=32))
    client.post(water(tank), WATER | {"form_mark": new_mark()})
    assert SentForm.objects.count() == 1


def twice(client, name, pk, data, **more):
    """Send a page's form twice, and return where both answers lead to."""
    url = reverse(name, args=[pk])
    data = data | {"form_mark": mark_on(client, url)}
    answers = [client.post(url, data, **more) for _ in range(2)]
    (led_to,) = {answer.get("HX-Redirect") or answer["Location"] for answer in answers}
    return led_to


def test_trial_is_begun_once(as_user, owner, tank):
    make_coral(tank, name="One to compare with")
    twice(as_user(owner), "trial_new", tank.pk, trial_data(make_coral(tank)))
    assert Trial.objects.count() == 1


def test_acclimation_is_made_once_and_looking_does_not_count(as_user, owner, tank):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    coral, client = make_coral(tank), as_user(owner)
    starts = acclimation_data(starts_on=tank.today().isoformat())
    url, mark = reverse("acclimation_new", args=[coral.pk]), new_mark()
    looked = client.post(url, starts | {"look": "1", "form_mark": mark})
    assert mark in looked.content.decode() and not SentForm.objects.exists()
    twice(client, "acclimation_new", coral.pk, starts)
    assert Acclimation.objects.count() == 1


def test_light_change_is_entered_once(as_user, owner, tank):
    twice(as_user(owner), "light_change_new", tank.pk, LIGHT_CHANGE)
    assert LightChange.objects.count() == 1


def test_logger_file_is_kept_once_and_another_file_besides(as_user, owner, tank):
    client = as_user(owner)
    url = reverse("log_new", args=[tank.pk])
    mark = mark_on(client, url)
    for day in ("2026-03-01", "2026-03-01", "2026-03-02"):
        file = SimpleUploadedFile("log.csv", day_text(day).encode())
        client.post(url, LOG | {"file": file, "form_mark": mark})
    assert LoggedSeries.objects.count() == 2


def test_htmx_is_led_on_in_its_own_way(as_user, owner, tank):
    headers = {"HX-Request": "true"}
    led_to = twice(as_user(owner), "survey_new", tank.pk, SURVEY, headers=headers)
    assert led_to == reverse("survey_plan", args=[Survey.objects.get().pk])


def test_buttons_that_copy_do_so_once(as_user, owner, tank):
    client, day, plan = as_user(owner), make_day_curve(tank), make_layout_plan(owner, tank)
    for name, pk in (("day_curve_copy", day.pk), ("plan_duplicate", plan.pk)):
        mark = {"form_mark": new_mark()}
        answers = [client.post(reverse(name, args=[pk]), mark) for _ in range(2)]
        assert answers[0]["Location"] == answers[1]["Location"]
    assert DayCurve.objects.count() == 2 and Plan.objects.count() == 2


def makes_once(name):
    words = {word: UUID if kind == "uuid" else 1 for kind, word in WORD.findall(ALL[name])}
    return getattr(resolve(reverse(name, kwargs=words)).func, "makes_once", False)


def test_every_new_form_is_taken_once():
    new = {name for name in ALL if name.endswith("_new")}
    assert new >= SHOWN_ONCE
    left_out = SHOWN_ONCE | TOLD_APART_BY_CONTENT
    assert [name for name in sorted(new - left_out) if not makes_once(name)] == []


@pytest.mark.parametrize("name", sorted(n for n in ALL if n.endswith("_new") or "many" in n))
def test_every_page_of_such_a_form_gives_it_a_mark(as_user, owner, tank, name):
    make_lit_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    # A trial is offered where two corals can be compared.
    make_coral(tank, name="One to compare with")
    client, url = as_user(owner), Rows(tank).address(name)
    page = client.get(url)
    if page.status_code == 405:
        return
    assert 'name="form_mark"' in page.content.decode()


@pytest.mark.parametrize(
    ("name", "address"),
    [("day_curve_detail", "day_curve_copy"), ("what_if", "what_if_save")],
)
def test_page_of_a_button_gives_it_a_mark(as_user, owner, tank, name, address):
    make_lit_survey(tank)
    page = as_user(owner).get(Rows(tank).address(name)).content.decode()
    form = page.split("<form")
    sent = [part for part in form if reverse_start(address) in part]
    assert sent and all('name="form_mark"' in part for part in sent)


def reverse_start(name):
    """Return the last word of an address."""
    return ALL[name].rstrip("/").rsplit("/", 1)[-1] + '/"'


@pytest.mark.django_db(transaction=True)
def test_two_at_once_make_one():
    tank = make_tank()
    data, both, led = WATER | {"form_mark": new_mark()}, threading.Barrier(2), []

    def tap():
        client = Client()
        client.force_login(tank.owner)
        both.wait()
        led.append(client.post(water(tank), data)["Location"])
        connection.close()

    taps = [threading.Thread(target=tap) for _ in range(2)]
    for thread in taps:
        thread.start()
    for thread in taps:
        thread.join()
    assert led == [reverse("water_event_list", args=[tank.pk])] * 2
    assert WaterEvent.objects.count() == 1

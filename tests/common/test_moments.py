"""Moments typed by the clock at a tank: the hour that comes twice, the hour that never was."""

import datetime as dt
import re
from zoneinfo import ZoneInfo

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse

from apps.common.moments import LocalDateTimeField, clock_choices, moment_text
from apps.corals.models import WaterEvent
from apps.lighting.models import LightChange
from tests.factories import make_day_curve

NEW_YORK = ZoneInfo("America/New_York")
FIRST = dt.datetime(2025, 11, 2, 5, 30, 12, tzinfo=dt.UTC)
SECOND = FIRST + dt.timedelta(hours=1)
TWICE = [FIRST, SECOND]


@pytest.fixture
def there(tank):
    tank.time_zone = "America/New_York"
    tank.save()
    return tank


@pytest.fixture(params=TWICE, ids=["first", "second"])
def now(request, monkeypatch):
    monkeypatch.setattr("django.utils.timezone.now", lambda: request.param)
    return request.param


def test_every_half_hour_of_two_years_comes_back_as_shown():
    field = LocalDateTimeField(zone=NEW_YORK)
    start = dt.datetime(2025, 1, 1, tzinfo=dt.UTC)
    moments = [start + dt.timedelta(minutes=30 * n) for n in range(2 * 365 * 48)]
    cleaned = [field.clean(field.prepare_value(m)).timestamp() for m in moments]
    assert cleaned == [m.timestamp() for m in moments]


def test_doubled_hour_is_told_apart_by_its_clocks():
    choices = clock_choices("2025-11-02T01:30", NEW_YORK)
    assert [(value, label[:3]) for value, label in choices] == [("-240", "EDT"), ("-300", "EST")]


def test_clock_without_a_name_is_told_by_its_number():
    choices = clock_choices("2025-04-06T01:45", ZoneInfo("Australia/Lord_Howe"))
    assert [label.split(",")[0] for _, label in choices] == ["UTC+11:00", "UTC+10:30"]


@pytest.mark.parametrize("shown", ["2025-11-02T00:59", "2025-11-02T02:00", "", "soon"])
def test_any_other_hour_has_no_choice(shown):
    assert clock_choices(shown, NEW_YORK) == []


@pytest.mark.parametrize("clock", ["", "@", "@60", "@x"])
def test_doubled_hour_without_its_clock_is_asked_about(clock):
    with pytest.raises(ValidationError, match=r"EDT .first. or EST .second."):
        LocalDateTimeField(zone=NEW_YORK).clean(f"2025-11-02T01:30{clock}")


def test_clock_left_beside_another_time_means_nothing():
    typed = LocalDateTimeField(zone=NEW_YORK).clean("2025-07-01T12:00@-300")
    assert typed == dt.datetime(2025, 7, 1, 16, 0, tzinfo=dt.UTC)


@pytest.mark.parametrize("shown", ["2025-03-09T02:00", "2025-03-09T02:59"])
def test_hour_that_never_was_is_refused(shown):
    with pytest.raises(ValidationError, match="no such time as 02:"):
        LocalDateTimeField(zone=NEW_YORK).clean(shown)


def test_text_of_a_moment_tells_its_clock_only_where_two_fit():
    assert [moment_text(m, NEW_YORK) for m in (SECOND, SECOND + dt.timedelta(hours=1))] == [
        "2025-11-02T01:30@-300",
        "2025-11-02T02:30",
    ]


def filled(page, *names):
    """Return what a page's form sends untouched, of the named fields."""
    html = page.content.decode()
    sent = {}
    for name in names:
        field = re.search(rf'<input[^>]*name="{name}"[^>]*>', html)[0]
        sent[name] = re.search(r'value="([^"]*)"', field)[1]
        if choice := re.search(rf'<select name="{name}_clock".*?</select>', html):
            sent[f"{name}_clock"] = re.search(r'value="([^"]*)" selected', choice[0])[1]
    return sent


@pytest.mark.parametrize("who", ["owner", "co_keeper"])
def test_water_entry_takes_the_time_it_filled_in(request, as_user, there, now, who):
    client = as_user(request.getfixturevalue(who))
    url = reverse("water_event_new", args=[there.pk])
    typed = {"kind": "temperature", "value": "25", "unit": "°C", "could_hurt": "False"}
    answer = client.post(url, typed | filled(client.get(url), "happened_at"))
    assert answer.status_code == 302
    assert WaterEvent.objects.get().happened_at == now


def test_day_curve_starts_at_the_time_it_filled_in(as_user, owner, there, now):
    client, row = as_user(owner), make_day_curve(there)
    page = client.get(reverse("day_curve_detail", args=[row.pk]))
    client.post(reverse("day_curve_start", args=[row.pk]), filled(page, "happened_at"))
    assert LightChange.objects.get().happened_at == now.replace(second=0)


def test_light_change_takes_the_time_it_filled_in(as_user, owner, there, now):
    client, url = as_user(owner), reverse("light_change_new", args=[there.pk])
    typed = {"reason": "cleaned", "summary": "", "factor": "1"}
    answer = client.post(url, typed | filled(client.get(url), "happened_at"))
    assert answer.status_code == 302 and LightChange.objects.get().happened_at == now


def test_survey_takes_the_time_it_filled_in(as_user, owner, there, now):
    client, url = as_user(owner), reverse("survey_new", args=[there.pk])
    typed = {"meter": "", "level_percent": "100"}
    client.post(url, typed | filled(client.get(url), "taken_at"))
    assert there.surveys.get().taken_at == now


def test_choice_stands_on_the_page_after_a_refused_entry(as_user, owner, there, now):
    client, url = as_user(owner), reverse("water_event_new", args=[there.pk])
    when = filled(client.get(url), "happened_at")
    again = client.post(url, when | {"value": "much"})
    assert again.status_code == 422 and filled(again, "happened_at") == when

"""A probe's file: hours of readings become three of a day, sent twice they add nothing."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.corals.models import WaterEvent
from apps.corals.water.importing import parse_events
from apps.corals.water.probe import HIGHEST, LOWEST, MEAN

KINDS = WaterEvent.Kind


def hourly(days, *, header="Date,Time,Temp (°C)", hours=24, value=25.0):
    """Return a file whose temperature rises by a tenth each hour of a day."""
    lines = [header]
    for day in range(days):
        on = dt.date(2026, 3, 1) + dt.timedelta(days=day)
        lines += [f"{on},{hour:02}:00,{value + day + 0.1 * hour:.1f}" for hour in range(hours)]
    return "\n".join(lines)


def kept(tank, text):
    return parse_events(text, tank=tank).thinned


def test_hours_of_a_day_become_lowest_mean_and_highest(tank):
    result = kept(tank, hourly(2))
    assert (result.days, result.unfinished, len(result.events)) == (2, 0, 6)
    by_text = {event.text: event for event in result.events[:3]}
    assert [by_text[text].value for text in (LOWEST, MEAN, HIGHEST)] == [25.0, 26.15, 27.3]
    assert by_text[HIGHEST].happened_at == dt.datetime(2026, 3, 1, 23, tzinfo=dt.UTC)
    assert {(event.kind, event.unit) for event in result.events} == {("temperature", "°C")}


@pytest.mark.parametrize(("readings", "thinned"), [(4, 0), (5, 1)])
def test_fifth_reading_of_a_day_comes_from_a_probe(tank, readings, thinned):
    lines = [f"2026-03-01 {5 * k:02}:00,25.{k}" for k in range(readings)]
    assert kept(tank, "\n".join(["time,temperature", *lines])).days == thinned


@pytest.mark.parametrize(("last", "whole"), [("17:59", 0), ("18:00", 1)])
def test_day_of_less_than_18_hours_is_not_whole(tank, last, whole):
    lines = [f"2026-03-01 {k:02}:00,25" for k in range(5)] + [f"2026-03-01 {last},25"]
    result = kept(tank, "\n".join(["time,temperature", *lines]))
    assert (result.days, result.unfinished) == (whole, 1 - whole)


@pytest.mark.parametrize(
    ("header", "line", "kind", "unit"),
    [
        ("timestamp;temp", "2026-03-01T10:00:00;25,4", KINDS.TEMPERATURE, "°C"),
        ("time,temp", "2026-03-01 10:00,77.2", KINDS.TEMPERATURE, "°F"),
        ("date,Temperature [°F]", "2026-03-01,77.2", KINDS.TEMPERATURE, "°F"),
        ("date,temp", "2026-03-01,25.4 °C", KINDS.TEMPERATURE, "°C"),
        ("date,pH", "2026-03-01,8.1", KINDS.PH, "pH"),
        ("date,salinity", "2026-03-01,1.026", KINDS.SALINITY, "SG"),
        ("date,salinity (PSU)", "2026-03-01,35", KINDS.SALINITY, "ppt"),
    ],
)
def test_heading_or_value_tells_kind_and_unit(tank, header, line, kind, unit):
    (event,) = kept(tank, f"{header}\n{line}").events
    assert (event.kind, event.unit) == (kind, unit)


def test_days_are_those_of_the_tanks_clock(tank):
    tank.time_zone = "America/Los_Angeles"
    lines = [f"2026-03-01T{hour:02}:00:00Z,25" for hour in range(24)]
    result = kept(tank, "\n".join(["timestamp,temp", *lines]))
    # Eight hours of 28 February and sixteen of 1 March: neither is whole.
    assert (result.days, result.unfinished) == (0, 2)


def test_readings_with_words_or_harm_stay_as_they_are(tank):
    lines = [f"2026-03-01 {hour:02}:00,temp,25,°C,checked,no" for hour in range(24)]
    header = "date,kind,value,unit,note,hurt"
    assert len(kept(tank, "\n".join([header, *lines])).events) == 24


@pytest.mark.parametrize(
    ("line", "problem"), [("2026-03-01,", "no value"), ("2026-03-01,warm", "not a number")]
)
def test_line_without_a_number_is_named(tank, line, problem):
    parsed = parse_events(f"date,temp\n{line}\n2026-03-02,25", tank=tank)
    assert problem in parsed.bad[0].problem and parsed.bad[0].number == 2


def send(client, tank, text):
    return client.post(
        reverse("water_event_import", args=[tank.pk]), {"text": text, "import": "1"}, follow=True
    )


def test_file_sent_twice_and_one_that_grew_add_each_day_once(as_user, owner, tank):
    client = as_user(owner)
    text = hourly(2) + "\n" + hourly(3).splitlines()[1 + 48]  # one reading of the third day
    send(client, tank, text)
    assert tank.water_events.count() == 6 + 1
    send(client, tank, text)
    assert tank.water_events.count() == 7
    send(client, tank, hourly(3))
    assert tank.water_events.count() == 10


def test_preview_says_what_is_kept_of_a_probe(as_user, owner, tank):
    text = hourly(2) + "\n" + "\n".join(hourly(3).splitlines()[49:59])
    answer = as_user(owner).post(
        reverse("water_event_import", args=[tank.pk]), {"text": text, "check": "1"}
    )
    shown = answer.context["shown"]
    assert (shown["days"], shown["unfinished"], shown["new_count"]) == (2, 1, 6)
    assert not tank.water_events.exists()


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_others_bring_no_probe(request, as_user, tank, who, status):
    answer = send(as_user(request.getfixturevalue(who)), tank, hourly(1))
    assert answer.status_code == status and not tank.water_events.exists()

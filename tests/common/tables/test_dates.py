"""Dates and clocks as people, spreadsheets, loggers and probes write them."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest

from apps.common.tables.date_order import DateOrder, date_order, is_settled, orders_that_fit
from apps.common.tables.dates import read_day, read_moment, read_unix

ZONE = ZoneInfo("Europe/Madrid")
DAY_FIRST = DateOrder.DAY_FIRST


def read(text, order=DAY_FIRST):
    return read_moment(text, order=order, zone=ZONE).replace(tzinfo=None).isoformat(" ", "minutes")


@pytest.mark.parametrize(
    "text",
    [
        "2026-03-01", "2026/3/1", "2026.03.01", "20260301", "1.3.2026", "01. 03. 2026", "1.3.26",
        "1/3/2026", "01/03/26", "1-3-2026", "01-03-26", "1 Mar 2026", "1st March 2026", "1-Mar-26",
        "Mar 1, 2026", "March 1st, 2026", "Sun 1 Mar 2026", " 2026-03-01 ",
    ],
)  # fmt: skip
def test_a_day_in_every_usual_spelling(text):
    assert read(text) == "2026-03-01 12:00"


@pytest.mark.parametrize(
    "clock",
    ["14:30", "14:30:15", "2:30 PM", "2:30pm", "02:30:15 p.m.", "14.30", "14h30", "14:30:15.250"],
)
@pytest.mark.parametrize("day", ["2026-03-01 ", "2026-03-01T", "1/3/26 ", "Mar 1, 2026, "])
def test_a_clock_behind_it(day, clock):
    assert read(day + clock) == "2026-03-01 14:30"


@pytest.mark.parametrize(("clock", "hour"), [("12:05 AM", 0), ("12:05 pm", 12), ("1 am", 1)])
def test_noon_and_midnight_of_a_12_hour_clock(clock, hour):
    assert read_moment(f"2026-03-01 {clock}", order=None, zone=ZONE).hour == hour


def test_a_spreadsheets_number_of_a_day_keeps_its_seconds():
    noon = dt.datetime(2026, 3, 1, 12, tzinfo=ZONE)
    for tens in range(13):
        moment = read_moment(f"{46082.5 + tens * 10 / 86400:.6f}", order=None, zone=ZONE)
        assert moment == noon + dt.timedelta(seconds=10 * tens)


def test_the_last_moment_of_a_day_rounds_to_the_next_days_first():
    assert read("46082,999999") == "2026-03-02 00:00"


def test_an_offset_wins_over_the_clock_of_the_tank():
    for text in ("2026-03-01T23:30:00Z", "2026-03-02 01:30+02:00", "2026-03-01 15:30 -0800"):
        moment = read_moment(text, order=None, zone=ZONE)
        assert moment == dt.datetime(2026, 3, 1, 23, 30, tzinfo=dt.UTC)
        assert read_day(text, order=None, zone=ZONE) == dt.date(2026, 3, 2)


@pytest.mark.parametrize(
    "text",
    ["", "yesterday", "2026-02-30", "2026-13-01", "31/02/2026", "1 Foo 2026", "2026-03-01 25:00",
     "2026-03-01 13:30 PM", "2026-03-01 7", "2026-03-01 noonish", "1979-12-31", "12/2026",
     "1/2/3/2026", "2026-03-01 10:00 +99:00x"],
)  # fmt: skip
def test_what_is_no_date_is_refused_with_a_sentence(text):
    with pytest.raises(ValueError, match=r"\.$"):
        read_moment(text, order=DAY_FIRST, zone=ZONE)


def test_dashes_and_short_years_join_in_the_order_of_the_table():
    assert date_order(["03-04-26", "31-12-25"]) == DAY_FIRST
    assert orders_that_fit(["03-04-26"]) == frozenset(DateOrder)
    assert is_settled(["04-04-26"]) and not is_settled(["3-4-26"])


@pytest.mark.parametrize(
    ("text", "seconds"), [("1772372400", 1772372400), ("1772372400500", 1772372400.5)]
)
def test_unix_time_in_seconds_or_milliseconds(text, seconds):
    assert read_unix(text).timestamp() == seconds


@pytest.mark.parametrize("text", ["212", "20260301", "2026-03-01", "17723724001", ""])
def test_what_is_no_unix_time(text):
    assert read_unix(text) is None

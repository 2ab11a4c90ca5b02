"""The stretch of time a coral's page shows: which is asked for, and what it leaves out."""

import datetime as dt
from zoneinfo import ZoneInfo

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.coral.stretch import stretch_within
from apps.drawing.time_axis import TimeAxis
from tests.factories import make_coral, make_light_change, make_note, make_survey, make_water_event

ZONE = ZoneInfo("Europe/Berlin")
DAY = dt.timedelta(days=1)
WHOLE = TimeAxis(dt.datetime(2025, 1, 1, tzinfo=ZONE), dt.datetime(2026, 5, 3, 15, tzinfo=ZONE))


def test_all_is_shown_unless_asked():
    stretch = stretch_within({}, WHOLE)
    assert stretch.axis == WHOLE and stretch.steps == ()
    assert [c.label for c in stretch.choices] == [
        "all",
        "1 year",
        "6 months",
        "3 months",
        "1 month",
    ]
    assert stretch.words == "1 Jan 2025 to 3 May 2026"


def test_month_ends_now_and_can_go_back_only():
    stretch = stretch_within({"days": "31"}, WHOLE)
    assert stretch.axis.end == WHOLE.end and stretch.axis.end - stretch.axis.start == 31 * DAY
    assert [s.label for s in stretch.steps] == ["earlier"]
    assert stretch.earlier.query == "?days=31&until=2026-04-18"


def test_going_back_stops_at_the_first_day():
    stretch = stretch_within({"days": "91", "until": "2020-01-01"}, WHOLE)
    assert stretch.axis.start == WHOLE.start and [s.label for s in stretch.steps] == ["later"]


def test_other_length_keeps_the_end():
    stretch = stretch_within({"days": "91", "until": "2025-09-01"}, WHOLE)
    month = next(c for c in stretch.choices if c.label == "1 month")
    assert month.query == "?days=31&until=2025-09-01"


@pytest.mark.parametrize(
    "chosen", [{"days": "x"}, {"days": "-31"}, {"days": "7"}, {"days": "1096"}, {"until": "soon"}]
)
def test_what_is_not_offered_means_all(chosen):
    assert stretch_within(chosen, WHOLE).axis == WHOLE


@pytest.mark.parametrize("until", ["", "soon", "9999-12-31", "2026-02-30"])
def test_end_that_cant_be_means_now(until):
    assert stretch_within({"days": "31", "until": until}, WHOLE).axis.end == WHOLE.end


def test_young_coral_has_nothing_to_choose():
    short = TimeAxis(WHOLE.end - 28 * DAY, WHOLE.end)
    assert stretch_within({"days": "31"}, short).choices == ()


def test_stretch_leaves_out_what_lies_outside(as_user, owner, tank):
    coral, today = make_coral(tank), tank.today()
    make_survey(tank)
    make_light_change(tank, happened_at=timezone.now() - 100 * DAY, summary="Long ago")
    make_note(coral, noted_on=today - 100 * DAY, seen="browning")
    make_note(coral, noted_on=today - 5 * DAY, seen="paling")
    make_water_event(tank, text="last week")
    url = reverse("coral_detail", args=[coral.pk])
    result = as_user(owner).get(url + "?days=31").context["timeline"]
    assert [row.kind for row in result.rows] == ["survey", "water", "note-paling"]


def test_htmx_gets_the_drawing_alone(as_user, owner, stranger, tank):
    coral = make_coral(tank)
    url = reverse("coral_detail", args=[coral.pk]) + "?days=31"
    part = as_user(owner).get(url, headers={"HX-Request": "true"}).content.decode()
    assert part.lstrip().startswith('<figure class="timeline ') and "<html" not in part
    assert as_user(stranger).get(url, headers={"HX-Request": "true"}).status_code == 404

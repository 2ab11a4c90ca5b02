"""What a plan hands on to the light log is the stored value itself: nobody's lamp moves."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.units import exact_length, parse_length_cm
from apps.lighting.change.address import light_change_address, rows_query, typed_of
from apps.lighting.change.views import NOTHING_NEW
from apps.lighting.models import HungFixture, LightChange
from apps.lightmap.lightmap import tank_light
from apps.planning.layout.hanging_answer import place_cm
from apps.planning.models import Plan
from tests.factories import hang, make_fixture, make_light_change, make_plan, make_survey
from tests.planning.what_ifs import fields_of

# Typed in cm, by a program or by an older version: none of it is what a form shows.
ODD = {
    "x_cm": 33.274, "y_cm": 29.96, "height_cm": 33.3, "level_percent": 72.3456789,
    "turn_deg": 12.34567, "loss_percent": 1.2345678,
}  # fmt: skip
CHANNELS = [{"name": name, "share_percent": 50.0, "optic": None} for name in ("Blue", "White")]
SPOT = (30, 30, 25)


@pytest.fixture(params=["cm", "in"])
def keeper(request, owner):
    owner.units = request.param
    owner.save()
    return owner


@pytest.fixture
def row(keeper, tank):
    """A lamp hung by odd numbers, its channels too, and a survey of its light."""
    panel = make_fixture(keeper, channels=CHANNELS)
    begun = make_light_change(tank, factor=1)
    hung = hang(begun, panel, channel_levels={"Blue": 33.33333333}, **ODD)
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=5))
    return hung


def settings_of(row):
    return {name: getattr(row, name) for name in HungFixture.SETTINGS}


def log_it(client, tank, address):
    """Open the light log by an address, save what it shows; return the entry."""
    fields = fields_of(client.get(address))
    said = {"reason": fields.get("reason") or "cleaned", "summary": fields["summary"] or "Wiped"}
    sent = client.post(address, fields | said)
    assert sent.status_code == 302, sent.context["form"].errors
    return LightChange.objects.order_by("-pk").first()


@pytest.mark.parametrize("cm", [33.27, 33.274, 33.3, 18.0, 0.1, 29.845, -3.3, 1 / 3])
@pytest.mark.parametrize("unit", ["cm", "in"])
def test_a_length_handed_on_reads_back_as_itself(cm, unit):
    assert parse_length_cm(exact_length(cm, unit), unit) == cm


def test_an_untouched_what_if_leaves_measured_measured(as_user, keeper, tank, row):
    client = as_user(keeper)
    address = client.get(reverse("what_if", args=[tank.pk])).context["change_url"]
    fields = fields_of(client.get(address))
    sent = client.post(address, fields)
    assert sent.status_code == 422
    assert sent.context["form"].non_field_errors() == [NOTHING_NEW]
    # What was typed stands, and nothing was entered.
    assert sent.context["form"]["summary"].value() == fields["summary"]
    assert LightChange.objects.get() == row.change
    assert tank_light(tank).at([SPOT], timezone.now())[0].predicted_since is None


@pytest.mark.parametrize("told", [{"factor": "0.9"}, {"day_hours": "9"}])
def test_an_untouched_rig_may_carry_what_else_changed(as_user, keeper, tank, row, told):
    client = as_user(keeper)
    address = client.get(reverse("what_if", args=[tank.pk])).context["change_url"]
    assert client.post(address, fields_of(client.get(address)) | told).status_code == 302
    assert not LightChange.objects.order_by("-pk").first().tells_rig


def test_a_co_keeper_is_handed_lengths_in_their_own_unit(as_user, keeper, co_keeper, tank, row):
    co_keeper.units = "in" if keeper.units == "cm" else "cm"
    co_keeper.save()
    asked = {"version": 1, "depth_cm": 20, "rows": [typed_of(row) | {"height_cm": 45.72}]}
    plan = make_plan(keeper, tank, kind=Plan.Kind.WHAT_IF, asked=asked)
    client = as_user(co_keeper)
    page = client.get(reverse("what_if_detail", args=[plan.pk]))
    assert log_it(client, tank, page.context["change_url"]).hung.get().height_cm == 45.72


def test_a_lamp_moved_in_a_what_if_keeps_its_other_numbers(as_user, keeper, tank, row):
    client = as_user(keeper)
    rows = rows_query([typed_of(row) | {"height_cm": 40.123}], keeper.units)
    page = client.get(reverse("what_if", args=[tank.pk]), rows)
    moved = log_it(client, tank, page.context["change_url"]).hung.get()
    assert settings_of(moved) == settings_of(row) | {"height_cm": 40.123}
    assert moved.told == ["height_cm"]


def test_an_untouched_form_of_the_log_moves_nothing(as_user, keeper, tank, row):
    entry = log_it(as_user(keeper), tank, reverse("light_change_new", args=[tank.pk]))
    assert not entry.tells_rig


def test_what_a_plan_adds_arrives_to_its_last_digit(as_user, keeper, tank, row):
    new = HungFixture(fixture=row.fixture, channels=row.channels, **ODD)
    address = light_change_address(
        tank.pk, [row, new], summary="One more", reason=LightChange.Reason.HUNG, unit=keeper.units
    )
    added = log_it(as_user(keeper), tank, address).hung.exclude(number=row.number).get()
    assert {name: getattr(added, name) for name in ODD} == ODD


def test_a_planned_place_is_as_it_hangs_where_they_are_the_same():
    assert place_cm(33.2701, 33.274) == 33.274
    assert place_cm(33.2851, 33.274) == 33.29
    assert place_cm(18.299999999, None) == 18.3

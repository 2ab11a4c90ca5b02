"""A channel group's share of PAR, from the channels of what hangs."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lighting.day.running import start_day_curve
from apps.lighting.group_share import group_share
from apps.lighting.history import light_history
from apps.lighting.models import DayCurve, HungFixture, Zone
from tests.factories import hang, make_day_curve, make_fixture, make_light_change
from tests.lighting.day.test_day_curves import TRAPEZOID, new_url, typed

NOW = timezone.now()
CHANNELS = [
    {"name": "Royal blue", "peak_nm": 450, "share_percent": 50},
    {"name": "Violet", "peak_nm": 420, "share_percent": 10},
    {"name": "White", "white_kelvin": 10000, "share_percent": 40},
]


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def row(**fields):
    return HungFixture(**({"channels": CHANNELS, "level_percent": 80} | fields))


def share(*rows, group="blue"):
    return group_share(rows, zone=Zone.DISPLAY, group=group)


@pytest.mark.parametrize(
    ("group", "expected"),
    [("blue", 0.5), ("Royal Blue", 0.5), ("blue + violet", 0.6), ("white, violet", 0.5)],
)
def test_group_takes_the_shares_of_the_channels_it_names(group, expected):
    assert share(row(), group=group) == pytest.approx(expected)


def test_channel_turned_down_weighs_less():
    # 0.25 of what is left of 0.25 + 0.1 + 0.4.
    assert share(row(channel_levels={"Royal blue": 50})) == pytest.approx(0.25 / 0.75)


def test_fixtures_weigh_by_their_output_and_level():
    white = [{"name": "White", "white_kelvin": 6500, "share_percent": 100}]
    rows = (
        row(ppf_umol_s=100, level_percent=100),
        row(channels=white, ppf_umol_s=300, level_percent=50),
    )
    assert share(*rows) == pytest.approx(0.5 * 100 / 250)


@pytest.mark.parametrize(
    "rows", [[], [row(channels=[])], [row(), row(channels=[])], [row(zone="refugium")]]
)
def test_nothing_is_claimed_where_channels_are_not_told(rows):
    assert share(*rows) is None


def test_name_within_a_word_is_no_match():
    assert share(row(), group="hit") is None


@pytest.fixture
def lit(tank):
    fixture = make_fixture(tank.owner, channels=CHANNELS)
    return hang(make_light_change(tank, factor=1, happened_at=days_ago(50)), fixture)


def start(tank, days, **fields):
    curve = make_day_curve(tank, **fields)
    return start_day_curve(curve=curve, happened_at=days_ago(days), created_by=tank.owner)


def shares(tank, days):
    return [r.share for r in light_history(tank).days_at(days_ago(days))]


def test_curve_without_a_share_takes_that_of_its_channels(tank, lit):
    start(tank, 9, group="blue", share_percent=None)
    start(tank, 8, group="white", share_percent=None)
    assert shares(tank, 1) == pytest.approx([0.5, 0.4])


def test_share_typed_wins(tank, lit):
    start(tank, 9, group="blue", share_percent=75)
    assert shares(tank, 1) == [0.75]


def test_light_change_moves_the_shares_and_the_day(tank, lit):
    start(tank, 9, group="blue", share_percent=None, points=[[480, 100], [1200, 100]])
    start(tank, 8, group="white", share_percent=None, points=[[600, 100], [1080, 100]])
    before = light_history(tank).schedule_at(days_ago(6)).full_hours
    assert before == pytest.approx((0.5 * 12 + 0.4 * 8) / 0.9)
    change = make_light_change(
        tank, factor=1, happened_at=days_ago(5), day_hours=None, ramp_hours=0
    )
    hang(change, lit.fixture, channel_levels={"Royal blue": 20})
    assert shares(tank, 1) == pytest.approx([0.1 / 0.6, 0.4 / 0.6])
    after = light_history(tank).schedule_at(days_ago(1)).full_hours
    assert after == pytest.approx((0.1 * 12 + 0.4 * 8) / 0.5)


def test_blank_share_is_kept_blank_where_the_channels_tell_it(as_user, owner, tank, lit):
    data = typed(TRAPEZOID, group="blue", share_percent="")
    assert as_user(owner).post(new_url(tank), data).status_code == 302
    assert DayCurve.objects.get().share_percent is None


def test_blank_share_is_asked_for_where_no_channel_tells_it(as_user, owner, tank):
    response = as_user(owner).post(new_url(tank), typed(TRAPEZOID, group="blue", share_percent=""))
    assert response.status_code == 422 and "“blue”" in str(
        response.context["form"].errors["share_percent"]
    )
    assert not DayCurve.objects.exists()


def test_blank_share_of_all_channels_is_the_whole(as_user, owner, tank):
    as_user(owner).post(new_url(tank), typed(TRAPEZOID, share_percent=""))
    assert DayCurve.objects.get().share_percent == 100

"""Hours that fixtures burn: each by the day of its own channels, through every change."""

import datetime as dt

import pytest

from apps.lighting.day.running import start_day_curve
from apps.lighting.hanging import save_light_change
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from tests.factories import hang, make_day_curve, make_fixture, make_light_change

START = dt.datetime(2026, 6, 1, tzinfo=dt.UTC)
BLUE = {"name": "Royal blue", "peak_nm": 450, "share_percent": 100}
WHITE = {"name": "White", "white_kelvin": 10000, "share_percent": 100}
MOON = [[0, 2], [1440, 2]]


def at(day, hour=0.0):
    return START + dt.timedelta(days=day, hours=hour)


def start(tank, moment, hours, **fields):
    """Start a curve that burns fully from one hour to another."""
    points = [[60 * hours[0], 100], [60 * hours[1], 100]]
    curve = make_day_curve(tank, **{"points": points} | fields)
    return start_day_curve(curve=curve, happened_at=moment, created_by=tank.owner)


def set_level(tank, moment, number, **told):
    change = LightChange(tank=tank, happened_at=moment, reason="level")
    hung = rig_in_force(tank, moment)
    for row in hung:
        row.told = list(told) if row.number == number else []
        for name in row.told:
            setattr(row, name, told[name])
    save_light_change(change=change, hung=hung)


def ages(tank, moment):
    """Return {number: hours burnt}."""
    return {number: hours for (number, _), hours in light_history(tank).ages_at(moment).items()}


@pytest.fixture
def tubes(tank, owner):
    """Blue tubes (1) from 8 to 20 h and white ones (2) from 12 to 16 h, new on 1 June."""
    change = make_light_change(
        tank, happened_at=START, factor=1, day_hours=None, ramp_hours=0, summary="Hung"
    )
    for channel in (BLUE, WHITE):
        hang(change, make_fixture(owner, kind="tube", name="Tubes", channels=[channel]))
    start(tank, START, (8, 20), group="blue", share_percent=50)
    start(tank, START, (12, 16), group="white", share_percent=50)


def test_hours_worked_by_hand_through_changes_of_curve_and_level(tank, tubes):
    start(tank, at(10, 6), (11, 17), group="white", share_percent=50)
    set_level(tank, at(20, 12), 1, level_percent=0)
    set_level(tank, at(25, 12), 1, level_percent=40)
    # Blue: 20 days of 12 h, 4 h until noon, dark until noon of the 25th, 8 h, 4 days of 12 h, and
    # 10 h. White: 10 days of 4 h, then 20 of 6 h, and the 6 h of the last.
    assert ages(tank, at(30, 18)) == pytest.approx({1: 310, 2: 166}, abs=1e-9)


def test_tubes_age_by_the_minute_of_the_day(tank, tubes):
    result = [ages(tank, at(3, hour))[1] for hour in (8, 12.5, 20, 23)]
    assert result == pytest.approx([36, 40.5, 48, 48], abs=1e-9)


def test_channel_turned_off_burns_no_hours(tank, tubes):
    set_level(tank, at(10), 1, channel_levels={"Royal blue": 0})
    assert ages(tank, at(20))[1] == pytest.approx(120)


def test_new_tubes_begin_at_nought(tank, tubes):
    LightChange.objects.create(tank=tank, happened_at=at(10), reason="tubes")
    assert ages(tank, at(20)) == pytest.approx({1: 120, 2: 40})


def test_change_dated_back_is_reckoned_with(tank, tubes):
    start(tank, at(20), (9, 10), group="blue", share_percent=50)
    start(tank, at(10), (8, 14), group="blue", share_percent=50)
    assert ages(tank, at(30))[1] == pytest.approx(10 * 12 + 10 * 6 + 10 * 1)


def test_day_of_all_channels_is_every_fixtures(tank, tubes):
    start(tank, at(10), (10, 20))
    assert ages(tank, at(20)) == pytest.approx({1: 220, 2: 140})


def test_moonlight_burns_only_the_channels_it_names(tank, tubes):
    moon = {"points": MOON, "is_moonlight": True}
    start(tank, at(10), (0, 24), name="Moon", group="moon", **moon)
    assert ages(tank, at(20)) == pytest.approx({1: 240, 2: 80})
    change = LightChange(tank=tank, happened_at=at(20), summary="Hung a moonlight")
    channel = BLUE | {"name": "Moon"}
    lamp = HungFixture(x_cm=30, y_cm=30, height_cm=20).take_facts(
        make_fixture(tank.owner, name="Moon", channels=[channel])
    )
    save_light_change(change=change, hung=[*rig_in_force(tank, at(20)), lamp])
    assert ages(tank, at(22))[3] == pytest.approx(48)


@pytest.mark.parametrize(("name", "hours"), [("Blue tubes", 120), ("Tubes", 140)])
def test_fixture_without_channels_goes_by_its_name(tank, owner, name, hours):
    change = make_light_change(
        tank, happened_at=START, factor=1, day_hours=None, ramp_hours=0, summary="Hung"
    )
    hang(change, make_fixture(owner, kind="tube", name=name))
    start(tank, START, (8, 20), group="blue", share_percent=50)
    start(tank, START, (18, 22), group="white", share_percent=50)
    # One of neither group burns while either does: 8 to 22 h.
    assert ages(tank, at(10)) == pytest.approx({1: hours})


def test_hours_follow_the_clock_of_the_tank(tank, tubes):
    tank.time_zone = "Europe/Berlin"
    tank.save()
    # Clocks go back at 3 h on 25 October: the hours of that night come twice.
    start(tank, dt.datetime(2026, 10, 24, 10, tzinfo=dt.UTC), (1, 4), group="blue",
          share_percent=50)  # fmt: skip
    before, after = (
        ages(tank, dt.datetime(2026, 10, day, 10, tzinfo=dt.UTC))[1] for day in (24, 25)
    )
    assert after - before == pytest.approx(4)


def test_changes_of_one_moment_follow_each_other(tank, tubes):
    bar = make_fixture(tank.owner, name="Bar", channels=[BLUE])
    for fixture in (None, bar):
        change = LightChange(tank=tank, happened_at=at(10), summary="Hung")
        hung = rig_in_force(tank, at(10))
        if fixture:
            hung.append(HungFixture(x_cm=9, y_cm=9, height_cm=20).take_facts(fixture))
        save_light_change(change=change, hung=hung)
    assert ages(tank, at(10)) == pytest.approx({1: 120, 2: 40, 3: 0})

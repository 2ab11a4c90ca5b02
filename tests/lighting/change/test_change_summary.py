"""What a change changed, in words; and where what is told does not go together."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lighting.change.summary import contradictions, day_difference, rig_differences
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from tests.factories import hang, make_light_change

NOW = timezone.now()


def hung(number=1, **fields):
    facts = {
        "name": "Left puck", "kind": "puck", "lit_length_cm": 8, "lit_width_cm": 8,
        "own_beam_deg": 90,
    }  # fmt: skip
    places = {"x_cm": 30, "y_cm": 30, "height_cm": 20, "level_percent": 60}
    return HungFixture(number=number, **(facts | places | fields))


def told(before, after, unit="cm"):
    return [str(one) for one in rig_differences(before, after, unit=unit)]


def test_raised_with_a_lens_and_turned_up():
    after = hung(height_cm=33, beam_deg=55, level_percent=75)
    assert told([hung()], [after]) == [
        "Left puck: 20 → 33 cm above the water, 55° lens fitted, 90° before, level 60 → 75 %"
    ]


def test_inches_for_who_reads_inches():
    assert told([hung(height_cm=20.32)], [hung(height_cm=33.02)], "in") == [
        "Left puck: 8 → 13 in above the water"
    ]


def test_all_alike_are_told_once():
    before, after = ([hung(n, level_percent=level) for n in (1, 2)] for level in (60, 75))
    assert told(before, after) == ["All 2 lamps: level 60 → 75 %"]


def test_hung_and_taken_down():
    assert told([hung(1)], [hung(2, name="Bar")]) == [
        "Bar: hung, 20 cm above the water, at 60 %",
        "Left puck: taken down",
    ]


def test_like_names_take_their_numbers():
    assert told([hung(1), hung(2)], [hung(1), hung(2, x_cm=40)]) == [
        "Left puck 2: 30 → 40 cm from the left"
    ]


def test_nothing_changed_is_nothing_told():
    assert told([hung()], [hung()]) == []


def test_day_is_told_by_what_differs(tank):
    for days, hours in ((9, 9.0), (5, 9.5)):
        make_light_change(tank, happened_at=NOW - dt.timedelta(days=days), day_hours=hours)
    history = light_history(tank)
    before, after = (history.schedule_at(NOW - dt.timedelta(days=n)) for n in (7, 1))
    assert day_difference(before, after) == "day 9 → 9.5 h"
    assert day_difference(after, after) == ""


def doubts(factor=1.0, level=60, reason="other", **fields):
    change = LightChange(factor=factor, reason=reason, tells_rig=True)
    return contradictions(change, [hung(level_percent=60)], [hung(level_percent=level, **fields)])


def test_factor_that_repeats_the_levels_is_flagged():
    (result,) = doubts(factor=0.75, level=45)
    assert "× 0.75" in result and "set it to 1" in result


def test_factor_against_the_levels_is_flagged():
    (result,) = doubts(factor=0.8, level=84)
    assert "one goes up, the other down" in result


@pytest.mark.parametrize(("factor", "level"), [(1.0, 45), (0.95, 45), (0.8, 60)])
def test_sound_entries_are_not_flagged(factor, level):
    assert doubts(factor=factor, level=level) == ()


def test_reason_no_fixture_bears_out_is_flagged():
    assert "no lamp" in doubts(reason="raised")[0]
    assert doubts(reason="raised", height_cm=33) == ()


def test_log_shows_the_doubt(as_user, owner, tank):
    hang(make_light_change(tank, factor=1), level_percent=60)
    later = make_light_change(tank, factor=0.75, happened_at=NOW - dt.timedelta(days=3))
    hang(later, HungFixture.objects.get().fixture, level_percent=45)
    page = as_user(owner).get(f"/tanks/{tank.pk}/light/").content.decode()
    assert "is reckoned on top of it" in page and "level 60 → 45 %" in page

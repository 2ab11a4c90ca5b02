"""What a change changed, in words; and where what is told does not go together."""

import datetime as dt

import pytest
from django.utils import timezone

from apps.lighting.change.summary import (
    Doubt,
    Event,
    Step,
    contradictions,
    day_difference,
    rig_differences,
)
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from tests.factories import hang, make_light_change

NOW = timezone.now()
CHANNELS = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]


def hung(number=1, **fields):
    facts = {
        "name": "Left puck", "kind": "puck", "lit_length_cm": 8, "lit_width_cm": 8,
        "own_beam_deg": 90,
    }  # fmt: skip
    places = {"x_cm": 30, "y_cm": 30, "height_cm": 20, "level_percent": 60}
    return HungFixture(number=number, **(facts | places | fields))


def told(before, after):
    """Return [(name, what happened, [settings])]."""
    found = rig_differences(before, after, unit="cm")
    return [(one.name, one.event, list(one.steps)) for one in found]


def test_raised_with_a_lens_and_turned_up():
    after = hung(height_cm=33, beam_deg=55, level_percent=75)
    ((name, event, steps),) = told([hung()], [after])
    assert (name, event) == ("Left puck", Event.SET)
    assert steps == [
        Step("height_cm", 20, 33),
        Step("beam_in_force_deg", 90, 55),
        Step("level_percent", 60, 75),
    ]


def test_inches_for_who_reads_inches():
    (found,) = rig_differences([hung(height_cm=20.32)], [hung(height_cm=33.02)], unit="in")
    assert "8 → 13 in" in found.words[0]


def test_every_setting_can_be_said():
    before = hung(channels=CHANNELS, channel_levels={"Blue": 40})
    after = hung(
        channels=CHANNELS, channel_levels={"Blue": 60}, x_cm=1, y_cm=2, height_cm=3, turn_deg=4,
        tilt_deg=5, beam_deg=6, level_percent=7, loss_percent=8,
    )  # fmt: skip
    (changed,), (new,) = (rig_differences(rows, [after], unit="cm") for rows in ([before], []))
    assert (len(changed.steps), len(new.steps)) == (10, 5)
    for one in (changed, new):
        settings = one.words[bool(one.event) :]
        for step, words in zip(one.steps, settings, strict=True):
            assert f"{step.after:g}" in words


def test_all_alike_are_told_once():
    before, after = ([hung(n, level_percent=level) for n in (1, 2)] for level in (60, 75))
    assert told(before, after) == [("Both lamps", Event.SET, [Step("level_percent", 60, 75)])]


def test_hung_and_taken_down():
    assert told([hung(1)], [hung(2, name="Bar")]) == [
        ("Bar", Event.HUNG, [Step("height_cm", None, 20), Step("level_percent", None, 60)]),
        ("Left puck", Event.TAKEN_DOWN, []),
    ]


def test_like_names_take_their_numbers():
    assert told([hung(1), hung(2)], [hung(1), hung(2, x_cm=40)]) == [
        ("Left puck 2", Event.SET, [Step("x_cm", 30, 40)])
    ]


def test_nothing_changed_is_nothing_told():
    assert told([hung()], [hung()]) == []


def test_day_is_told_by_what_differs(tank):
    for days, hours in ((9, 9.0), (5, 9.5)):
        make_light_change(tank, happened_at=NOW - dt.timedelta(days=days), day_hours=hours)
    history = light_history(tank)
    before, after = (history.schedule_at(NOW - dt.timedelta(days=n)) for n in (7, 1))
    assert day_difference(before, after) == "day 9 → 9.5\u00a0h"
    assert day_difference(after, after) == ""


def doubts(factor=1.0, level=60, reason="other", **fields):
    change = LightChange(factor=factor, reason=reason, tells_rig=True)
    return contradictions(change, [hung(level_percent=60)], [hung(level_percent=level, **fields)])


def test_factor_that_repeats_the_levels_is_flagged():
    (result,) = doubts(factor=0.75, level=45)
    assert result.doubt == Doubt.SAID_TWICE and "× 0.75" in result.words


def test_factor_against_the_levels_is_flagged():
    (result,) = doubts(factor=0.8, level=84)
    assert result.doubt == Doubt.OPPOSITE


@pytest.mark.parametrize(("factor", "level"), [(1.0, 45), (0.95, 45), (0.8, 60)])
def test_sound_entries_are_not_flagged(factor, level):
    assert doubts(factor=factor, level=level) == ()


def test_reason_no_fixture_bears_out_is_flagged():
    assert [one.doubt for one in doubts(reason="raised")] == [Doubt.REASON]
    assert doubts(reason="raised", height_cm=33) == ()


def test_log_shows_the_doubt(as_user, owner, tank):
    hang(make_light_change(tank, factor=1), level_percent=60)
    later = make_light_change(tank, factor=0.75, happened_at=NOW - dt.timedelta(days=3))
    hang(later, HungFixture.objects.get().fixture, level_percent=45)
    page = as_user(owner).get(f"/tanks/{tank.pk}/light/")
    (doubt,) = page.context["log"].entries[0].doubts
    assert doubt.doubt == Doubt.SAID_TWICE and doubt.words in page.content.decode()
    assert "60 → 45\u00a0%" in page.content.decode()

"""What comes next in an acclimation, whatever was ticked, noted or dated anew."""

import datetime as dt
import itertools

from hypothesis import given, settings
from hypothesis import strategies as st

from apps.photics.day.acclimation import ramp
from apps.planning.acclimation.following import (
    ARRIVED,
    PAUSED,
    RISING,
    WAITING,
    Noted,
    Ticked,
    follow,
)

DAY = dt.date(2026, 3, 1)
START = dt.datetime(2026, 3, 1, 8, tzinfo=dt.UTC)


def day(number):
    return DAY + dt.timedelta(days=number)


def at(number, hour=12):
    return START + dt.timedelta(days=number, hours=hour - 8)


def ticks(*days):
    return [Ticked(n, day(d), at(d)) for n, d in enumerate(days, start=1)]


def note(number, *, lighter=True, coral="reef", hour=18):
    return Noted(coral, lighter, day(number), at(number, hour))


def state(**overrides):
    fields = {
        "steps": 5, "starts_on": DAY, "every_days": 3, "waits": False, "begun_at": START,
        "limiting": "reef",
    } | overrides  # fmt: skip
    return follow(**fields)


def test_the_first_step_is_due_on_the_day_the_plan_starts():
    found = state()
    assert (found.state, found.next_number, found.due_on) == (RISING, 1, DAY)


def test_a_late_step_moves_all_that_follow():
    found = state(ticked=ticks(0, 8))
    assert found.days_ahead(5, 3, day(9)) == [(3, day(11)), (4, day(14)), (5, day(17))]


def test_a_step_that_waits_is_told_late_and_no_day_ahead_lies_in_the_past():
    found = state(ticked=ticks(0, 3))
    assert (found.due_on, found.late_days(day(6)), found.late_days(day(16))) == (day(6), 0, 10)
    assert found.days_ahead(5, 3, day(16)) == [(3, day(16)), (4, day(19)), (5, day(22))]


def test_a_step_back_is_never_late():
    found = state(ticked=ticks(0, 3), noted=[note(4)])
    assert found.goes_back and found.late_days(day(20)) == 0


def test_the_last_step_arrives():
    assert state(ticked=ticks(0, 3, 6, 9, 12)).state == ARRIVED


def test_paling_pauses_and_steps_back():
    found = state(ticked=ticks(0, 3), noted=[note(4)])
    assert (found.state, found.next_number, found.goes_back) == (PAUSED, 1, True)


def test_after_the_step_back_it_waits_until_the_coral_is_well():
    back = [*ticks(0, 3), Ticked(1, day(5), at(5))]
    assert state(ticked=back, noted=[note(4)]).state == WAITING


def test_well_again_it_goes_on_from_where_it_is():
    back = [*ticks(0, 3), Ticked(1, day(5), at(5))]
    found = state(ticked=back, noted=[note(4), note(7, lighter=False)])
    assert (found.state, found.next_number, found.due_on) == (RISING, 2, day(8))


def test_paling_again_steps_back_once_more():
    back = [*ticks(0, 3, 6), Ticked(2, day(8), at(8))]
    assert state(ticked=back, noted=[note(7), note(10)]).next_number == 1


def test_paling_before_the_first_step_pauses_with_nothing_to_go_back_to():
    found = state(noted=[note(0)])
    assert (found.state, found.next_number) == (PAUSED, None)


def test_a_paling_of_before_the_plan_is_no_matter():
    assert state(noted=[note(-3)]).state == RISING


def test_a_paling_that_passed_by_itself_is_no_matter():
    assert state(ticked=ticks(0), noted=[note(1), note(2, lighter=False)]).state == RISING


def test_another_coral_being_well_does_not_answer_a_paling():
    found = state(ticked=ticks(0), noted=[note(1), note(2, lighter=False, coral="other")])
    assert found.state == PAUSED


def test_paling_soon_after_the_last_step_still_steps_back():
    assert state(ticked=ticks(0, 3, 6, 9, 12), noted=[note(20)]).next_number == 4


def test_paling_long_after_the_last_step_is_another_matter():
    assert state(ticked=ticks(0, 3, 6, 9, 12), noted=[note(60)]).state == ARRIVED


def test_a_plan_that_waits_needs_a_note_of_a_later_day():
    same_day = [note(0, lighter=False)]
    assert state(waits=True, ticked=ticks(0), noted=same_day).state == WAITING
    assert state(waits=True, ticked=ticks(0), noted=[note(2, lighter=False)]).state == RISING


EVENTS = st.lists(
    st.tuples(st.sampled_from(["step", "pale", "well"]), st.integers(0, 9)), max_size=40
)


@given(events=EVENTS, every=st.integers(1, 7), waits=st.booleans(), shift=st.integers(-20, 20))
@settings(derandomize=True, max_examples=300)
def test_whatever_happens_no_step_up_breaks_rate_or_gap(events, every, waits, shift):
    """Take what the plan asks on the days it allows; then date its start anew."""
    lights = [100.0, *ramp(100.0, to_light=260.0, rate=0.12, least_days=9, every_days=every).light]
    plan = {"steps": len(lights) - 1, "every_days": every, "waits": waits}
    ticked, noted, today = [], [], 0
    for k, (kind, later) in enumerate(events):
        today += later
        entered = at(today) + dt.timedelta(seconds=k)
        if kind != "step":
            noted.append(Noted("reef", kind == "pale", day(today), entered))
            continue
        found = state(**plan, starts_on=day(shift), ticked=ticked, noted=noted)
        if found.next_number is not None and found.due_on <= day(today):
            ticked.append(Ticked(found.next_number, day(today), entered))
    taken = [(0, None), *((t.number, t.on) for t in ticked)]
    for (before, last), (number, on) in itertools.pairwise(taken):
        assert lights[number] / lights[before] <= 1.12 * (1 + 1e-9)
        assert number < before or last is None or (on - last).days >= every
    assert all(abs(b[0] - a[0]) == 1 for a, b in itertools.pairwise(taken))


@given(late=st.lists(st.integers(0, 6), min_size=40, max_size=40), every=st.integers(1, 7))
@settings(derandomize=True, max_examples=100)
def test_without_paling_it_arrives_however_late_the_steps(late, every):
    lights = ramp(80.0, to_light=300.0, rate=0.1, least_days=21, every_days=every).light
    ticked = []
    for k in range(len(lights)):
        found = state(steps=len(lights), every_days=every, ticked=ticked)
        on = found.due_on + dt.timedelta(days=late[k % 40])
        ticked.append(Ticked(found.next_number, on, at((on - DAY).days)))
    assert state(steps=len(lights), every_days=every, ticked=ticked).state == ARRIVED
    assert lights[ticked[-1].number - 1] == 300.0

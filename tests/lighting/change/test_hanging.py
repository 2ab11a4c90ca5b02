"""A log told out of order: what is dated back, edited or taken away sets every later rig right."""

import datetime as dt
import re
from pathlib import Path

import pytest
from django.conf import settings
from django.urls import reverse
from django.utils import timezone

from apps.lighting.hanging import (
    remove_light_change,
    restore_light_change,
    save_light_change,
)
from apps.lighting.history import light_history
from apps.lighting.models import HungFixture, LightChange
from apps.lighting.rig import rig_in_force
from tests.factories import make_fixture
from tests.lighting.change.test_light_log import new_url
from tests.lighting.fixture.test_rig import row_of, rows

NOW = timezone.now()
MEASURES = ("x_cm", "y_cm", "height_cm", "level_percent")


def days_ago(n):
    return NOW - dt.timedelta(days=n)


def entry(tank, days, *rows, down=(), **fields):
    """Save a change with rows (number or None, settings told) over what hung before."""
    change = LightChange(tank=tank, happened_at=days_ago(days), summary=f"{days} ago", **fields)
    before = {row.number: row for row in rig_in_force(tank, change.happened_at)}
    hung = []
    for number, stated in rows:
        row = before.pop(number) if number else HungFixture(x_cm=30, y_cm=30, height_cm=20)
        row.told = list(stated)
        for name, value in stated.items():
            setattr(row, name, value)
        hung.append(row if number else row.take_facts(make_fixture(tank.owner)))
    hung += [row for n, row in before.items() if n not in down]
    for row in hung:
        row.told = row.told if row.pk is None or any(row is r for r in hung[: len(rows)]) else []
    save_light_change(change=change, hung=hung, taken_down=down)
    return change


def rig(tank, days=0):
    return {
        row.number: (row.height_cm, row.level_percent) for row in rig_in_force(tank, days_ago(days))
    }


@pytest.fixture
def hung_and_dimmed(tank):
    """A fixture hung 50 days ago and turned to 60 % 10 days ago."""
    return entry(tank, 50, (None, {})), entry(tank, 10, (1, {"level_percent": 60}))


def test_entry_dated_back_is_followed_by_later_ones(tank, hung_and_dimmed):
    entry(tank, 30, (1, {"height_cm": 33}))
    assert (rig(tank, 40), rig(tank, 20), rig(tank)) == (
        {1: (20, 100)},
        {1: (33, 100)},
        {1: (33, 60)},
    )


def test_what_a_later_entry_told_itself_stands(tank, hung_and_dimmed):
    entry(tank, 30, (1, {"level_percent": 80}))
    assert (rig(tank, 20), rig(tank)) == ({1: (20, 80)}, {1: (20, 60)})


def test_undo_gives_back_exactly_what_was(tank, hung_and_dimmed):
    raised = entry(tank, 30, (1, {"height_cm": 33}))
    again = entry(tank, 5, (1, {"height_cm": 33}))
    stated = rig(tank)
    remove_light_change(change=raised)
    assert (rig(tank, 20), rig(tank)) == ({1: (20, 100)}, {1: (33, 60)})
    remove_light_change(change=again)
    assert rig(tank) == {1: (20, 60)}
    for change in (again, raised):
        restore_light_change(change=change)
    assert rig(tank) == stated and rig(tank, 20) == {1: (33, 100)}


def test_fixture_hung_in_between_hangs_on(tank, hung_and_dimmed):
    third = entry(tank, 30, (None, {"height_cm": 15}))
    assert rig(tank) == {1: (20, 60), 2: (15, 100)}
    remove_light_change(change=third)
    assert rig(tank) == {1: (20, 60)}


def test_fixture_taken_down_in_between_is_gone_after(tank):
    entry(tank, 50, (None, {}), (None, {"height_cm": 25}))
    entry(tank, 10, (1, {"level_percent": 60}))
    away = entry(tank, 30, down=[2])
    assert rig(tank) == {1: (20, 60)}
    remove_light_change(change=away)
    assert rig(tank) == {1: (20, 60), 2: (25, 100)}


def test_new_fixture_takes_no_number_that_was_used(tank):
    entry(tank, 50, (None, {}), (None, {}))
    entry(tank, 30, down=[2])
    entry(tank, 10, (None, {}))
    assert list(rig(tank)) == [1, 3]


def test_all_taken_down_is_nothing_hangs(as_user, owner, tank, hung_and_dimmed):
    panel = HungFixture.objects.first().fixture
    away = row_of(panel, number="1", level_percent="60") | {"DELETE": "on"}
    when = {"happened_at": days_ago(2).strftime("%Y-%m-%dT%H:%M")}
    as_user(owner).post(new_url(tank), rows(away, initial=1) | when)
    assert rig_in_force(tank, days_ago(-1)) == []
    assert light_history(tank).lamps_at(timezone.now()) == ()
    page = as_user(owner).get(reverse("light_change_list", args=[tank.pk]))
    assert page.context["rig"] == [] and "taken down" in page.content.decode()


def test_form_dated_back_tells_only_what_was_typed(as_user, owner, tank):
    """The form shows today's rig; dated back, what the keeper left follows that day's."""
    entry(tank, 400, (None, {}))
    entry(tank, 1, (1, {"level_percent": 60}))
    panel = HungFixture.objects.first().fixture
    typed = row_of(panel, number="1", y_cm="30", level_percent="60", height_cm="33")
    as_user(owner).post(new_url(tank), rows(typed, initial=1))
    change = LightChange.objects.get(summary="Raised the left lamp")
    assert change.hung.get().told == ["height_cm"]
    assert (rig(tank, 2), rig(tank)) == ({1: (33, 100)}, {1: (33, 60)})


def test_date_edited_sets_both_days_right(as_user, owner, tank, hung_and_dimmed):
    _, dimmed = hung_and_dimmed
    entry(tank, 30, (1, {"height_cm": 33}))
    panel = dimmed.hung.get().fixture
    typed = rows(
        row_of(panel, number="1", y_cm="30", height_cm="33", level_percent="60"), initial=1
    )
    when = days_ago(40).strftime("%Y-%m-%dT%H:%M")
    url = reverse("light_change_edit", args=[dimmed.pk])
    assert as_user(owner).post(url, typed | {"happened_at": when}).status_code == 302
    assert (rig(tank, 35), rig(tank)) == ({1: (20, 60)}, {1: (33, 60)})


def test_entry_edited_keeps_what_it_took_down(as_user, owner, tank):
    entry(tank, 50, (None, {}), (None, {"height_cm": 25}))
    away = entry(tank, 10, down=[2])
    typed = rows(row_of(away.hung.get().fixture, number="1", height_cm="33"), initial=1)
    typed |= {"happened_at": days_ago(10).strftime("%Y-%m-%dT%H:%M")}
    url = reverse("light_change_edit", args=[away.pk])
    assert as_user(owner).post(url, typed).status_code == 302
    assert rig(tank) == {1: (33, 100)}


def test_library_edit_leaves_history_alone(as_user, owner, tank, hung_and_dimmed):
    panel = HungFixture.objects.first().fixture
    typed = {
        "name": "Panel", "kind": "panel", "lit_length_cm": "20", "lit_width_cm": "20",
        "beam_deg": "55", "optic": "angle", "zone": "display",
    }  # fmt: skip
    url = reverse("fixture_edit", args=[panel.pk])
    as_user(owner).post(url, typed)
    assert {row.own_beam_deg for row in HungFixture.objects.all()} == {90}
    as_user(owner).post(url, typed | {"correct_hung": "on"})
    assert {row.own_beam_deg for row in HungFixture.objects.all()} == {55}


def test_correction_reaches_no_tank_of_others(as_user, owner, co_keeper, stranger, tank):
    """A co-keeper's fixture over a tank they may no longer change stays as it was hung."""
    panel = make_fixture(co_keeper)
    change = LightChange.objects.create(tank=tank, happened_at=days_ago(9), summary="x")
    row = HungFixture(change=change, number=1, x_cm=1, y_cm=1, height_cm=9, told=["hung"])
    row.take_facts(panel).save()
    tank.memberships.all().delete()
    typed = {
        "name": "Other", "kind": "panel", "lit_length_cm": "20", "lit_width_cm": "20",
        "beam_deg": "55", "optic": "angle", "zone": "display", "correct_hung": "on",
    }  # fmt: skip
    as_user(co_keeper).post(reverse("fixture_edit", args=[panel.pk]), typed)
    assert HungFixture.objects.get().name == "Panel"


def test_account_of_a_fixtures_owner_can_go(as_user, owner, co_keeper, tank):
    panel = make_fixture(co_keeper, name="Borrowed bar")
    as_user(co_keeper).post(new_url(tank), rows(row_of(panel)))
    co_keeper.delete()
    hung = HungFixture.objects.get()
    assert hung.fixture is None and hung.scene().beam_deg == 90
    page = as_user(owner).get(new_url(tank)).content.decode()
    assert re.search(r'<option value="" selected>\s*Borrowed bar\b', page)
    typed = row_of(panel, number="1", height_cm="35") | {"fixture": ""}
    assert as_user(owner).post(new_url(tank), rows(typed, initial=1)).status_code == 302


def test_form_reads_the_library_once(as_user, owner, tank, django_assert_max_num_queries):
    for _ in range(12):
        entry(tank, 50, (None, {}))
    client = as_user(owner)
    with django_assert_max_num_queries(16):
        client.get(new_url(tank))


@pytest.mark.parametrize(
    ("measured", "stated"),
    [
        ("narrower on one", r"typically (\d+) to (\d+)&nbsp;% off"),
        (
            "raised, narrower, one of another kind",
            r"(\d+) to (\d+)&nbsp;% with another kind of lens",
        ),
    ],
)
def test_form_says_how_far_off_a_new_lens_was_measured_to_be(
    as_user, owner, tank, hung_and_dimmed, measured, stated
):
    page = " ".join(as_user(owner).get(new_url(tank)).content.decode().split())
    (sentence,) = set(re.findall(r"<p [^>]*data-new-optic>(.*?)</p>", page))
    low, high = map(float, re.search(stated, sentence).groups())
    table = Path(settings.BASE_DIR, "docs/measurements.md").read_text()
    error = re.search(rf"^\| {measured} \|[^|]*\|[^|]*\| ([\d.]+) \(", table, re.MULTILINE)[1]
    assert low <= float(error) <= high


def test_same_fixture_told_twice_is_refused(as_user, owner, tank, hung_and_dimmed):
    panel = HungFixture.objects.first().fixture
    twice = rows(row_of(panel, number="1"), row_of(panel, number="1", x_cm="40"), initial=1)
    assert as_user(owner).post(new_url(tank), twice).status_code == 422


def test_lamp_of_another_zone_is_none_of_the_display(tank):
    entry(tank, 50, (None, {}), (None, {}))
    HungFixture.objects.filter(number=2).update(zone="refugium")
    assert [lamp.number for lamp in light_history(tank).lamps_at(NOW)] == [1]
    HungFixture.objects.update(zone="refugium")
    assert light_history(tank).lamps_at(NOW) is None


def test_several_of_one_lamp_are_added_and_not_saved_yet(as_user, owner, tank):
    fixture = make_fixture(owner, name="Bar")
    wish = {"alike_fixture": fixture.pk, "alike_count": "3", "alike_add": "1"}
    page = as_user(owner).post(new_url(tank), rows() | wish)
    filled = [row.initial for row in page.context["rows"] if row.initial.get("fixture")]
    assert [row["fixture"] for row in filled] == [str(fixture.pk)] * 3
    assert len({row["x_cm"] for row in filled}) == 3 and not LightChange.objects.exists()


def test_several_of_one_lamp_join_what_hangs(as_user, owner, tank, hung_and_dimmed):
    panel = HungFixture.objects.first().fixture
    typed = row_of(panel, number="1", level_percent="60", height_cm="31.5")
    wish = {"alike_fixture": panel.pk, "alike_count": "2", "alike_add": "1"}
    page = as_user(owner).post(new_url(tank), rows(typed, initial=1) | wish)
    filled = [row.initial for row in page.context["rows"] if row.initial.get("fixture")]
    assert [row["height_cm"] for row in filled] == ["31.5"] * 3
    assert filled[0]["number"] == "1" and not filled[1].get("number")

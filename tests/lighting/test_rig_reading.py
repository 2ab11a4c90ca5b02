"""A long log's rigs come in one quick read, and say what its rows say."""

import datetime as dt

from django.db import connection
from django.test.utils import CaptureQueriesContext
from django.urls import reverse
from django.utils import timezone

from apps.lighting.history import light_history
from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.lighting.rig_reading import rigs_after
from tests.factories import hang, make_fixture, make_light_change

COMPARED = ("number", *HungFixture.FACTS, *HungFixture.SETTINGS)
CHANNELS = [{"name": "blue", "share_percent": 70}, {"name": "white", "share_percent": 30}]


def ago(days):
    return timezone.now() - dt.timedelta(days=days)


def logged(tank):
    """Make three changes over two fixtures, one with channels; only one is moved."""
    plain, mixed = make_fixture(tank.owner), make_fixture(tank.owner, channels=CHANNELS)
    changes = [make_light_change(tank, happened_at=ago(days)) for days in (30, 20, 10)]
    for height, change in zip((20, 20, 26), changes, strict=True):
        hang(change, plain, height_cm=height)
        hang(change, mixed, channel_levels={"blue": 40.5}, loss_percent=8)
    return changes


def facts(rows):
    return [tuple(getattr(row, name) for name in COMPARED) for row in rows]


def test_rigs_are_what_the_rows_say(tank):
    changes = logged(tank)
    result = rigs_after(tank)
    assert {pk: facts(rows) for pk, rows in result.items()} == {
        change.pk: facts(change.hung.order_by("number")) for change in changes
    }


def test_what_did_not_change_is_one_object(tank):
    changes = logged(tank)
    result = rigs_after(tank)
    first, second, third = (result[change.pk] for change in changes)
    assert first[0] is second[0] and first[0] is not third[0] and first[1] is third[1]


def test_removed_change_tells_no_rig(tank):
    first, *_ = logged(tank)
    first.remove()
    assert first.pk not in rigs_after(tank)


def test_lamps_of_a_fixture_left_alone_are_one(tank):
    logged(tank)
    first, second, _ = light_history(tank).changes
    assert first.rig[0] is second.rig[0]


def test_rig_in_force_reads_one_change(tank):
    changes = logged(tank)
    with CaptureQueriesContext(connection) as queries:
        result = rig_in_force(tank, ago(15))
    assert [row.change_id for row in result] == [changes[1].pk] * 2
    assert len(queries) == 2


def test_rig_in_force_passes_over_the_change_it_is_told_to(tank):
    changes = logged(tank)
    result = rig_in_force(tank, timezone.now(), without=changes[2])
    assert {row.change_id for row in result} == {changes[1].pk}


def test_light_log_asks_no_more_for_more_entries(as_user, owner, tank):
    logged(tank)
    client, address = as_user(owner), reverse("light_change_list", args=[tank.pk])
    client.get(address)
    with CaptureQueriesContext(connection) as few:
        client.get(address)
    panel = make_fixture(tank.owner)
    for days in range(1, 9):
        hang(make_light_change(tank, happened_at=ago(days)), panel)
    with CaptureQueriesContext(connection) as many:
        client.get(address)
    assert len(many) <= len(few)

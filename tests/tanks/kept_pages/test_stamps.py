"""A tank's stamp is another number as soon as any of its rows is, whoever wrote it and how."""

import pytest
from django.db import connection, transaction

from apps.surveys.models import Meter, Reading
from apps.tanks.kept_pages.models import ALL_TANKS, TankStamp
from apps.tanks.kept_pages.tables import own_models, path_to_tank, watched_table, watched_tables
from apps.tanks.kept_pages.triggers import drop_triggers, make_triggers, our_triggers
from apps.tanks.models import Tank
from tests.factories import make_coral, make_meter, make_survey, make_tank
from tests.transfer.test_restoring import fill

# What no page of a tank shows, by the models' own word.
UNSHOWN = {
    "tanks_tankstamp", "tanks_rowchange",
    "common_sentform", "common_sentrequest", "api_tokencard", "transfer_arrival", "later_job",
    "accounts_signupinvitation",
    "sharing_commentreport", "sharing_remindermail", "sharing_pushbrowser",
    "hosting_datarequest",
    "clubs_club", "clubs_membership", "clubs_block", "clubs_clublink", "tanks_showntank",
    "surveys_meterloan", "surveys_surveyoffer", "lighting_offeredfixture", "outcomes_clubpoolshare",
}  # fmt: skip
# What all tanks share: any change of it is one of every tank.
SHARED = {
    "accounts_user", "accounts_user_groups", "accounts_user_user_permissions",
    "lighting_fixture", "lighting_photometricfile", "lighting_raytable",
    "surveys_meter", "surveys_metercheck", "outcomes_pooledcurve",
}  # fmt: skip


def stamp(tank_pk):
    return TankStamp.objects.filter(pk=tank_pk).values_list("number", flat=True).first()


def test_every_table_of_ours_is_watched_or_says_why_not():
    tables = {model._meta.db_table for model in own_models()}
    assert tables - {watched.name for watched in watched_tables()} == UNSHOWN


def test_what_leads_to_no_tank_counts_for_all_of_them():
    watched = (model for model in own_models() if watched_table(model))
    shared = {model._meta.db_table for model in watched if path_to_tank(model) is None}
    assert shared == SHARED


@pytest.fixture
def full(tank):
    make_coral(fill(tank))
    return tank


def test_a_row_of_every_table_that_is_written_again_is_a_change(full):
    other = make_tank(full.owner, name="Next door")
    seen, beside = set(), stamp(other.pk)
    with connection.cursor() as cursor:
        for model in own_models():
            watched, way = watched_table(model), path_to_tank(model)
            # What only counts where certain columns change is asked below.
            if watched is None or watched.columns or not model._default_manager.exists():
                continue
            key, of = watched.primary_key, ALL_TANKS if way is None else full.pk
            before = stamp(of)
            where = f' WHERE "{key}" = {full.pk}' if model is Tank else ""
            cursor.execute(f'UPDATE "{watched.name}" SET "{key}" = "{key}"{where}')
            assert stamp(of) != before, watched.name
            seen.add(watched.name)
    assert stamp(other.pk) == beside
    assert {"surveys_reading", "corals_spot", "corals_photocolour", "surveys_metercheck"} <= seen


def test_rows_that_come_and_go_in_bulk_are_changes(tank, owner):
    survey = make_survey(tank)
    numbers = [stamp(tank.pk)]
    Reading.objects.bulk_create(
        Reading(survey=survey, position=100 + n, x_cm=5, y_cm=5, depth_cm=5, value_umol=100)
        for n in range(3)
    )
    numbers.append(stamp(tank.pk))
    Reading.objects.filter(survey=survey, position__gte=100).update(value_umol=101)
    numbers.append(stamp(tank.pk))
    Reading.objects.filter(survey=survey).delete()
    numbers.append(stamp(tank.pk))
    tank.name = "Renamed"
    tank.save()
    numbers.append(stamp(tank.pk))
    assert len(set(numbers)) == 5 and None not in numbers


def test_a_row_that_moves_is_a_change_of_both_tanks(tank, owner):
    coral, other = make_coral(tank), make_tank(owner, name="Next door")
    before = stamp(tank.pk), stamp(other.pk)
    type(coral).objects.filter(pk=coral.pk).update(tank=other)
    assert stamp(tank.pk) != before[0] and stamp(other.pk) != before[1]


def test_a_meter_is_a_change_of_all_tanks(owner):
    meter, before = make_meter(owner), stamp(ALL_TANKS)
    Meter.objects.filter(pk=meter.pk).update(correction_factor=1.05)
    assert stamp(ALL_TANKS) != before


def test_signing_in_and_an_opened_link_change_no_page(tank, owner, as_user):
    from apps.sharing.models import ShareLink
    from tests.test_every_address import link_of

    link = link_of(ShareLink, tank=tank)
    before = stamp(tank.pk), stamp(ALL_TANKS)
    as_user(owner)
    type(owner).objects.filter(pk=owner.pk).update(last_login="2026-03-01T12:00:00Z")
    ShareLink.objects.filter(pk=link.pk).update(openings=7)
    assert (stamp(tank.pk), stamp(ALL_TANKS)) == before
    type(owner).objects.filter(pk=owner.pk).update(units="in")
    ShareLink.objects.filter(pk=link.pk).update(show_photos=True)
    assert stamp(tank.pk) != before[0] and stamp(ALL_TANKS) != before[1]


def test_what_is_rolled_back_leaves_the_stamp(tank):
    before = stamp(tank.pk)
    with transaction.atomic():
        Tank.objects.filter(pk=tank.pk).update(name="Not to be")
        assert stamp(tank.pk) != before
        transaction.set_rollback(True)
    assert stamp(tank.pk) == before


def test_triggers_go_before_tables_move_and_come_back_as_they_were(db):
    config = Tank._meta.app_config
    there = {t.name: t.text for t in our_triggers(connection)}
    make_triggers(config, "default")
    assert {t.name: t.text for t in our_triggers(connection)} == there
    drop_triggers(config, "default")
    assert our_triggers(connection) == []
    make_triggers(config, "default")
    assert {t.name: t.text for t in our_triggers(connection)} == there
    assert len(there) == 3 * len(watched_tables())


def test_a_trigger_that_does_something_else_is_put_right(db):
    there = {t.name: t.text for t in our_triggers(connection)}
    drop_triggers(Tank._meta.app_config, "default")
    # As an older version would have made it.
    from apps.tanks.kept_pages import triggers

    watched = next(w for w in watched_tables() if w.name == "corals_coral")
    ways = {"sqlite": triggers.sqlite_triggers, "postgresql": triggers.postgres_triggers}
    older = type(watched)(watched.name, watched.primary_key, "0")
    with connection.cursor() as cursor:
        for trigger in ways[connection.vendor](older):
            for sql in trigger.statements:
                cursor.execute(sql)
    make_triggers(Tank._meta.app_config, "default")
    assert {t.name: t.text for t in our_triggers(connection)} == there

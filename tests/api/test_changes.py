"""Changes since a cursor: all that was written, once, and nothing of tanks one may not see."""

import threading

import pytest
from django.db import connection, transaction
from rest_framework.test import APIClient

from apps.api.changes import following
from apps.corals.models import HealthNote
from apps.lighting.models import HungFixture, PhotometricFile
from apps.tanks.kept_pages.journal import begin_epoch
from apps.tanks.kept_pages.models import RowChange
from apps.tanks.kept_pages.tables import watched_tables
from apps.tanks.models import Membership, Tank
from tests.api.test_access import NEW, of_tank
from tests.corals.shots import make_photo
from tests.factories import (
    let_in,
    make_acclimation,
    make_club,
    make_club_meter,
    make_coral,
    make_fixture,
    make_light_change,
    make_log,
    make_meter,
    make_meter_check,
    make_plan,
    make_rock,
    make_size,
    make_survey,
    make_tank,
    make_tick,
    make_trial,
    make_user,
    make_water_event,
)

AT = "/api/v1/changes/"


class Reader:
    """A program that follows what a keeper may see, by nothing but the cursor it was given."""

    def __init__(self, user, **query):
        self.api, self.query = APIClient(), query
        self.api.force_authenticate(user)
        self.page = self.api.get(AT, query).data

    def ask(self, **headers):
        return self.api.get(AT, self.query | {"since": self.page["cursor"]}, headers=headers)

    def news(self):
        """Return (kind, id, change) of all that came since, read to its end."""
        rows = []
        while True:
            self.page = self.ask().data
            rows += self.page["results"]
            if not self.page["more"]:
                return [(row["kind"], row["id"], row["change"]) for row in rows]


@pytest.fixture
def reader(owner, tank):
    make_coral(tank)
    return Reader(owner)


def test_the_first_answer_is_the_place_of_now(reader):
    assert reader.page["results"] == [] and reader.news() == []


def test_a_row_is_told_as_created_then_changed_then_deleted(reader, tank):
    rock = make_rock(tank)
    assert reader.news() == [("rock", rock.pk, "created")]
    rock.name = "Arch"
    rock.save()
    assert reader.news() == [("rock", rock.pk, "changed")]
    rock.remove()
    assert reader.news() == [("rock", rock.pk, "deleted")]
    rock.restore()
    assert reader.news() == [("rock", rock.pk, "changed")]
    pk = rock.pk
    rock.delete()
    assert reader.news() == [("rock", pk, "deleted")]


def test_a_row_written_often_is_told_once_as_it_is_now(reader, tank):
    rock = make_rock(tank)
    for name in ("Arch", "Ledge", "Shelf"):
        rock.name = name
        rock.save()
    assert reader.news() == [("rock", rock.pk, "created")]


def test_every_kind_is_told_and_read_where_it_says(reader, owner, tank):
    coral = make_coral(tank)
    make_trial(tank)
    for make in (make_survey, make_log, make_light_change, make_water_event, make_rock):
        make(tank)
    make_photo(coral), make_size(coral), make_acclimation(coral)
    make_plan(owner, tank), make_fixture(owner)
    make_meter_check(make_meter(owner))
    reader.api.post(of_tank(tank, "day-curves"), NEW["day-curves"])
    rows = reader.ask().data["results"]
    kinds = {kind.name for kind in following.BY_TABLE.values()} - {"colour", "tank"}
    assert {row["kind"] for row in rows} == kinds
    for row in rows:
        assert reader.api.get(row["path"]).data["id"] == row["id"], row


def test_every_followed_table_has_its_kind():
    followed = {watched.followed for watched in watched_tables() if watched.followed}
    assert followed == set(following.BY_TABLE)


def test_what_is_a_part_of_a_row_changes_the_row(reader, tank):
    change = make_light_change(tank)
    HungFixture.objects.filter(change=change).delete()
    acclimation = make_acclimation(make_coral(tank))
    reader.news()
    make_tick(acclimation, 1)
    assert reader.news() == [("acclimation", acclimation.pk, "changed")]


def test_rows_made_at_once_come_in_pages_that_leave_nothing_out(reader, tank, monkeypatch):
    monkeypatch.setattr(following, "PAGE_ROWS", 7)
    coral = tank.corals.get()
    HealthNote.objects.bulk_create(
        HealthNote(coral=coral, noted_on="2026-05-01", seen="well") for _ in range(30)
    )
    news = reader.news()
    assert {pk for _, pk, _ in news} == set(coral.notes.values_list("pk", flat=True))
    assert {change for _, _, change in news} == {"created"} and len(news) == 30


def test_a_row_that_changes_between_two_pages_is_still_one_that_came(reader, tank, monkeypatch):
    monkeypatch.setattr(following, "PAGE_ROWS", 1)
    first, second = make_rock(tank), make_rock(tank)
    reader.page = reader.ask().data
    second.name = "Ledge"
    second.save()
    assert reader.page["results"][0]["id"] == first.pk
    assert reader.news() == [("rock", second.pk, "created")]


def test_what_is_rolled_back_is_not_told(reader, tank):
    with transaction.atomic():
        make_rock(tank)
        transaction.set_rollback(True)
    assert reader.news() == []


def test_where_nothing_changed_the_answer_stays_the_same(reader, tank):
    first = reader.ask()
    assert reader.ask(**{"If-None-Match": first["ETag"]}).status_code == 304
    make_rock(tank)
    assert reader.ask(**{"If-None-Match": first["ETag"]}).status_code == 200


def test_strangers_and_those_who_left_are_told_of_nothing(tank, stranger, viewer):
    outside, inside = Reader(stranger), Reader(viewer)
    make_rock(tank)
    assert outside.news() == [] and len(inside.news()) == 1
    Membership.objects.filter(tank=tank, user=viewer).delete()
    make_rock(tank)
    assert inside.news() == [("tank", tank.pk, "deleted")]
    make_rock(tank)
    assert inside.news() == []


def test_a_tank_that_one_is_let_in_to_is_told_whole(tank, stranger):
    reader = Reader(stranger)
    make_rock(tank)
    let_in(tank, stranger, Membership.Role.VIEWER)
    assert reader.news() == [("tank", tank.pk, "created")]
    rock = make_rock(tank)
    assert reader.news() == [("rock", rock.pk, "created")]


def test_one_tank_may_be_followed_alone(owner, tank):
    other = make_tank(owner)
    reader = Reader(owner, tank=tank.pk)
    make_rock(other)
    assert reader.news() == []
    rock = make_rock(tank)
    assert reader.news() == [("rock", rock.pk, "created")]


def test_what_is_on_no_tank_is_told_to_its_keeper_alone(owner, co_keeper, stranger, tank):
    readers = {user: Reader(user) for user in (owner, co_keeper, stranger)}
    meter, fixture, plan = make_meter(owner), make_fixture(owner), make_plan(owner)
    check = make_meter_check(meter)
    rows = readers[owner].ask().data["results"]
    assert {(row["kind"], row["id"], row["change"], row["tank"]) for row in rows} == {
        ("meter", meter.pk, "created", None), ("meter_check", check.pk, "created", None),
        ("fixture", fixture.pk, "created", None), ("plan", plan.pk, "created", None),
    }  # fmt: skip
    for row in rows:
        assert readers[owner].api.get(row["path"]).data["id"] == row["id"], row
    assert readers[co_keeper].news() == readers[stranger].news() == []
    readers[owner].news()
    meter.remove(), fixture.delete()
    assert sorted(readers[owner].news())[-1] == ("meter", meter.pk, "deleted")
    assert readers[co_keeper].news() == readers[stranger].news() == []


def test_what_a_fixture_is_measured_by_changes_the_fixture(reader, owner):
    fixture = make_fixture(owner)
    reader.news()
    told = {"told_as": "LM-63", "beam_deg": 90, "misplaced": 0, "upward": 0}
    file = PhotometricFile.objects.create(fixture=fixture, text="IES", **told)
    assert reader.news() == [("fixture", fixture.pk, "changed")]
    file.delete()
    assert reader.news() == [("fixture", fixture.pk, "changed")]


def test_a_clubs_meter_is_no_keepers_and_one_given_to_it_is_gone(owner, stranger, reader):
    club = make_club(owner, stranger)
    member = Reader(stranger)
    lent = make_club_meter(club)
    make_meter_check(lent)
    assert reader.news() == member.news() == []
    own = make_meter(owner)
    reader.news()
    own.club = club
    own.save()
    assert reader.news() == [("meter", own.pk, "deleted")] and member.news() == []


def test_a_plan_that_goes_into_a_tank_is_told_on_both_sides(reader, owner, viewer, tank):
    plan, friend = make_plan(owner), Reader(viewer)
    reader.news()
    plan.tank = tank
    plan.save()
    assert sorted(reader.news()) == [("plan", plan.pk, "changed"), ("plan", plan.pk, "deleted")]
    assert friend.news() == [("plan", plan.pk, "changed")]


def test_the_shelf_is_read_in_pages_too(reader, owner, monkeypatch):
    monkeypatch.setattr(following, "PAGE_ROWS", 4)
    meters = {make_meter(owner).pk for _ in range(11)}
    news = reader.news()
    assert {pk for _, pk, _ in news} == meters and len(news) == 11


def test_a_cursor_is_its_readers_own_and_knows_of_the_shelf(reader, owner, stranger, tank):
    other = Reader(stranger)
    other.page = reader.page
    assert other.ask().status_code == 400
    reader.page = Reader(owner, tank=tank.pk).page
    assert list(reader.ask().json()["errors"]) == ["since"]


def test_nothing_of_a_keeper_who_is_gone_stays(db):
    keeper = make_user()
    make_meter(keeper), make_fixture(keeper)
    shelf = RowChange.objects.filter(tank_pk=-keeper.pk)
    assert shelf.count() == 2
    keeper.delete()
    assert not shelf.exists()


def test_a_tank_taken_away_is_told_and_its_changes_go_with_it_for_good(reader, tank):
    tank.remove()
    assert reader.news() == [("tank", tank.pk, "deleted")]
    pk = tank.pk
    Tank.objects.get(pk=pk).delete()
    assert not RowChange.objects.filter(tank_pk=pk).exists()


def test_a_cursor_of_a_database_that_is_no_more_is_refused(reader):
    begin_epoch()
    refused = reader.ask()
    assert refused.status_code == 400 and list(refused.json()["errors"]) == ["since"]


@pytest.mark.parametrize(
    "query", [{"since": "x"}, {"since": "x" * 9000}, {"tank": "one"}, {"a": 1}]
)
def test_what_is_no_cursor_is_refused(reader, query):
    refused = reader.api.get(AT, query)
    assert refused.status_code == 400 and list(refused.json()["errors"]) == list(query)


@pytest.mark.django_db(transaction=True)
@pytest.mark.parametrize("make", [lambda tank: make_rock(tank), lambda t: make_fixture(t.owner)])
def test_two_who_write_at_once_leave_no_gap(owner, tank, make):
    """The one that ends later is told later, although it began first."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one write at a time.")
    reader = Reader(owner)
    began, may_end = threading.Event(), threading.Event()

    def write_slowly():
        with transaction.atomic():
            make(tank)
            began.set()
            may_end.wait(10)
        connection.close()

    def write_quickly():
        make(tank)
        connection.close()

    slow, quick = threading.Thread(target=write_slowly), threading.Thread(target=write_quickly)
    slow.start()
    began.wait(10)
    quick.start()
    assert reader.news() == []
    may_end.set()
    slow.join()
    quick.join()
    assert len(reader.news()) == 2 and reader.news() == []

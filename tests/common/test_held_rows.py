"""What is read and then written by it is held meanwhile, and always in the same order.

SQLite lets one write at a time and has no locks of rows: what is asked for is noted here.
"""

import ast
import datetime as dt
import threading

import pytest
from django.core.exceptions import ValidationError
from django.db import connection, transaction
from django.db.models import QuerySet
from django.http import Http404
from django.urls import reverse
from django.utils import timezone

from apps.clubs.joining import join
from apps.clubs.leaving import block
from apps.clubs.models import ClubLink, Membership
from apps.lighting.change.done import Done, What, save_done
from apps.lighting.hanging import remove_light_change, restore_light_change
from apps.lighting.models import HungFixture
from apps.planning.acclimation.acclimating import untick
from apps.planning.layout.searching import advance_search, resume_search, stop_search
from apps.planning.models import AcclimationTick, Plan
from apps.sharing.models import COMMENTS_EACH
from apps.surveys.handing.handing import take_survey
from apps.tanks.access import hold_tank
from apps.tanks.models import Invitation
from apps.tanks.people.joining import accept_invitation, invite
from tests.api.light_change_bodies import api, url
from tests.factories import (
    PASSWORD,
    hang,
    make_acclimation,
    make_club,
    make_coral,
    make_light_change,
    make_survey,
    make_survey_offer,
    make_tank,
    make_tick,
    make_user,
)
from tests.lighting.fixture.test_rig import row_of, rows
from tests.planning.questions import make_layout_plan
from tests.sharing.links import make_link
from tests.sharing.test_comments import comment_of, send
from tests.sources import APPS, SOURCES, expect_none, place_of, tree_of

# They delete the row for good, whoever names it.
DELETE_IT = {"tanks/deleted.py", "transfer/account/leaving.py"}


def test_a_held_row_may_still_be_named_by_new_ones():
    """Their commit would wait for it with their tank's stamp in hand, and the holder for that."""
    expect_none(
        [
            f"{place_of(path)}:{node.lineno}"
            for path in SOURCES
            if str(path.relative_to(APPS)) not in DELETE_IT
            for node in ast.walk(tree_of(path))
            if isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == "select_for_update"
            and "no_key" not in {keyword.arg for keyword in node.keywords}
        ]
    )


def test_a_new_row_of_a_held_tank_waits_for_nobody(transactional_db, tank):
    if connection.vendor != "postgresql":
        pytest.skip("SQLite lets one write at a time.")

    def add():
        make_coral(tank, name="Added meanwhile", at_cm=None)
        connection.close()

    adding = threading.Thread(target=add, daemon=True)
    with transaction.atomic():
        hold_tank(tank.pk)
        adding.start()
        adding.join(timeout=5)
        assert not adding.is_alive()
    assert tank.corals.count() == 1


@pytest.fixture
def held(monkeypatch):
    """Return the names of the models whose rows were held, in order."""
    names, usual = [], QuerySet.select_for_update

    def noted(rows, *args, **kwargs):
        names.append(rows.model.__name__)
        return usual(rows, *args, **kwargs)

    monkeypatch.setattr(QuerySet, "select_for_update", noted)
    return names


def invitation_to(tank, **fields):
    invitation = Invitation(tank=tank, email="guest@example.org", **fields)
    invitation.renew_token()
    return invitation


@pytest.mark.parametrize("hands_over", [False, True])
def test_a_tank_is_held_before_its_invitations_by_all(tank, stranger, held, hands_over):
    invitation = invitation_to(tank, hands_over=hands_over)
    invite(invitation=invitation)
    assert held == ["Tank"]
    held.clear()
    assert accept_invitation(invitation=invitation, user=stranger) == tank
    assert held[:2] == ["Tank", "Invitation"]


def test_who_joins_a_club_holds_it_as_who_blocks_does(owner, viewer, stranger, held):
    club = make_club(owner, viewer)
    link = ClubLink(club=club, created_by=owner)
    link.expires_at = dt.datetime(2100, 1, 1, tzinfo=dt.UTC)
    link.renew_token()
    link.save()
    assert join(link=link, user=stranger) == club
    assert held[:2] == ["Club", "ClubLink"]
    held.clear()
    block(club=club, user=stranger)
    assert held[0] == "Club" and not club.memberships.filter(user=stranger).exists()


@pytest.fixture
def log(tank):
    """A light log whose one entry hangs a lamp."""
    return hang(make_light_change(tank)).change


@pytest.mark.parametrize("way", ["form", "done", "program", "correction"])
def test_who_writes_what_hangs_holds_the_tank_first(as_user, owner, tank, log, held, way):
    row = log.hung.get()
    lamp = row_of(row.fixture, number="1", height_cm="33")
    fixture = f"/api/v1/fixtures/{row.fixture_id}/"
    if way == "form":
        as_user(owner).post(reverse("light_change_edit", args=[log.pk]), rows(lamp, initial=1))
    elif way == "done":
        save_done(Done(What.RAISED, by_cm=3.0), tank=tank, by=owner, happened_at=timezone.now())
    elif way == "program":
        body = {"hung": [{"number": 1, "height_cm": 33}]}
        api(owner).patch(url(tank, log.pk), body, format="json")
    else:
        api(owner).patch(fixture, {"name": "New", "correct_hung": True}, format="json")
    assert held[0] == "Tank"
    assert HungFixture.objects.exclude(height_cm=20).exists() or way == "correction"


def test_a_deleted_change_is_taken_out_and_brought_back_while_its_tank_is_held(log, held):
    remove_light_change(change=log)
    restore_light_change(change=log)
    assert held == ["Tank", "Tank"]


def test_a_survey_taken_twice_at_once_comes_once(tank, owner, viewer):
    offer = make_survey_offer(make_club(owner, viewer), make_survey(tank), viewer)
    second = type(offer).objects.get(pk=offer.pk)
    mine = make_tank(viewer)
    take_survey(offer=offer, tank=mine, by=viewer)
    with pytest.raises(ValidationError, match="taken meanwhile"):
        take_survey(offer=second, tank=mine, by=viewer)
    assert mine.surveys.count() == 1


def test_a_search_that_is_stopped_keeps_how_far_another_turn_came(owner, tank):
    plan = make_layout_plan(owner, tank)
    advance_search(plan=plan, seconds=0)
    read_before = Plan.objects.get(pk=plan.pk)
    advance_search(plan=plan, seconds=0)
    stop_search(plan=read_before)
    stored = Plan.objects.get(pk=plan.pk).answer
    assert stored == {**plan.answer, "stopped": True} and read_before.answer == stored


def test_a_search_that_goes_on_keeps_what_is_stored(owner, tank):
    plan = make_layout_plan(owner, tank)
    advance_search(plan=plan, seconds=0)
    stop_search(plan=plan)
    read_before = Plan.objects.get(pk=plan.pk)
    newer = {**plan.answer, "step": plan.answer["step"] + 1}
    Plan.objects.filter(pk=plan.pk).update(answer=newer)
    resume_search(plan=read_before)
    assert Plan.objects.get(pk=plan.pk).answer == {**newer, "stopped": False, "broke": False}


def test_a_tick_is_taken_back_while_its_plan_is_held(tank, held):
    tick = make_tick(make_acclimation(make_coral(tank)), 1)
    untick(tick)
    assert held == ["Acclimation"] and not AcclimationTick.objects.exists()


def test_a_row_that_was_deleted_meanwhile_is_not_found(tank):
    tick = make_tick(make_acclimation(make_coral(tank)), 1)
    tick.acclimation.delete()
    with pytest.raises(Http404):
        untick(tick)


@pytest.fixture
def shared(tank):
    make_survey(tank)
    return make_link(tank, may_comment=True)


def test_comments_of_a_link_are_counted_while_it_is_held(as_user, stranger, shared, held):
    link, token = shared
    send(as_user(stranger), token)
    assert "ShareLink" in held and link.comments.count() == 1


def test_a_comment_that_stands_twice_already_is_no_error(as_user, stranger, shared):
    link, token = shared
    same = {"x_cm": 10, "y_cm": 12.5, "depth_cm": 20}
    for _ in range(2):
        comment_of(link, stranger, **same)
    assert send(as_user(stranger), token).status_code == 302
    assert link.comments.count() == 2 < COMMENTS_EACH


def test_a_comment_that_was_hidden_stands_when_it_is_sent_anew(as_user, stranger, shared):
    link, token = shared
    client = as_user(stranger)
    send(client, token)
    link.comments.get().hide(True)
    send(client, token)
    assert [comment.is_hidden for comment in link.comments.order_by("pk")] == [True, False]


def test_the_administration_takes_no_officer_from_a_club(client, owner, viewer):
    club = make_club(owner, viewer)
    place = club.memberships.get(user=owner)
    admin = make_user(is_staff=True, is_superuser=True)
    client.login(username=admin.email, password=PASSWORD)
    rows = {
        "TOTAL_FORMS": 2, "INITIAL_FORMS": 2, "0-id": place.pk, "0-club": club.pk,
        "0-user": owner.pk, "0-role": "member", "0-DELETE": "on",
        "1-id": club.memberships.get(user=viewer).pk, "1-club": club.pk,
        "1-user": viewer.pk, "1-role": "member",
    }  # fmt: skip
    sent = {f"memberships-{name}": value for name, value in rows.items()} | {"name": "Renamed"}
    client.post(reverse("admin:clubs_club_change", args=[club.pk]), sent)
    assert Membership.objects.get(pk=place.pk).role == "officer"

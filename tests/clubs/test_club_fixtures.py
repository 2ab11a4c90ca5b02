"""Lamps offered to a club: by their keeper's word, copied by members, gone with who leaves."""

import pytest
from django.urls import reverse

from apps.clubs.leaving import leave
from apps.lighting.models import Fixture, OfferedFixture, Optic, PhotometricFile
from tests.factories import make_club, make_fixture, make_offer, make_user
from tests.photics.photometric_files import LAMBERTIAN


@pytest.fixture
def member(db):
    return make_user()


@pytest.fixture
def club(owner, member):
    return make_club(owner, member)


def page(club):
    return reverse("club_fixtures", args=[club.pk])


def copy(as_user, user, offered):
    at = reverse("club_fixture_copy", args=[offered.club_id, offered.fixture_id])
    return as_user(user).post(at)


def test_a_member_offers_their_own_lamps_and_takes_them_back(as_user, owner, club):
    fixture = make_fixture(owner)
    as_user(owner).post(page(club), {"fixtures": [fixture.pk]})
    assert OfferedFixture.objects.get().fixture == fixture
    as_user(owner).post(page(club), {})
    assert not OfferedFixture.objects.exists()


def test_nobody_offers_anothers_lamp(as_user, owner, member, club):
    sent = as_user(member).post(page(club), {"fixtures": [make_fixture(owner).pk]})
    assert sent.status_code == 422 and not OfferedFixture.objects.exists()


def test_a_copy_is_a_lamp_of_ones_own(as_user, owner, member, club):
    fixture = make_fixture(owner, watts=90)
    copy(as_user, member, make_offer(club, fixture))
    own = Fixture.objects.owned_by(member).get()
    assert (own.name, own.watts) == (fixture.name, 90)
    own.name = "Mine"
    own.save()
    fixture.refresh_from_db()
    assert fixture.name != "Mine" and fixture.owner == owner


def test_a_copy_brings_its_photometric_file(as_user, owner, member, club):
    fixture = make_fixture(owner)
    PhotometricFile.objects.create(
        fixture=fixture, text=LAMBERTIAN.read_text(), told_as="LM-63", beam_deg=120,
        misplaced=0, upward=0,
    )  # fmt: skip
    Fixture.objects.filter(pk=fixture.pk).update(optic=Optic.FILE)
    copy(as_user, member, make_offer(club, fixture))
    own = Fixture.objects.owned_by(member).get()
    assert own.measured.text == fixture.measured.text and own.measured.pk != fixture.measured.pk


def test_a_copy_stays_when_the_offer_ends(as_user, owner, member, club):
    offered = make_offer(club, make_fixture(owner))
    copy(as_user, member, offered)
    leave(club=club, user=owner, successor=club.memberships.get(user=member))
    assert not OfferedFixture.objects.exists()
    assert Fixture.objects.owned_by(member).count() == 1
    assert as_user(owner).get(page(club)).status_code == 404


def test_a_lamp_taken_away_is_offered_no_more(as_user, owner, member, club):
    offered = make_offer(club, make_fixture(owner))
    offered.fixture.remove()
    assert copy(as_user, member, offered).status_code == 404
    assert not as_user(member).get(page(club)).context["offers"]


@pytest.mark.parametrize(("who", "status"), [("owner", 200), ("member", 200), ("stranger", 404)])
def test_the_club_sees_its_lamps_and_nobody_else(request, as_user, club, who, status):
    offered = make_offer(club, make_fixture(club.memberships.first().user, name="Long bar"))
    answer = as_user(request.getfixturevalue(who)).get(page(offered.club))
    assert answer.status_code == status
    assert ("Long bar" in answer.content.decode()) == (status == 200)


def test_a_stranger_copies_nothing(as_user, owner, stranger, club):
    assert copy(as_user, stranger, make_offer(club, make_fixture(owner))).status_code == 404
    assert not Fixture.objects.owned_by(stranger).exists()


def test_the_clubs_page_names_its_lamps(as_user, owner, club):
    make_offer(club, make_fixture(owner, name="Long bar"))
    shown = as_user(owner).get(reverse("club_detail", args=[club.pk])).context["parts"]
    part = next(part for part in shown if part.key == "fixtures")
    assert [line.title for line in part.lines] == ["Long bar"]

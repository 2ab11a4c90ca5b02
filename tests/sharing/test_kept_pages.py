"""A shared map is made once and sent packed; the link is asked for each time."""

import gzip

import pytest
from django.db import connection
from django.test import Client
from django.test.utils import CaptureQueriesContext
from django.urls import reverse

from apps.corals.models import Coral
from apps.sharing.models import ShareLink
from tests.factories import make_coral, make_lit_survey
from tests.test_every_address import link_of


@pytest.fixture
def opened(tank, kept_folder):
    """A link and its address, opened once."""
    make_lit_survey(tank)
    make_coral(tank)
    link = link_of(ShareLink, tank=tank)
    token = link.renew_token()
    link.save()
    address = reverse("shared_map", args=[token])
    assert Client().get(address).status_code == 200
    return link, address


def test_it_is_looked_up_and_counted_in_few_queries(opened):
    link, address = opened
    with CaptureQueriesContext(connection) as queries:
        answer = Client().get(address)
    assert answer.status_code == 200 and not answer.cookies
    assert len(queries) <= 4
    link.refresh_from_db()
    assert link.openings == 2


def test_it_is_packed_for_those_who_unpack(opened):
    _, address = opened
    plain = Client().get(address)
    packed = Client(headers={"Accept-Encoding": "gzip"}).get(address)
    assert packed["Content-Encoding"] == "gzip" and "Accept-Encoding" in packed["Vary"]
    assert gzip.decompress(packed.content) == plain.content
    assert "Content-Encoding" not in plain
    assert int(packed["Content-Length"]) == len(packed.content) < len(plain.content) / 3


def test_what_is_revoked_or_changed_is_so_at_once(opened, tank):
    link, address = opened
    name = tank.corals.get().name.encode()
    assert name in Client().get(address).content
    Coral.objects.filter(tank=tank).update(name="Quite another")
    assert b"Quite another" in Client().get(address).content
    ShareLink.objects.filter(pk=link.pk).update(show_corals=False)
    assert b"Quite another" not in Client().get(address).content
    link.refresh_from_db()
    link.delete()
    assert Client().get(address).status_code == 404


def test_a_members_page_is_no_visitors(opened, owner, as_user):
    _, address = opened
    keeper = f'data-keeper="{owner.pk}"'.encode()
    assert keeper in as_user(owner).get(address).content
    assert keeper not in Client().get(address).content

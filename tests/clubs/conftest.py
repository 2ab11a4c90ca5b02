"""The cast of a club: an officer, a member, one who left, one who is blocked; beside the stranger.

The officer is the `owner` of `tank`, as in all tests.
"""

import pytest

from apps.clubs.leaving import block, leave
from tests.factories import make_club, make_user


@pytest.fixture
def member(db):
    return make_user(email="member@example.org", display_name="Merle")


@pytest.fixture
def ex_member(db):
    return make_user(email="ex@example.org", display_name="Exel")


@pytest.fixture
def blocked(db):
    return make_user(email="blocked@example.org", display_name="Blasius")


@pytest.fixture
def club(owner, member, ex_member, blocked):
    club = make_club(owner, member, ex_member, blocked)
    leave(club=club, user=ex_member)
    block(club=club, user=blocked)
    return club

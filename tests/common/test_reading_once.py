"""Reads shared by the parts of one page, and never by anything after it."""

from unittest import mock

import pytest
from django.urls import reverse

from apps.common.reading_once import read_once, reading_once
from apps.lighting.history import light_history
from apps.lighting.rig_reading import read_rigs
from tests.factories import make_light_change, make_survey


def reader():
    made = []

    def read():
        made.append(len(made))
        return made[-1]

    return read


def test_same_key_is_read_once_within():
    read = reader()
    with reading_once():
        assert [read_once("a", read), read_once("a", read), read_once("b", read)] == [0, 0, 1]


def test_outside_every_read_is_made_anew():
    read = reader()
    assert [read_once("a", read), read_once("a", read)] == [0, 1]


def test_an_inner_one_shares_with_the_outer_one_and_nothing_stays_behind():
    read = reader()
    with reading_once():
        with reading_once():
            read_once("a", read)
        assert read_once("a", read) == 0
    assert read_once("a", read) == 1


def test_a_failing_page_leaves_nothing_behind():
    read = reader()
    with pytest.raises(ZeroDivisionError), reading_once():
        read_once("a", read)
        raise ZeroDivisionError
    assert read_once("a", read) == 1


@pytest.mark.django_db
def test_light_log_of_a_page_is_read_once_for_each_tank(tank, django_assert_num_queries):
    make_light_change(tank)
    with reading_once(), django_assert_num_queries(3):
        assert light_history(tank) is light_history(tank)


@pytest.mark.django_db
@pytest.mark.parametrize("page", ["light_change_list", "survey_review"])
def test_pages_that_need_the_light_log_twice_read_its_rows_once(as_user, owner, tank, page):
    make_light_change(tank)
    surveys = [make_survey(tank), make_survey(tank)]
    key = surveys[-1].pk if page == "survey_review" else tank.pk
    with mock.patch("apps.lighting.rig_reading.read_rigs", wraps=read_rigs) as read:
        assert as_user(owner).get(reverse(page, args=[key])).status_code == 200
    assert read.call_count == 1

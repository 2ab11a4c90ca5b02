"""Which sent forms a page may forget: only those the server took."""

import pytest

from apps.common.drafts import COOKIE, MARKS_MOST
from tests.common.test_idempotency import SHOWN_ONCE
from tests.test_every_address import Rows

MARK = "0123456789abcdef" * 2


def send(client, address, **more):
    return client.post(address, {"name": "x", "draft_mark": MARK, **more})


def says_taken(client, address="/tanks/"):
    return f'data-taken-drafts="{MARK}"' in client.get(address).content.decode()


def test_a_form_that_led_on_is_told_as_taken(as_user, owner, tank):
    client = as_user(owner)
    send(client, f"/tanks/{tank.pk}/remove/")
    assert says_taken(client)


@pytest.mark.parametrize("name", sorted(SHOWN_ONCE))
def test_an_answer_that_shows_an_address_once_says_its_form_was_taken(as_user, owner, tank, name):
    client = as_user(owner)
    answer = client.post(Rows(tank).address(name), {"days": "30", "draft_mark": MARK})
    assert answer.status_code == 302 or f'data-taken-drafts="{MARK}"' in answer.content.decode()
    assert says_taken(client)


def test_a_link_that_was_refused_keeps_its_draft(as_user, owner, tank):
    client = as_user(owner)
    refused = {"days": "never", "draft_mark": MARK}
    assert client.post(f"/tanks/{tank.pk}/sharing/new/", refused).status_code == 422
    assert not says_taken(client)


def test_a_refused_form_is_not(as_user, owner):
    client = as_user(owner)
    assert send(client, "/tanks/new/").status_code == 422
    assert not says_taken(client)


def test_a_form_sent_when_the_sign_in_had_run_out_is_not(client, as_user, owner, tank):
    response = send(client, f"/tanks/{tank.pk}/edit/")
    assert response.status_code == 302 and COOKIE not in response.cookies


def test_a_form_a_stranger_or_viewer_sent_is_not(as_user, stranger, viewer, tank):
    for user, status in ((stranger, 404), (viewer, 403)):
        response = send(as_user(user), f"/tanks/{tank.pk}/remove/")
        assert response.status_code == status and COOKIE not in response.cookies


@pytest.mark.parametrize("mark", ["", "x" * 32, MARK + "0", '"><script>'])
def test_what_is_no_mark_is_passed_over(as_user, owner, tank, mark):
    response = as_user(owner).post(f"/tanks/{tank.pk}/remove/", {"draft_mark": mark})
    assert response.status_code in (302, 303) and COOKIE not in response.cookies


def test_marks_do_not_pile_up(as_user, owner, tank):
    client = as_user(owner)
    for i in range(MARKS_MOST + 5):
        client.post(f"/tanks/{tank.pk}/remove/", {"draft_mark": f"{i:032x}"})
        client.post(f"/tanks/{tank.pk}/restore/")
    assert len(client.cookies[COOKIE].value.split(".")) == MARKS_MOST


def test_the_page_kept_for_all_tells_nothing(as_user, owner, tank):
    client = as_user(owner)
    send(client, f"/tanks/{tank.pk}/remove/")
    assert not says_taken(client, "/surveys/enter/")

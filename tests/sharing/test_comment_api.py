"""Comments over the API: the tank's owner reads, hides and deletes them, and nobody else."""

import pytest
from django.db import connection
from django.test.utils import CaptureQueriesContext

from apps.sharing.models import Comment, CommentReport, ShareLink
from tests.factories import make_tank, make_user
from tests.sharing.test_link_api import api, program
from tests.test_every_address import link_of, make_comment


@pytest.fixture
def comment(tank):
    return make_comment(link_of(ShareLink, tank=tank))


def comments_of(tank, pk=None):
    return f"/api/v1/tanks/{tank.pk}/comments/" + (f"{pk}/" if pk else "")


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 403), ("viewer", 403), ("stranger", 404)]
)
def test_the_owner_alone_sees_and_hides_them(request, tank, comment, who, status):
    client = api(request.getfixturevalue(who))
    assert client.get(comments_of(tank)).status_code == status
    sent = client.patch(comments_of(tank, comment.pk), {"is_hidden": True}, format="json")
    comment.refresh_from_db()
    assert sent.status_code == status and (comment.hidden_at is not None) == (status == 200)


def test_what_is_said_and_by_whom_is_told(owner, tank, comment):
    CommentReport.objects.create(comment=comment, reporter=make_user())
    (row,) = api(owner).get(comments_of(tank)).data["results"]
    assert (row["text"], row["link"], row["author"]) == (
        comment.text,
        comment.link_id,
        comment.author.shown_name(),
    )
    assert (row["is_hidden"], row["reports"]) == (False, 1)


def test_many_take_no_more_queries_than_one(owner, tank, comment, django_assert_num_queries):
    client = api(owner)
    with CaptureQueriesContext(connection) as of_one:
        client.get(comments_of(tank))
    for _ in range(3):
        make_comment(comment.link)
    with django_assert_num_queries(len(of_one)):
        assert len(client.get(comments_of(tank)).data["results"]) == 4


def test_a_hidden_one_is_shown_again_and_keeps_when_it_was_hidden(owner, tank, comment):
    address = comments_of(tank, comment.pk)
    for _ in range(2):
        assert api(owner).patch(address, {"is_hidden": True}, format="json").data["is_hidden"]
        first = Comment.objects.get().hidden_at
        assert first and not Comment.objects.shown().exists()
    assert Comment.objects.get().hidden_at == first
    shown = api(owner).patch(address, {"is_hidden": False}, format="json")
    assert shown.data["is_hidden"] is False and Comment.objects.get().hidden_at is None


@pytest.mark.parametrize("said", [{"text": "Dim."}, {"is_hidden": None}, {"is_hidden": "so"}])
def test_nobodys_words_are_changed(owner, tank, comment, said):
    sent = api(owner).patch(comments_of(tank, comment.pk), said, format="json")
    comment.refresh_from_db()
    assert comment.text == "Bright here." and comment.hidden_at is None
    assert sent.status_code == 400


@pytest.mark.parametrize(("scope", "status"), [("read", 403), ("share", 204), ("write", 204)])
def test_a_token_to_share_may_delete_one(owner, tank, comment, scope, status):
    sent = program(owner, scope).delete(comments_of(tank, comment.pk))
    assert sent.status_code == status and Comment.objects.exists() == (status == 403)


def test_one_of_another_tank_is_not_found(owner, comment):
    other = make_tank(owner)
    assert api(owner).get(comments_of(other, comment.pk)).status_code == 404

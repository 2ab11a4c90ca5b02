"""Comments on points of a shared map: who makes, sees, reports, hides and deletes them."""

from importlib import import_module

import pytest
from django.apps import apps
from django.db import connection
from django.test import Client
from django.urls import reverse

from apps.sharing.models import COMMENTS_EACH, Comment, CommentReport
from apps.sharing.views import owners_comments
from tests.factories import make_lit_survey, make_tank, make_user
from tests.sharing.links import make_link

WORDS = "Much brighter here than I thought"


@pytest.fixture
def lit_tank(tank):
    make_lit_survey(tank)
    return tank


@pytest.fixture
def shared(lit_tank):
    return make_link(lit_tank, may_comment=True)


def page(token):
    return reverse("shared_map", args=[token])


def send(client, token, **fields):
    place = {"comment-x_cm": "10", "comment-y_cm": "12.5", "comment-depth_cm": "20"}
    data = place | {"comment-text": WORDS} | {f"comment-{k}": v for k, v in fields.items()}
    return client.post(reverse("shared_comment_new", args=[token]), data)


def comment_of(link, author, **fields):
    place = {"x_cm": 10, "y_cm": 10, "depth_cm": 10}
    return Comment.objects.create(link=link, author=author, **(place | {"text": WORDS} | fields))


def rule(client, what, comment):
    return client.post(reverse(what, args=[comment.pk]))


def sent_to(client, what, token, comment):
    return client.post(reverse(what, args=[token, comment.pk]))


def test_a_signed_in_visitor_comments_on_a_point_that_all_see_on_the_map(
    as_user, stranger, shared, client
):
    link, token = shared
    answer = send(as_user(stranger), token)
    assert answer.status_code == 302 and answer.url == page(token)
    (comment,) = link.comments.all()
    assert (comment.x_cm, comment.y_cm, comment.depth_cm) == (10, 12.5, 20)
    seen = client.get(page(token))
    (one,) = seen.context["comments"]
    assert one.comment == comment and one.letter == "A"
    assert [mark.text for mark in seen.context["page"].planes.plan.spots] == ["A"]
    body = seen.content.decode()
    assert WORDS in body and stranger.display_name in body and stranger.email not in body


def test_nobody_without_an_account_comments(client, shared):
    link, token = shared
    answer = send(client, token)
    assert answer.status_code == 302 and reverse("account_login") in answer.url
    assert not link.comments.exists()
    assert "comment-new" not in client.get(page(token)).content.decode()


def test_a_link_that_takes_none_neither_shows_nor_stores_any(as_user, stranger, lit_tank):
    link, token = make_link(lit_tank)
    comment_of(link, stranger)
    reader = as_user(stranger)
    assert send(reader, token).status_code == 404 and link.comments.count() == 1
    assert WORDS not in reader.get(page(token)).content.decode()


def test_comments_of_one_link_are_not_shown_by_another(as_user, stranger, lit_tank, shared):
    comment_of(shared[0], stranger)
    _, other = make_link(lit_tank, may_comment=True)
    assert WORDS not in as_user(stranger).get(page(other)).content.decode()


@pytest.mark.parametrize(
    ("field", "value"),
    [("text", ""), ("x_cm", "4000"), ("x_cm", "left"), ("depth_cm", ""), ("text", "x" * 1001)],
)
def test_what_is_wrong_stands_at_its_field_and_nothing_typed_is_lost(
    as_user, stranger, shared, field, value
):
    link, token = shared
    answer = send(as_user(stranger), token, **{field: value})
    assert answer.status_code == 422 and not link.comments.exists()
    form = answer.context["comment_form"]
    assert list(form.errors) == [field] and form[field].value() == value
    assert 'name="comment-y_cm" value="12.5"' in answer.content.decode()


def test_sent_twice_it_stands_once(as_user, stranger, shared):
    reader = as_user(stranger)
    send(reader, shared[1])
    send(reader, shared[1])
    assert shared[0].comments.count() == 1


def test_one_keeper_makes_only_so_many(as_user, stranger, shared):
    link, token = shared
    for number in range(COMMENTS_EACH):
        comment_of(link, stranger, text=f"{number}")
    assert send(as_user(stranger), token).status_code == 422
    assert send(as_user(make_user()), token).status_code == 302


def test_a_reader_reports_once_and_the_owner_sees_it(
    as_user, owner, stranger, viewer, shared, lit_tank
):
    link, token = shared
    comment = comment_of(link, stranger)
    for _ in range(2):
        assert sent_to(as_user(viewer), "shared_comment_report", token, comment).status_code == 302
    assert CommentReport.objects.count() == 1
    listed = as_user(owner).get(reverse("share_link_list", args=[lit_tank.pk]))
    assert [row.report_count for row in listed.context["comments"]] == [1]
    assert 'data-reports="1"' in listed.content.decode()


def test_its_author_deletes_it_and_nobody_else_does_by_the_link(
    as_user, stranger, viewer, owner, shared
):
    link, token = shared
    comment = comment_of(link, stranger)
    for other in (viewer, owner):
        assert sent_to(as_user(other), "shared_comment_remove", token, comment).status_code == 404
    assert sent_to(as_user(stranger), "shared_comment_remove", token, comment).status_code == 302
    assert not link.comments.exists()


def test_a_hidden_comment_is_the_owners_alone_until_shown_again(
    as_user, owner, stranger, shared, client
):
    link, token = shared
    comment = comment_of(link, stranger)
    rule(as_user(owner), "comment_hide", comment)
    assert WORDS not in client.get(page(token)).content.decode()
    assert sent_to(as_user(stranger), "shared_comment_report", token, comment).status_code == 404
    listed = as_user(owner).get(reverse("share_link_list", args=[link.tank_id])).content.decode()
    assert WORDS in listed
    rule(as_user(owner), "comment_hide", comment)
    assert WORDS in client.get(page(token)).content.decode()


def test_only_the_tanks_owner_hides_and_deletes(
    as_user, owner, co_keeper, viewer, stranger, shared
):
    comment = comment_of(shared[0], co_keeper)
    for what in ("comment_hide", "comment_remove"):
        for who, status in ((co_keeper, 403), (viewer, 403), (stranger, 404)):
            assert rule(as_user(who), what, comment).status_code == status
    comment.refresh_from_db()
    assert comment.hidden_at is None
    rule(as_user(owner), "comment_remove", comment)
    assert not Comment.objects.exists()


def test_a_revoked_link_shows_and_takes_nothing(as_user, stranger, shared):
    link, token = shared
    comment = comment_of(link, stranger)
    link.revoke()
    reader = as_user(stranger)
    answers = [
        send(reader, token), reader.get(page(token)),
        sent_to(reader, "shared_comment_report", token, comment),
    ]  # fmt: skip
    assert [a.status_code for a in answers] == [404] * 3 and link.comments.count() == 1
    assert all(WORDS not in a.content.decode() for a in answers)


def test_a_comment_on_another_link_is_none_of_this_one(as_user, stranger, shared):
    foreign, _ = make_link(make_tank(make_user()), may_comment=True)
    comment = comment_of(foreign, stranger)
    for what in ("shared_comment_report", "shared_comment_remove"):
        assert sent_to(as_user(stranger), what, shared[1], comment).status_code == 404


def test_a_locked_link_takes_comments_only_after_its_passphrase(as_user, owner, stranger, lit_tank):
    form = {"days": 30, "may_comment": "on", "passphrase": "gentle tide"}
    made = as_user(owner).post(reverse("share_link_new", args=[lit_tank.pk]), form)
    token = made.context["address"].rstrip("/").rsplit("/", 1)[1]
    reader = as_user(stranger)
    assert send(reader, token).status_code == 403 and not Comment.objects.exists()
    reader.post(reverse("shared_unlock", args=[token]), {"passphrase": "gentle tide"})
    assert send(reader, token).status_code == 302 and Comment.objects.count() == 1


def test_a_visitor_gets_no_cookie_by_a_page_with_comments(stranger, shared):
    comment_of(shared[0], stranger)
    assert not Client().get(page(shared[1])).cookies


def new_lines(client, tank):
    """Return the addresses to which what is new of comments leads, on the tank's page."""
    page = client.get(reverse("tank_detail", args=[tank.pk]))
    return [line.url for line in page.context["due"] if line.key == "comments"]


def test_a_new_comment_calls_its_owner_until_it_is_read(as_user, owner, stranger, lit_tank, shared):
    comment = comment_of(shared[0], stranger)
    client, share = as_user(owner), reverse("share_link_list", args=[lit_tank.pk])
    assert new_lines(client, lit_tank) == [f"{share}#comment-{comment.pk}"]
    client.head(share)
    assert new_lines(client, lit_tank)
    assert client.get(share).context["new_comments"] == {comment.pk}
    assert new_lines(client, lit_tank) == []
    assert client.get(share).context["new_comments"] == set()


def test_a_comment_that_comes_while_the_list_is_made_stays_unread(
    as_user, owner, stranger, lit_tank, shared, monkeypatch
):
    def listed(tank):
        before = list(owners_comments(tank))
        comment_of(shared[0], stranger, text="Meanwhile")
        return before

    comment_of(shared[0], stranger)
    monkeypatch.setattr("apps.sharing.views.owners_comments", listed)
    as_user(owner).get(reverse("share_link_list", args=[lit_tank.pk]))
    assert [one.text for one in Comment.objects.new_to_owner()] == ["Meanwhile"]


def test_comments_from_before_their_reading_was_kept_are_new_to_nobody(stranger, shared):
    comment = comment_of(shared[0], stranger)
    migration = import_module("apps.sharing.migrations.0009_comment_read_at")
    migration.read_all_there_are(apps, connection.schema_editor())
    comment.refresh_from_db()
    assert comment.read_at == comment.created_at


def test_comments_call_the_owner_alone_and_not_of_their_own(
    as_user, owner, co_keeper, viewer, stranger, lit_tank, shared
):
    comment_of(shared[0], owner, text="My own")
    assert new_lines(as_user(owner), lit_tank) == []
    comment_of(shared[0], stranger)
    for other in (co_keeper, viewer):
        client = as_user(other)
        assert new_lines(client, lit_tank) == []
        client.get(reverse("share_link_list", args=[lit_tank.pk]))
    assert len(new_lines(as_user(owner), lit_tank)) == 1


def test_a_hidden_comment_calls_nobody(as_user, owner, stranger, lit_tank, shared):
    comment = comment_of(shared[0], stranger)
    rule(as_user(owner), "comment_hide", comment)
    assert new_lines(as_user(owner), lit_tank) == []


def test_a_kept_shared_map_shows_a_comment_at_once(
    kept_folder, as_user, stranger, viewer, shared, client
):
    link, token = shared
    assert WORDS not in client.get(page(token)).content.decode()
    comment = comment_of(link, stranger)
    assert WORDS in client.get(page(token)).content.decode()
    comment.delete()
    assert WORDS not in client.get(page(token)).content.decode()


def test_of_many_comments_the_last_two_stand_open(client, stranger, shared):
    for number in range(6):
        comment_of(shared[0], stranger, text=f"Remark {number}")
    body = client.get(page(shared[1])).content.decode()
    earlier, _, last = body.partition('id="comments-earlier"')[2].partition("</details>")
    assert [n for n in range(6) if f"Remark {n}" in earlier] == [0, 1, 2, 3]
    assert [n for n in range(6) if f"Remark {n}" in last] == [4, 5]

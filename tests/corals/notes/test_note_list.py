"""All notes of a tank: by pages, searched, and who may look."""

import datetime as dt

import pytest
from django.urls import reverse

from apps.corals.notes.list_views import NOTES_A_PAGE
from tests.factories import make_coral, make_note, make_tank


def listed(client, tank, **query):
    answer = client.get(reverse("note_list", args=[tank.pk]), query)
    return [note.pk for note in answer.context["page"]]


@pytest.fixture
def notes(tank, owner, co_keeper):
    """Return (older, newer) notes of two corals by two keepers."""
    since = tank.today() - dt.timedelta(days=60)
    blue, red = (make_coral(tank, name=name, added_on=since) for name in ("Blue", "Red"))
    older = make_note(
        blue, noted_on=tank.today() - dt.timedelta(days=30), seen="paling",
        also_seen=["polyps_in"], text="Tips look washed out", created_by=owner,
    )  # fmt: skip
    newer = make_note(red, noted_on=tank.today(), seen="browning", text="", created_by=co_keeper)
    return older, newer


@pytest.mark.parametrize("who", ["owner", "co_keeper", "viewer"])
def test_those_let_in_read_all_notes_newest_first(request, as_user, tank, notes, who):
    client = as_user(request.getfixturevalue(who))
    assert listed(client, tank) == [notes[1].pk, notes[0].pk]


def test_stranger_finds_no_notes(as_user, stranger, tank, notes):
    assert as_user(stranger).get(reverse("note_list", args=[tank.pk])).status_code == 404


@pytest.mark.parametrize(
    "query",
    [{"sign": "paling"}, {"sign": "polyps_in"}, {"words": "WASHED"}, {"words": "tips look"}],
)
def test_notes_are_found_by_sign_and_words(as_user, owner, tank, notes, query):
    assert listed(as_user(owner), tank, **query) == [notes[0].pk]


def test_notes_are_found_by_coral_writer_and_span(as_user, owner, tank, notes):
    older, newer = notes
    client, day = as_user(owner), older.noted_on.isoformat()
    assert listed(client, tank, coral=newer.coral_id) == [newer.pk]
    assert listed(client, tank, who=older.created_by_id) == [older.pk]
    page = client.get(reverse("note_list", args=[tank.pk]))
    assert [str(label) for _, label in page.context["form"].fields["who"].choices][1:] == [
        str(note.created_by) for note in sorted(notes, key=lambda n: n.created_by_id)
    ]
    assert listed(client, tank, until=day) == [older.pk]
    assert listed(client, tank, since=newer.noted_on.isoformat()) == [newer.pk]
    assert listed(client, tank, since=day, until=day, words="tips") == [older.pk]


def test_corals_and_writers_of_other_tanks_are_no_choice(as_user, owner, tank, notes):
    other = make_coral(make_tank(), name="Elsewhere")
    answer = as_user(owner).get(reverse("note_list", args=[tank.pk]), {"coral": other.pk})
    assert answer.status_code == 422 and "coral" in answer.context["form"].errors


@pytest.mark.parametrize("query", [{"since": "soon"}, {"who": "x"}, {"sign": "x"}])
def test_bad_search_is_told_at_its_field(as_user, owner, tank, notes, query):
    answer = as_user(owner).get(reverse("note_list", args=[tank.pk]), query)
    assert answer.status_code == 422 and set(answer.context["form"].errors) == set(query)


def test_page_says_who_wrote_each_note(as_user, viewer, tank, notes):
    page = as_user(viewer).get(reverse("note_list", args=[tank.pk])).content.decode()
    assert "Ottilie" in page and "Cornelis" in page and "@" not in page.split("<main")[1]


def test_corals_page_says_who_wrote_a_note(as_user, viewer, tank, notes):
    url = reverse("coral_detail", args=[notes[1].coral_id])
    assert "Cornelis" in as_user(viewer).get(url).content.decode()


def test_many_notes_come_by_pages_with_the_search_kept(
    as_user, owner, tank, notes, django_assert_max_num_queries
):
    for _ in range(2 * NOTES_A_PAGE):
        make_note(notes[0].coral, seen="growth", created_by=owner)
    client = as_user(owner)
    with django_assert_max_num_queries(12):
        first = listed(client, tank, sign="growth")
    second = listed(client, tank, sign="growth", page=2)
    assert len(first) == len(second) == NOTES_A_PAGE and not set(first) & set(second)

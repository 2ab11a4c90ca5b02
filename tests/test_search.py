"""The search finds what a keeper may see, and nothing else."""

import pytest
from django.urls import reverse

from apps.common.searching.hits import HITS_MAX, QUERY_CHARS_MAX, excerpt
from tests.factories import make_coral, make_note, make_tank
from tests.planning.questions import make_layout_plan

WORD = "tangerine"


@pytest.fixture
def named(tank):
    """A tank, a coral, a note and a plan that all bear one rare word."""
    tank.name = f"The {WORD} tank"
    tank.save()
    coral = make_coral(tank, name=f"{WORD.capitalize()} stag")
    make_note(coral, text=f"The tips look {WORD} under the new lens.")
    plan = make_layout_plan(tank.owner, tank)
    plan.name = f"More {WORD}"
    plan.save()
    return tank


def groups(client, query):
    """Return {key of a group: the addresses of its hits}."""
    response = client.get(reverse("search"), {"q": query})
    assert response.status_code == 200
    return {group.key: [hit.url for hit in group.hits] for group in response.context["groups"]}


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_readers_of_a_tank_find_what_lies_in_it(as_user, named, reader, request):
    hits = groups(as_user(request.getfixturevalue(reader)), WORD)
    assert {key: len(urls) for key, urls in hits.items()} == {
        "tanks": 1,
        "corals": 1,
        "notes": 1,
        "plans": 1,
    }


def test_stranger_finds_nothing(as_user, stranger, named):
    assert groups(as_user(stranger), WORD) == {}


def test_visitor_is_sent_to_sign_in(client, named):
    assert client.get(reverse("search"), {"q": WORD}).status_code == 302


def test_what_a_hit_leads_to_opens(as_user, viewer, named):
    client = as_user(viewer)
    urls = [url for hits in groups(client, WORD).values() for url in hits]
    assert {client.get(url).status_code for url in urls} == {200}


def test_a_plan_without_a_tank_is_its_keepers_own(as_user, owner, co_keeper, named):
    plan = make_layout_plan(owner, None)
    plan.name = "Kumquat"
    plan.save()
    assert groups(as_user(owner), "kumquat") == {"plans": [plan.get_absolute_url()]}
    assert groups(as_user(co_keeper), "kumquat") == {}


def test_what_was_deleted_is_not_found(as_user, owner, tank):
    coral = make_coral(tank, name="Quince plate")
    note = make_note(make_coral(tank), text="A quince smell.")
    coral.remove()
    note.remove()
    assert groups(as_user(owner), "quince") == {}


def test_all_words_count_and_their_order_does_not(as_user, owner, tank):
    coral = make_coral(tank, name="Cream staghorn")
    make_coral(tank, name="Cream table")
    page = reverse("coral_detail", args=[coral.pk])
    assert groups(as_user(owner), "STAG  cream") == {"corals": [page]}


def test_letters_with_accents_match_in_either_case(as_user, owner, tank):
    make_coral(tank, name="Äpfelchen")
    assert len(groups(as_user(owner), "äpfel")["corals"]) == 1


def test_signs_of_the_database_are_plain_letters(as_user, owner, tank):
    make_coral(tank, name="Plain")
    assert groups(as_user(owner), "%%") == groups(as_user(owner), "__") == {}


def test_a_long_list_ends_and_says_so(as_user, owner, tank):
    for i in range(HITS_MAX + 1):
        make_coral(tank, name=f"Medlar {i}")
    response = as_user(owner).get(reverse("search"), {"q": "medlar"})
    (group,) = response.context["groups"]
    assert len(group.hits) == HITS_MAX and group.more


def test_each_kind_costs_one_query(as_user, owner, named, django_assert_max_num_queries):
    client = as_user(owner)
    for i in range(5):
        make_note(make_coral(make_tank(owner), name=f"{WORD} {i}"), text=WORD)
    # Session and user besides.
    with django_assert_max_num_queries(7):
        groups(client, WORD)


@pytest.mark.parametrize("query", ["a", "x" * (QUERY_CHARS_MAX + 1), "nul\x00"])
def test_a_query_nobody_means_is_answered_at_its_field(as_user, owner, query):
    response = as_user(owner).get(reverse("search"), {"q": query})
    assert response.status_code == 422 and b'id="id_q_error"' in response.content


def test_an_empty_page_asks_for_nothing(as_user, owner, named):
    assert groups(as_user(owner), "  ") == {}


def test_an_excerpt_shows_the_word_that_was_looked_for():
    text = "Nothing yet. " * 40 + "Then the polyps came out. " + "And so on. " * 40
    part = excerpt(text, "POLYPS")
    assert "polyps" in part and part.startswith("…") and part.endswith("…")

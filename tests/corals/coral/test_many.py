"""Adding many corals at once, and finding one among them."""

import pytest
from django.urls import reverse

from apps.corals.coral.many_importing import parse_corals
from apps.corals.models import Coral
from tests.factories import make_coral

LINES = "Cream staghorn; SPS; 22; 27; 10; Acropora; Tjark\nGrey leather; soft\n"


def post(client, tank, text, **more):
    data = {"text": text, "added_on": tank.today().isoformat(), "unit": "cm"}
    return client.post(reverse("coral_many", args=[tank.pk]), data | more, follow=True)


@pytest.mark.parametrize(
    ("who", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_add_many(request, as_user, tank, who, status):
    client = as_user(request.getfixturevalue(who))
    assert client.get(reverse("coral_many", args=[tank.pk])).status_code == status
    assert post(client, tank, LINES).status_code == status
    assert Coral.objects.count() == 2 * (status == 200)


def test_lines_become_corals_with_spots(as_user, owner, tank):
    post(as_user(owner), tank, "name;group;left\n" + LINES)
    first, second = Coral.objects.all()
    spot = first.spots.get()
    assert (first.group, first.genus, first.came_from) == ("sps", "Acropora", "Tjark")
    assert (spot.x_cm, spot.y_cm, spot.depth_cm, spot.since) == (22, 27, 10, first.added_on)
    assert (second.name, second.group, second.spots.count()) == ("Grey leather", "soft", 0)


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("; SPS", "name is missing"),
        ("Blue; fish", "none of the groups"),
        ("Blue, SPS, 10, 10, 10", "parted by the same sign"),
        ("Blue; SPS; 10; 10", "all three numbers"),
        ("Blue; SPS; 10; left; 10", "not a number"),
        ("Blue; SPS; 99; 10; 10", "Outside the water"),
        ("Grey leather; LPS", "in the list already"),
        ("Blue; SPS; 1; 2; 3; Acropora; Tjark; more", "8 columns where 7 fit"),
    ],
)
def test_bad_line_is_named_and_nothing_is_added(as_user, owner, tank, line, said):
    answer = post(as_user(owner), tank, LINES + line)
    page = answer.content.decode()
    assert answer.status_code == 422 and said in page and "Line 3" in page
    assert "Cream staghorn; SPS" in page and not Coral.objects.exists()


def test_good_ones_are_added_alone_when_asked(as_user, owner, tank):
    answer = post(as_user(owner), tank, LINES + "Blue; fish", good_only="1")
    assert Coral.objects.count() == 2
    assert answer.context["form"]["text"].value() == "Blue; fish"


def test_sent_twice_adds_nobody_twice(as_user, owner, tank):
    client = as_user(owner)
    post(client, tank, LINES)
    again = post(client, tank, LINES).context
    assert (len(again["bad"]), again["good_count"]) == (2, 0)
    assert Coral.objects.count() == 2


def test_lengths_follow_the_unit(tank):
    (new,) = parse_corals(
        "Blue; SPS; 10; 10; 12 cm", tank=tank, added_on=tank.today(), unit="in", names=[]
    ).good
    assert (new.spot.x_cm, new.spot.depth_cm) == (25.4, 12)


def test_place_outside_is_told_in_the_unit(tank):
    (bad,) = parse_corals(
        "Blue; SPS; 99; 10; 4", tank=tank, added_on=tank.today(), unit="in", names=[]
    ).bad
    assert "23 5/8 in" in bad.problem


@pytest.mark.parametrize("text", ["", "\n;;\n", "Blue; SPS\n" * 501])
def test_nothing_or_too_much_is_told(as_user, owner, tank, text):
    answer = post(as_user(owner), tank, text)
    assert answer.status_code == 422 and "field__error" in answer.content.decode()


@pytest.mark.parametrize("query", ["stag", "ACRO", "sps"])
def test_search_finds_by_name_genus_and_group(as_user, owner, tank, query):
    make_coral(tank, name="Cream staghorn", genus="Acropora", group="sps")
    make_coral(tank, name="Grey leather", group="soft")
    url = reverse("coral_list", args=[tank.pk])
    page = as_user(owner).get(f"{url}?q={query}").content.decode()
    assert "Cream staghorn" in page and "Grey leather" not in page


def test_search_without_a_find_says_so(as_user, owner, tank):
    make_coral(tank)
    url = reverse("coral_list", args=[tank.pk])
    page = as_user(owner).get(f"{url}?q=zzz")
    assert not page.context["groups"] and "“zzz”" in page.content.decode()

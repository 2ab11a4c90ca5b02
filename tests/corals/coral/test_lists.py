"""The coral list and a coral's page: what is said first, once, and only when asked for."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.corals.coral.views import NOTES_AT_FIRST
from apps.corals.plan import spot_plan
from apps.lightmap.pins import pins_for
from tests.factories import make_coral, make_light_change, make_note, make_rock, make_survey


def list_page(client, tank):
    return client.get(reverse("coral_list", args=[tank.pk]))


@pytest.fixture
def four_states(tank):
    """One coral in each state: a band set round, over and under the light, and no spot."""
    make_survey(tank)
    make_coral(tank, name="In", band_low_umol=1, band_high_umol=2000)
    make_coral(tank, name="Dim", band_low_umol=1500, band_high_umol=1900)
    make_coral(tank, name="Bright", band_low_umol=1, band_high_umol=5)
    make_coral(tank, name="Loose", at_cm=None)


def test_corals_that_may_need_a_hand_come_first(as_user, owner, tank, four_states):
    groups = list_page(as_user(owner), tank).context["groups"]
    stated = [(g.key, [s.coral.name for s in g.statuses]) for g in groups]
    assert stated == [
        ("above", ["Bright"]),
        ("below", ["Dim"]),
        ("unknown", ["Loose"]),
        ("within", ["In"]),
    ]


def test_the_list_bears_the_numbers_of_the_map(as_user, owner, tank, four_states):
    pins = {pin.name: number for number, pin in enumerate(pins_for(tank), start=1)}
    page = list_page(as_user(owner), tank)
    statuses = [s for group in page.context["groups"] for s in group.statuses]
    assert {s.coral.name: s.map_number for s in statuses} == pins | {"Loose": None}
    assert len(set(pins.values())) == 3
    assert page.content.decode().count('class="coral__number') == 3


@pytest.mark.parametrize(("depth", "is_in_rock"), [("45", True), ("5", False)])
def test_a_place_within_rock_is_said_before_it_is_saved(as_user, owner, tank, depth, is_in_rock):
    make_rock(tank, x_cm=10, y_cm=10, depth_cm=30, length_cm=20, width_cm=20, height_cm=20)
    place = {"x_cm": "20", "y_cm": "20", "depth_cm": depth}
    page = as_user(owner).get(reverse("spot_light", args=[tank.pk]), place)
    assert ('id="spot-in-rock"' in page.content.decode()) is is_in_rock


@pytest.mark.parametrize(("unit", "last"), [("cm", "60"), ("in", "20")])
def test_both_views_of_a_spot_bear_numbers_in_the_keepers_unit(tank, unit, last):
    plan = spot_plan(tank, (), unit=unit)
    for view in (plan.above, plan.front):
        assert view.x_ticks[0].text == view.y_ticks[0].text == "0"
        assert view.x_ticks[-1].text == last
    front_pane, surface = plan.above.y_ticks[0], plan.front.y_ticks[0]
    assert float(front_pane.y) > tank.width_cm and float(surface.y) < 2


def test_unwell_corals_come_before_all_others_the_worst_first(as_user, owner, tank, four_states):
    for name, condition in (("In", 4), ("Dim", 2)):
        make_note(tank.corals.get(name=name), seen="paling", condition=condition)
    first, *others = list_page(as_user(owner), tank).context["groups"]
    assert first.key == "unwell" and [s.coral.name for s in first.statuses] == ["Dim", "In"]
    assert [group.key for group in others] == ["above", "unknown"]


def test_group_without_a_coral_has_no_heading(as_user, owner, tank):
    make_coral(tank)
    (group,) = list_page(as_user(owner), tank).context["groups"]
    assert group.title == "Light unknown"


def test_survey_of_the_numbers_is_said_once(as_user, owner, tank):
    make_survey(tank, taken_at=timezone.now() - dt.timedelta(days=20))
    make_light_change(tank, happened_at=timezone.now() - dt.timedelta(days=10))
    for n in range(3):
        make_coral(tank, name=f"Frag {n}")
    page = list_page(as_user(owner), tank)
    survey = page.context["rests_on"]
    assert "one light change" in survey and page.content.decode().count(survey) == 1


def test_gone_corals_stand_apart(as_user, owner, tank):
    make_coral(tank, name="Sold frag", gone_on=tank.today())
    response = list_page(as_user(owner), tank)
    assert response.context["groups"] == ()
    assert "empty--drawn" in response.content.decode()
    assert "Sold frag" in response.content.decode()


def test_group_is_named_briefly(tank):
    assert make_coral(tank, group="sps").group_short() == "SPS"
    assert make_coral(tank, group="soft").group_short() == "soft coral"


def test_coral_page_holds_the_newest_notes_and_leads_to_the_rest(as_user, owner, tank):
    coral, client = make_coral(tank), as_user(owner)
    for n in range(NOTES_AT_FIRST + 3):
        make_note(coral, text=f"note {n:02}", noted_on=tank.today() - dt.timedelta(days=n))
    response = client.get(reverse("coral_detail", args=[coral.pk]))
    page = response.content.decode()
    assert len(response.context["notes"]) == NOTES_AT_FIRST
    assert response.context["notes"][0].text == "note 00"
    all_notes = reverse("note_list", args=[tank.pk]) + f"?coral={coral.pk}"
    assert all_notes in page
    assert f"note {NOTES_AT_FIRST + 2:02}" in client.get(all_notes).content.decode()


@pytest.mark.parametrize("noun", ["coral", "note", "spot", "light_change"])
def test_form_of_a_thing_offers_to_take_it_away(as_user, owner, tank, noun):
    coral = make_coral(tank)
    pk = {
        "coral": coral.pk,
        "note": make_note(coral).pk,
        "spot": coral.spots.get().pk,
        "light_change": make_light_change(tank).pk,
    }[noun]
    client = as_user(owner)
    page = client.get(reverse(f"{noun}_edit", args=[pk])).content.decode()
    url = reverse(f"{noun}_remove", args=[pk])
    assert f'action="{url}"' in page
    (message,) = client.post(url, follow=True).context["messages"]
    assert message.extra_tags.startswith("undo ")


def test_refused_spot_keeps_what_was_typed(as_user, owner, tank):
    coral = make_coral(tank)
    data = {"x_cm": "300", "y_cm": "12,5", "depth_cm": "deep", "since": "2026-01-02"}
    response = as_user(owner).post(reverse("spot_new", args=[coral.pk]), data)
    page = response.content.decode()
    assert response.status_code == 422 and coral.spots.count() == 1
    assert all(f'value="{typed}"' in page for typed in data.values())


def test_spot_undo_of_another_coral_is_refused(as_user, owner, tank):
    coral, other, client = make_coral(tank), make_coral(tank, name="Other"), as_user(owner)
    page = client.post(reverse("spot_remove", args=[coral.spots.get().pk]), follow=True)
    (message,) = page.context["messages"]
    token = message.extra_tags.partition("?")[2]
    another = other.spots.get().pk
    client.post(f"{reverse('spot_restore', args=[another])}?{token}")
    assert (coral.spots.count(), other.spots.count()) == (0, 1)


@pytest.mark.parametrize(
    ("query", "said"),
    [
        ("x_cm=30&y_cm=30&depth_cm=25", "PAR"),
        ("spot-x_cm=30&spot-y_cm=30&spot-depth_cm=25", "PAR"),
        ("x_cm=300&y_cm=30&depth_cm=25", 'id="spot-fault"'),
        ("x_cm=300", 'id="spot-fault"'),
        ("x_cm=30", "all three numbers"),
    ],
)
def test_light_of_a_place_is_told_while_it_is_looked_for(as_user, viewer, tank, query, said):
    make_survey(tank)
    url = f"{reverse('spot_light', args=[tank.pk])}?{query}"
    assert said in as_user(viewer).get(url).content.decode()


def test_stranger_learns_no_light(as_user, stranger, tank):
    url = reverse("spot_light", args=[tank.pk])
    assert as_user(stranger).get(f"{url}?x_cm=30&y_cm=30&depth_cm=25").status_code == 404

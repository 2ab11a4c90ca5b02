"""The zones of a question: made for what lives there, following the tank, and what they leave."""

import re

import pytest
from django.urls import reverse

from apps.photics.ground.scene import Tank
from apps.photics.layout.question import Zone
from apps.planning.layout.zones.inhabitants import INHABITANTS, Wish, parts_of, usual_zones, wishes
from apps.planning.layout.zones.zone_cover import cover_of
from apps.planning.models import Plan
from apps.planning.stored_layout import read_question
from tests.factories import make_coral
from tests.planning.questions import posted_box

SMALL = {"length_cm": "120", "width_cm": "60", "depth_cm": "60"}


def fields_of_form(html):
    """Return the fields of a question's page, as a browser would send them."""
    fields = {}
    for tag in re.findall(r"<input[^>]*>", html):
        name, value = (re.search(rf' {key}="([^"]*)"', tag) for key in ("name", "value"))
        boxed = 'type="checkbox"' in tag or 'type="radio"' in tag
        if name and (not boxed or " checked" in tag):
            fields.setdefault(name[1], []).append(value[1] if value else "")
    for select in re.findall(r"<select.*?</select>", html, re.S):
        name = re.search(r'name="([^"]*)"', select)[1]
        chosen = re.search(r'value="([^"]*)" selected', select)
        fields[name] = chosen[1] if chosen else re.search(r'value="([^"]*)"', select)[1]
    return {name: values[-1] if isinstance(values, list) and name != "lives" else values
            for name, values in fields.items()}  # fmt: skip


def new_form(client):
    """Return the fields of the page of a layout for a tank that is only measures."""
    return fields_of_form(client.get(reverse("layout_new")).content.decode())


def redrawn(client, fields, again="draw", **sent):
    """Return the fields of the zones after the page asked for them anew."""
    answer = client.post(reverse("layout_new"), fields | sent | {"again": again},
                         headers={"HX-Request": "true"})  # fmt: skip
    assert answer.status_code == 200 and b"<html" not in answer.content
    return fields | sent | fields_of_form(answer.content.decode())


def zone_ends(fields, number, axis):
    return tuple(float(fields[f"zone-{number}-{axis}_{end}"]) for end in ("from", "to"))


def asked(client, fields):
    """Return the question that a page's fields make."""
    client.post(reverse("layout_new"), fields | {"fixture-0-source": "kind:strong"})
    return read_question(Plan.objects.latest("pk").asked)


def test_zones_are_those_of_the_measures_that_are_typed(as_user, owner):
    fields = new_form(as_user(owner)) | {"length_cm": "180", "width_cm": "60", "depth_cm": "60",
                                         "count": "1"}  # fmt: skip
    stored = asked(as_user(owner), fields)
    assert stored.question.tank.length_cm == 180
    assert cover_of(stored.question.tank, stored.question.zones).gaps == ()
    assert all(zone.x_cm[1] > 150 for zone in stored.question.zones)


def test_zones_are_drawn_anew_when_measures_change(as_user, owner):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL)
    wide = redrawn(client, fields, length_cm="180")
    assert zone_ends(wide, 0, "x") == pytest.approx(
        [1.5 * end for end in zone_ends(fields, 0, "x")], abs=0.11
    )
    assert zone_ends(wide, 0, "depth") == zone_ends(fields, 0, "depth")


def test_a_zone_moved_by_hand_stays_where_it_was_put(as_user, owner):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL)
    fields = redrawn(client, fields, **{"zone-0-x_to": "70"})
    wide = redrawn(client, fields, length_cm="180")
    assert zone_ends(wide, 0, "x")[1] == 70 and zone_ends(wide, 1, "x")[1] > 150
    assert wide["zone-0-parts"] == ""


def test_zones_moved_by_hand_can_be_stretched_to_the_tank(as_user, owner):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL, **{"zone-0-x_to": "60"})
    wide = redrawn(client, fields, again="stretch", length_cm="180")
    assert zone_ends(wide, 0, "x")[1] == 90


def test_a_length_typed_in_steps_stretches_zones_put_by_hand_once(as_user, owner):
    client = as_user(owner)
    put = {"zone-0-x_from": "12", "zone-0-x_to": "60", "zone-1-x_from": "85", "zone-1-x_to": "114"}
    fields = redrawn(client, redrawn(client, new_form(client), **SMALL), **put)
    for length in ("12", "120", "30"):
        fields = redrawn(client, fields, length_cm=length)
        assert zone_ends(fields, 1, "x") == (85, 114)
    small = redrawn(client, fields, again="stretch")
    assert zone_ends(small, 0, "x") == (3, 15)
    assert zone_ends(small, 1, "x") == pytest.approx((21.25, 28.5), abs=0.06)
    assert zone_ends(redrawn(client, small, length_cm="60"), 0, "x") == (6, 30)


def test_ends_put_by_hand_after_the_measures_belong_to_these(as_user, owner):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL)
    fields = redrawn(client, fields, **{"zone-0-x_to": "70"})
    fields = redrawn(client, fields, length_cm="60")
    fields = redrawn(client, fields, **{"zone-0-x_from": "15", "zone-0-x_to": "45"})
    wide = redrawn(client, fields, again="stretch", length_cm="120")
    assert zone_ends(wide, 0, "x") == (30, 90)


@pytest.mark.parametrize("odd", ["x", "1,2", "0,0,0,0,0,0,0,0,0", "nan,1,2,3,4,5,6,7,8"])
def test_an_odd_text_of_what_a_row_was_drawn_for_is_passed_over(as_user, owner, odd):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL, **{"zone-0-x_to": "60"})
    wide = redrawn(client, fields, again="stretch", length_cm="180", **{"zone-0-drawn_for": odd})
    assert zone_ends(wide, 0, "x")[1] == 90


def test_a_duplicate_for_a_longer_tank_has_zones_over_all_of_it(as_user, owner):
    client = as_user(owner)
    asked(client, new_form(client) | SMALL | {"count": "1"})
    client.post(reverse("plan_duplicate", args=[Plan.objects.get().pk]))
    copy = Plan.objects.latest("pk")
    page = client.get(reverse("layout_edit", args=[copy.pk])).content.decode()
    client.post(reverse("layout_edit", args=[copy.pk]), fields_of_form(page) | {"length_cm": "180"})
    question = read_question(Plan.objects.get(pk=copy.pk).asked).question
    assert question.tank.length_cm == 180
    assert cover_of(question.tank, question.zones).gaps == ()


def test_measures_that_can_not_be_read_leave_zones_as_they_are(as_user, owner):
    client = as_user(owner)
    fields = redrawn(client, new_form(client), **SMALL)
    odd = redrawn(client, fields, length_cm="long")
    assert zone_ends(odd, 0, "x") == zone_ends(fields, 0, "x")
    again = redrawn(client, odd, length_cm="180")
    assert zone_ends(again, 0, "x")[1] > 150


def test_inches_follow_the_measures_too(as_user, owner):
    owner.units = "in"
    owner.save()
    client = as_user(owner)
    fields = redrawn(client, new_form(client), length_cm="48", width_cm="24", depth_cm="24")
    stored = asked(client, redrawn(client, fields, length_cm="72") | {"count": "1"})
    assert stored.question.tank.length_cm == pytest.approx(182.88)
    assert all(origin.parts for origin in stored.origins)
    assert stored.question.zones[0].x_cm[1] == pytest.approx(0.85 * 182.88, abs=0.2)


def test_what_shall_live_there_makes_the_zones(as_user, owner):
    client = as_user(owner)
    made = redrawn(client, new_form(client), again="lives", lives=["macroalgae", "frags"])
    names = [made[f"zone-{n}-name"] for n in range(int(made["zone-TOTAL_FORMS"]))]
    assert names == ["Macroalgae", "Frags"]
    assert float(made["zone-0-low"]) == INHABITANTS["macroalgae"].dli_mol[0]


def test_a_kind_may_take_a_part_of_the_length(as_user, owner):
    client = as_user(owner)
    fields = new_form(client) | {"place-sps": "right_half"}
    made = redrawn(client, fields, again="lives", lives=["sps"], **SMALL)
    assert zone_ends(made, 0, "x")[0] == 60


def test_a_band_that_was_changed_stays_when_another_kind_is_ticked(as_user, owner):
    client = as_user(owner)
    fields = new_form(client)
    one = redrawn(client, fields, again="lives", lives=["sps"], **SMALL)
    more = redrawn(client, one, again="lives", lives=["sps", "soft"], **{"zone-0-low": "9"})
    assert more["zone-0-low"] == "9" and more["zone-1-name"] == "Soft corals"


def test_what_lives_in_a_tank_is_ticked_first(as_user, owner, tank):
    make_coral(tank, group="sps")
    page = as_user(owner).get(reverse("tank_layout_new", args=[tank.pk]))
    assert page.context["forms"].lives.chosen == ["sps"]


def test_every_choice_gives_zones_that_fit_its_tank():
    box = Tank(120.0, 50.0, 60.0)
    every = wishes(["mixed", "macroalgae", "frags", "refugium"])
    for zone, origin in usual_zones(every, full_hours=9.0, box=box):
        assert 0 <= zone.x_cm[0] < zone.x_cm[1] <= 120
        assert 0 <= zone.y_cm[0] < zone.y_cm[1] <= 50
        assert 0 <= zone.depth_cm[0] < zone.depth_cm[1] <= 60
        # A usual band is told to 5 umol.
        assert zone.low_umol * 9 * 0.0036 == pytest.approx(origin.dli_mol[0], abs=2.5 * 9 * 0.0036)


def test_kinds_of_one_rock_lie_above_each_other_and_alone_take_more():
    both = [Wish("sps"), Wish("lps")]
    sps, lps = (parts_of(wish, both).depth for wish in both)
    assert sps[1] <= lps[0]
    assert parts_of(Wish("sps"), [Wish("sps")]).depth[1] > sps[1]


def test_defaults_are_the_daily_light_of_each_group():
    assert INHABITANTS["soft"].dli_mol == (1.6, 4.9)
    assert INHABITANTS["lps"].dli_mol == (2.4, 4.9)
    assert INHABITANTS["sps"].dli_mol == (6.5, 11.3)
    assert all(kind.source for kind in INHABITANTS.values())


@pytest.mark.parametrize(
    ("x_cm", "gaps"),
    [((0.0, 180.0), []), ((0.0, 120.0), [(120.0, 180.0)]), ((27.0, 153.0), [(0, 27), (153, 180)])],
)
def test_a_strip_without_a_zone_is_named(x_cm, gaps):
    zone = Zone("One", x_cm, (0.0, 60.0), (10.0, 20.0), 100.0, 200.0)
    cover = cover_of(Tank(180.0, 60.0, 60.0), [zone])
    assert [(round(gap.from_cm), round(gap.to_cm)) for gap in cover.gaps] == gaps


def test_a_narrow_rim_without_a_zone_is_no_gap():
    zone = Zone("One", (26.0, 154.0), (8.0, 52.0), (10.0, 20.0), 100.0, 200.0)
    cover = cover_of(Tank(180.0, 60.0, 60.0), [zone])
    assert cover.gaps == () and cover.uncovered_percent == pytest.approx(48, abs=2)


def test_answers_tell_of_water_in_no_zone(as_user, owner):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box(length_cm="120"))
    page = client.get(reverse("layout_detail", args=[Plan.objects.get().pk]))
    (gap,) = (gap for gap in page.context["page"].cover.gaps if gap.axis == "x_cm")
    assert (round(gap.from_cm), round(gap.to_cm), gap.words) == (50, 120, "on the right")
    assert "in no zone" in page.content.decode()


def test_hours_turn_daily_light_into_par(as_user, owner):
    client = as_user(owner)
    fields = new_form(client) | {"day_hours": "10", "count": "1"}
    stored = asked(client, fields)
    assert stored.origins[0].dli_mol == (6.5, 11.3)
    # 6.5 / 0.036 is 180.6, told to 5.
    assert stored.question.zones[0].low_umol == 180


def test_a_band_in_par_stays_when_hours_change(as_user, owner):
    client = as_user(owner)
    sent = posted_box(day_hours="6")
    client.post(reverse("layout_new"), sent)
    stored = read_question(Plan.objects.get().asked)
    assert (stored.question.zones[0].low_umol, stored.origins[0].dli_mol) == (75.0, None)


@pytest.mark.parametrize(("low", "high", "word"), [("0.01", "6", "PAR 0"), ("3", "90", "PAR 2778")])
def test_a_daily_light_beyond_all_sense_is_refused_at_its_field(as_user, owner, low, high, word):
    sent = posted_box(**{"zone-0-band_in": "dli", "zone-0-low": low, "zone-0-high": high})
    answer = as_user(owner).post(reverse("layout_new"), sent)
    assert answer.status_code == 422 and word in answer.content.decode()


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_draw_zones(request, as_user, tank, reader, status):
    client = as_user(request.getfixturevalue(reader))
    answer = client.post(reverse("tank_layout_new", args=[tank.pk]), posted_box(again="draw"))
    assert answer.status_code == status

"""A saved what-if: read, printed, copied, and what is left of it when the map is gone."""

from urllib.parse import urlencode

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.common.moments import day_text
from apps.lighting.change.address import rows_query, typed_of
from apps.lighting.models import HungFixture
from apps.lighting.rig import rig_in_force
from apps.planning.models import Plan
from apps.surveys.models import Survey
from tests.factories import make_coral, make_lit_survey
from tests.planning.what_ifs import make_what_if


@pytest.fixture
def plan(owner, tank):
    make_coral(tank, name="Green branch")
    return make_what_if(owner, tank, height_cm=31.5)


def page_of(client, plan):
    return client.get(reverse("what_if_detail", args=[plan.pk]))


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
)
def test_who_reads_a_saved_what_if(request, as_user, plan, reader, status):
    assert page_of(as_user(request.getfixturevalue(reader)), plan).status_code == status


def test_it_tells_what_to_set_and_each_corals_light(as_user, owner, plan):
    text = page_of(as_user(owner), plan).content.decode()
    assert "→ 31.5 cm" in text and "Green branch" in text


def test_it_tells_how_a_fixture_is_tilted_and_its_channels_set(as_user, owner, tank):
    plan = make_what_if(owner, tank, tilt_deg=20.0, turn_deg=90.0, channel_levels={"Blue": 40})
    blue = [{"name": "Blue", "peak_nm": 450, "share_percent": 100}]
    HungFixture.objects.update(channels=blue)
    plan.asked["rows"][0]["channels"] = blue
    plan.save()
    page = " ".join(page_of(as_user(owner), plan).content.decode().split())
    table = page.split("hung-table")[1].split("</table>")[0]
    assert "turned by 90°" in table and "tilted by 20°" in table
    assert "Blue 40 %" in table


def test_a_viewer_is_offered_nothing_to_change(as_user, viewer, plan):
    text = page_of(as_user(viewer), plan).content.decode()
    assert reverse("plan_duplicate", args=[plan.pk]) not in text and "light change" not in text


def test_a_layout_is_not_read_as_a_what_if(as_user, owner, plan):
    Plan.objects.update(kind=Plan.Kind.LAYOUT)
    assert page_of(as_user(owner), plan).status_code == 404


def test_without_a_map_the_saved_shares_are_left(as_user, owner, plan):
    share = {"zone": "bottom", "band": "SPS", "now_percent": 12.0, "then_percent": 77.0}
    Plan.objects.update(answer={"version": 1, "zones": [share], "corals": []})
    for survey in Survey.objects.all():
        survey.remove()
    page = page_of(as_user(owner), plan)
    assert page.context["problems"] and "77 %" in " ".join(page.content.decode().split())


def test_a_copy_asks_the_same_and_opens(as_user, owner, plan):
    page = as_user(owner).post(reverse("plan_duplicate", args=[plan.pk]), follow=True)
    copy = Plan.objects.exclude(pk=plan.pk).get()
    assert copy.asked == plan.asked and copy.kind == Plan.Kind.WHAT_IF
    assert page.context["plan"] == copy


@pytest.mark.parametrize(
    ("reader", "status"), [("owner", 302), ("co_keeper", 302), ("viewer", 403), ("stranger", 404)]
)
def test_who_may_copy_a_what_if(request, as_user, plan, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.post(reverse("plan_duplicate", args=[plan.pk])).status_code == status


def test_the_list_leads_to_it(as_user, owner, tank, plan):
    text = as_user(owner).get(reverse("tank_plan_list", args=[tank.pk])).content.decode()
    assert reverse("what_if_detail", args=[plan.pk]) in text


def test_a_co_keepers_fixtures_are_shown_to_the_owner(as_user, owner, co_keeper, plan):
    Plan.objects.update(owner=co_keeper)
    assert "31.5" in page_of(as_user(owner), plan).content.decode()


def tried(rows, **settings):
    """Return the fields of a what-if with all lamps set otherwise."""
    return urlencode(rows_query([typed_of(row) | settings for row in rows], "cm"))


@pytest.fixture
def hanging(tank):
    make_lit_survey(tank)
    return rig_in_force(tank, timezone.now())


@pytest.mark.parametrize(
    ("lamp", "name", "reason"),
    [
        ({"level_percent": 80}, "Panel turned down to 80 %", "level"),
        ({"height_cm": 26}, "Panel raised by 6 cm", "raised"),
        ({"height_cm": 14, "level_percent": 80}, "Panel lowered by 6 cm and turned down to 80 %",
         "lowered"),
    ],
)  # fmt: skip
def test_a_what_if_that_nobody_named_is_named_by_what_it_does(
    as_user, owner, tank, hanging, lamp, name, reason
):
    rig = tried(hanging, **lamp)
    as_user(owner).post(reverse("what_if_save", args=[tank.pk]), {"name": " ", "rig": rig})
    plan = Plan.objects.get()
    assert plan.name == name
    address = page_of(as_user(owner), plan).context["change_url"]
    form = as_user(owner).get(address).context["form"]
    assert (form["reason"].value(), form["summary"].value()) == (reason, "")


def test_a_what_if_that_changes_nothing_is_named_by_its_day(as_user, owner, tank, hanging):
    saved = {"name": "", "rig": tried(hanging)}
    as_user(owner).post(reverse("what_if_save", args=[tank.pk]), saved)
    assert day_text(tank.today()) in Plan.objects.get().name


def test_a_name_that_was_typed_stays(as_user, owner, tank, hanging):
    saved = {"name": "Half light", "rig": tried(hanging, level_percent=50)}
    as_user(owner).post(reverse("what_if_save", args=[tank.pk]), saved)
    assert Plan.objects.get().name == "Half light"

"""Layout plans: asked, searched in turns, stopped, shown, copied; and who may do so."""

import datetime as dt
import re

import pytest
from django.core.exceptions import ValidationError
from django.urls import reverse
from django.utils import timezone

from apps.photics.layout.search import Search
from apps.photics.layout.zone_light import ZoneLight
from apps.planning.layout import searching
from apps.planning.layout.compared import PLANS_MOST, compare_address
from apps.planning.layout.comparison import ZoneBar
from apps.planning.layout.searching import advance_search, resume_search, stop_search
from apps.planning.models import Plan
from apps.planning.stored_layout import (
    read_question,
    read_state,
    write_question,
    write_state,
)
from tests.factories import make_coral, make_fixture, make_rock, make_survey, make_tank
from tests.photics.photometric_files import ies_text, oblong
from tests.planning.questions import make_layout_plan, posted, posted_box

pytestmark = pytest.mark.one_database


@pytest.fixture
def plan(owner, tank):
    return make_layout_plan(owner, tank)


@pytest.fixture
def answered(plan):
    while not plan.answer.get("finished"):
        advance_search(plan=plan)
    return plan


def test_a_question_of_a_tank_is_answered(as_user, owner, tank):
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), posted(), follow=True)
    plan = Plan.objects.get()
    assert (plan.tank, plan.name, plan.answer["finished"]) == (tank, "One panel", True)
    assert "1\u00a0×\u00a0LED panel 20 × 20 cm, 110°" in page.content.decode()


def test_a_tank_that_is_only_measures_gets_an_answer_too(as_user, owner):
    page = as_user(owner).post(reverse("layout_new"), posted_box(), follow=True)
    assert Plan.objects.get().tank is None
    assert "no tank yet" in page.content.decode()


def test_a_plan_for_no_tank_yet_is_taken_into_a_tank_of_its_measures(as_user, owner, stranger):
    client = as_user(owner)
    client.post(reverse("layout_new"), posted_box(name="Light for a new tank"))
    plan = Plan.objects.get()
    box = plan.asked["question"]["tank"]
    sides = {name: box[name] for name in ("length_cm", "width_cm", "depth_cm")}
    fits, larger = make_tank(owner, **sides), make_tank(owner, **sides | {"length_cm": 180})
    make_tank(stranger, **sides)
    assert client.get(plan.get_absolute_url()).context["tanks_alike"] == [fits]
    address = reverse("tank_layout_new", args=[fits.pk]) + f"?like={plan.pk}"
    forms = client.get(address).context["forms"]
    assert forms.name.initial["name"] == f"Light for {fits}"
    zones = plan.asked["question"]["zones"]
    assert [row.initial["name"] for row in forms.zones] == [zone["name"] for zone in zones]
    page = client.post(address, posted(name="Taken in"), follow=True)
    assert Plan.objects.get(name="Taken in").tank == fits and page.status_code == 200
    theirs = reverse("tank_layout_new", args=[make_tank(stranger).pk])
    assert as_user(stranger).get(f"{theirs}?like={plan.pk}").status_code == 404
    assert larger not in client.get(plan.get_absolute_url()).context["tanks_alike"]


@pytest.mark.parametrize(
    "shape",
    [
        {"shape": "cylinder"},
        {"shape": "bow", "bow_cm": "8"},
        {"shape": "outline", "outline_cm": "0 60\n0 0\n30 0\n60 40\n60 60"},
    ],
    ids=["cylinder", "bow", "outline"],
)
def test_a_tank_that_is_only_measures_may_be_no_box(as_user, owner, shape):
    sent = posted_box(cover_transmission="80", **shape)
    as_user(owner).post(reverse("layout_new"), sent)
    plan = Plan.objects.get()
    tank = read_question(plan.asked).question.tank
    assert (tank.shape, tank.cover_transmission) == (shape["shape"], 0.8)
    assert plan.answer["finished"]
    page = as_user(owner).get(reverse("layout_answer", args=[plan.pk, 1])).content.decode()
    assert 'class="dry"' in page and '<polygon class="hung__water"' in page
    again = as_user(owner).get(reverse("layout_edit", args=[plan.pk])).content.decode()
    assert '<details class="shape-fields" open>' in again


@pytest.mark.parametrize(
    ("sent", "words"),
    [
        ({"shape": "cylinder", "width_cm": "50"}, "as wide as it is long"),
        ({"shape": "bow"}, "needs how far it bulges"),
        ({"shape": "outline", "outline_cm": "0 0\n60 0\n60 60\n30 20\n0 60"}, "bends inward"),
        (
            {"shape": "cylinder", "zone-0-x_from": "0", "zone-0-x_to": "6",
             "zone-0-y_from": "0", "zone-0-y_to": "6"},
            "This zone lies outside the tank",
        ),
    ],
    ids=["width", "bow", "outline", "zone"],
)  # fmt: skip
def test_a_shape_that_cannot_be_is_told_in_a_question(as_user, owner, sent, words):
    answer = as_user(owner).post(reverse("layout_new"), posted_box(**sent))
    assert answer.status_code == 422 and words in answer.content.decode()
    assert not Plan.objects.exists()


def test_inches_are_read_where_a_keeper_uses_them(as_user, owner):
    owner.units = "in"
    owner.save()
    box = {"length_cm": "24", "width_cm": "24", "depth_cm": "20", "zone-0-x_to": "20",
           "zone-0-x_from": "4", "zone-0-y_to": "20", "zone-0-y_from": "4",
           "zone-0-depth_from": "8", "zone-0-depth_to": "16",
           "height_from": "8", "height_to": "14"}  # fmt: skip
    as_user(owner).post(reverse("layout_new"), posted_box(**box))
    question = read_question(Plan.objects.get().asked).question
    assert question.tank.length_cm == pytest.approx(60.96)
    assert question.limits.height_cm == pytest.approx((20.32, 35.56))


def test_the_rocks_of_a_tank_are_asked_with_it(as_user, owner, tank):
    make_rock(tank)
    as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), posted())
    assert len(read_question(Plan.objects.get().asked).question.rocks) == 1


def test_a_fixture_of_the_library_brings_its_output(as_user, owner, tank):
    fixture = make_fixture(owner, ppf_umol_s=80, watts=50, beam_deg=70)
    sent = posted(**{"fixture-0-source": f"own:{fixture.pk}", "fixture-0-optics": ""})
    as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent)
    candidate = read_question(Plan.objects.get().asked).question.candidates[0]
    assert (candidate.output.ppf_umol_s, candidate.beams_deg) == (80, (70,))


def test_a_fixture_of_the_library_brings_the_rays_of_its_file(as_user, owner, tank):
    fixture, client = make_fixture(owner, ppf_umol_s=80), as_user(owner)
    text = ies_text(oblong, horizontal=tuple(range(0, 91, 15)))
    client.post(reverse("fixture_optic", args=[fixture.pk]), {"text": text})
    sent = posted(**{"fixture-0-source": f"own:{fixture.pk}", "fixture-0-optics": ""})
    client.post(reverse("tank_layout_new", args=[tank.pk]), sent)
    asked = Plan.objects.get().asked
    (candidate,) = read_question(asked).question.candidates
    (beam,) = candidate.beams_deg
    assert candidate.optic_at(beam) is not None and candidate.optic_at(55.0) is None
    assert write_question(read_question(asked)) == asked


def test_someone_elses_fixture_can_not_be_chosen(as_user, owner, stranger, tank):
    fixture = make_fixture(stranger, ppf_umol_s=80)
    sent = posted(**{"fixture-0-source": f"own:{fixture.pk}"})
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent)
    assert page.status_code == 422 and not Plan.objects.exists()


@pytest.mark.parametrize(
    ("wrong", "is_at_field"),
    [
        ({"zone-0-low": "bright"}, True),
        ({"zone-0-x_to": "5"}, True),
        ({"zone-0-depth_to": "80"}, True),
        ({"fixture-0-optics": "wide"}, True),
        ({"height_to": "10"}, True),
        ({"zone-0-DELETE": "on"}, False),
        ({"fixture-0-DELETE": "on"}, False),
        ({"budget": "10"}, False),
        ({"name": ""}, True),
    ],
)
def test_what_can_not_be_read_is_told_and_all_that_was_typed_is_kept(
    as_user, owner, tank, wrong, is_at_field
):
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), posted(**wrong))
    text = page.content.decode()
    assert page.status_code == 422 and "For the window side." in text
    at_fields = re.findall(r'id="id_([\w-]+)_error"', text)
    assert at_fields == (list(wrong) if is_at_field else [])
    assert text.count('role="alert"') == (0 if is_at_field else 1)
    assert not Plan.objects.exists()


def test_a_fixture_of_unknown_output_is_not_guessed(as_user, owner, tank):
    fixture = make_fixture(owner)
    sent = posted(**{"fixture-0-source": f"own:{fixture.pk}"})
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent)
    assert page.status_code == 422 and page.context["forms"].candidates.forms[0].errors


@pytest.mark.parametrize(
    ("wish", "more"), [("zone", 'name="zone-1-name"'), ("fixture", 'name="fixture-1-source"')]
)
def test_more_rows_keep_what_was_typed(as_user, owner, tank, wish, more):
    sent = posted(again=wish, **{"zone-0-name": "My own"})
    text = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent).content.decode()
    assert more in text and "My own" in text and not Plan.objects.exists()


def test_a_search_goes_on_where_the_last_turn_left_it(plan, monkeypatch):
    advance_search(plan=plan, seconds=0)
    searching.search_of.cache_clear()
    advance_search(plan=plan, seconds=0)
    assert plan.answer["step"] == 2


def test_a_turn_that_comes_second_changes_nothing(plan):
    late = Plan.objects.get(pk=plan.pk)
    advance_search(plan=plan, seconds=0)
    advance_search(plan=plan, seconds=0)
    advance_search(plan=late, seconds=0)
    assert late.answer["step"] == 2 == Plan.objects.get(pk=plan.pk).answer["step"]


def test_a_stopped_search_rests_with_its_best_until_it_is_taken_up(as_user, owner, plan):
    advance_search(plan=plan, seconds=0)
    stop_search(plan=plan)
    address = reverse("layout_search", args=[plan.pk])
    as_user(owner).post(address)
    plan.refresh_from_db()
    assert plan.answer["step"] == 1
    assert (
        "best so far"
        in as_user(owner).get(reverse("layout_detail", args=[plan.pk])).content.decode()
    )
    resume_search(plan=plan)
    as_user(owner).post(address)
    plan.refresh_from_db()
    assert plan.answer["step"] > 1


def test_a_running_search_asks_for_its_next_turn(as_user, owner, plan):
    advance_search(plan=plan, seconds=0)
    page = as_user(owner).get(reverse("layout_detail", args=[plan.pk])).content.decode()
    assert f'hx-post="{reverse("layout_search", args=[plan.pk])}"' in page
    assert "<progress" in page


def test_htmx_gets_the_fragment_alone(as_user, owner, plan):
    page = as_user(owner).post(
        reverse("layout_search", args=[plan.pk]), headers={"HX-Request": "true"}
    )
    text = page.content.decode()
    assert 'id="layout-answers"' in text
    assert "<html" not in text


def test_stored_documents_come_back_as_they_went(plan):
    asked = read_question(plan.asked)
    state = Search(asked.question).run()
    assert write_question(asked) == plan.asked
    assert read_state(write_state(state)) == state


def test_a_question_of_another_form_is_refused(owner):
    broken = Plan(owner=owner, kind=Plan.Kind.LAYOUT, name="Odd", asked={"version": 9})
    with pytest.raises(ValidationError):
        broken.full_clean()


def test_an_unchanged_question_keeps_its_answer(as_user, owner, tank):
    client = as_user(owner)
    client.post(reverse("tank_layout_new", args=[tank.pk]), posted())
    plan = Plan.objects.get()
    client.post(reverse("layout_edit", args=[plan.pk]), posted(name="Renamed"))
    again = Plan.objects.get()
    assert (again.name, again.answer) == ("Renamed", plan.answer)


def test_a_stored_question_fills_the_form(as_user, owner, plan):
    text = as_user(owner).get(reverse("layout_edit", args=[plan.pk])).content.decode()
    assert 'value="The rock"' in text and 'value="110, 55"' in text


def test_a_recommendation_names_the_zone_that_gets_more_than_its_band(
    as_user, owner, answered, monkeypatch
):
    address = reverse("layout_detail", args=[answered.pk])
    for is_bright in (False, True):
        monkeypatch.setattr(ZoneBar, "is_bright", is_bright)
        page = as_user(owner).get(address).content.decode()
        assert ("data-bright" in page) == is_bright


@pytest.mark.parametrize("is_sure", [True, False])
def test_more_than_a_band_is_a_fact_only_where_it_is_sure(
    as_user, owner, answered, monkeypatch, is_sure
):
    monkeypatch.setattr(ZoneBar, "is_bright", True)
    monkeypatch.setattr(ZoneLight, "surely_served", is_sure)
    page = as_user(owner).get(reverse("layout_detail", args=[answered.pk])).content.decode()
    said = page.split("data-bright", 1)[1].split("</p>", 1)[0]
    assert ("likely" in said) != is_sure


def test_an_answer_is_drawn_with_its_map_and_its_hanging_plan(as_user, owner, answered):
    page = as_user(owner).get(reverse("layout_answer", args=[answered.pk, 1]))
    text = page.content.decode()
    assert text.count('class="hung"') == 2 and text.count('class="map-drawing"') == 3
    assert text.count('<details class="caution">') == 2  # on the screen and on paper


def test_an_answer_says_how_the_corals_would_stand(as_user, owner, tank, answered):
    make_coral(tank, name="Dim", band_low_umol=2, band_high_umol=3)
    make_coral(tank, name="Wide", band_low_umol=2, band_high_umol=900)
    page = as_user(owner).get(reverse("layout_answer", args=[answered.pk, 1]))
    states = {found.pin.name: found.state.words for found in page.context["map"].pin_lights}
    assert states == {"Dim": "above its band", "Wide": "within its band"}
    assert "state--above" in page.content.decode()


def test_an_answer_says_when_the_rock_has_changed_since(as_user, owner, tank, answered):
    client, address = as_user(owner), reverse("layout_detail", args=[answered.pk])
    assert 'id="layout-outdated"' not in client.get(address).content.decode()
    make_rock(tank)
    assert 'id="layout-outdated"' in client.get(address).content.decode()


def test_no_answer_is_called_safe(as_user, owner, answered):
    text = as_user(owner).get(reverse("layout_answer", args=[answered.pk, 1])).content.decode()
    assert "can hurt corals" in text and "safe" not in text.lower()


@pytest.mark.parametrize("reader", ["owner", "co_keeper", "viewer"])
def test_an_answer_of_a_tank_leads_to_the_light_measured_in_it(
    request, as_user, tank, answered, reader
):
    make_survey(tank)
    client = as_user(request.getfixturevalue(reader))
    for name, more in (("layout_detail", []), ("layout_answer", [1])):
        page = client.get(reverse(name, args=[answered.pk, *more])).content.decode()
        assert 'id="layout-compare-now"' in page
    compared = client.get(f"{compare_address(tank.owner, answered)}1").context
    assert compared["a"].key == f"day-{tank.today()}"
    assert compared["b"].key == f"plan-{answered.pk}-1" and compared["shown"]


def test_a_plan_without_a_tank_or_past_those_offered_has_nothing_to_compare(
    as_user, owner, tank, answered
):
    make_survey(tank)
    for _ in range(PLANS_MOST):
        make_layout_plan(owner, tank)
    Plan.objects.filter(pk=answered.pk).update(changed_at=timezone.now() - dt.timedelta(days=9))
    page = as_user(owner).get(reverse("layout_detail", args=[answered.pk])).content.decode()
    assert 'id="layout-compare-now"' not in page
    Plan.objects.exclude(pk=answered.pk).delete()
    Plan.objects.filter(pk=answered.pk).update(tank=None)
    page = as_user(owner).get(reverse("layout_detail", args=[answered.pk])).content.decode()
    assert 'id="layout-compare-now"' not in page


def test_a_plan_is_not_compared_with_a_light_nobody_knows(owner, tank, answered):
    assert compare_address(owner, answered) == ""
    make_survey(tank)
    assert compare_address(owner, answered)


def test_a_quick_estimate_stands_beside_an_answer(as_user, owner, answered):
    page = as_user(owner).get(reverse("layout_answer", args=[answered.pk, 1]))
    estimate = page.context["answer"].estimate
    assert estimate.par_umol == pytest.approx(estimate.field_umol, rel=0.6)
    assert "lumen method" in page.content.decode()


def test_an_answer_that_is_not_there_is_not_found(as_user, owner, answered):
    assert as_user(owner).get(reverse("layout_answer", args=[answered.pk, 9])).status_code == 404


def test_a_copy_is_a_plan_of_its_own(as_user, owner, answered):
    as_user(owner).post(reverse("plan_duplicate", args=[answered.pk]))
    copy = Plan.objects.exclude(pk=answered.pk).get()
    assert copy.name == "Two panels (copy)" and copy.answer == answered.answer


READ = [("owner", 200), ("co_keeper", 200), ("viewer", 200), ("stranger", 404)]
WRITE = [("owner", 200), ("co_keeper", 200), ("viewer", 403), ("stranger", 404)]


@pytest.mark.parametrize(("reader", "status"), READ)
def test_who_may_see_a_plan(request, as_user, answered, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("layout_detail", args=[answered.pk])).status_code == status
    assert client.get(reverse("layout_answer", args=[answered.pk, 1])).status_code == status


@pytest.mark.parametrize(("reader", "status"), WRITE)
def test_who_may_ask(request, as_user, tank, plan, reader, status):
    client = as_user(request.getfixturevalue(reader))
    assert client.get(reverse("tank_layout_new", args=[tank.pk])).status_code == status
    assert client.get(reverse("layout_edit", args=[plan.pk])).status_code == status


@pytest.mark.parametrize(("reader", "status"), WRITE)
@pytest.mark.parametrize("way", ["layout_search", "plan_duplicate"])
def test_who_may_search_and_copy(request, as_user, plan, reader, status, way):
    client = as_user(request.getfixturevalue(reader))
    page = client.post(reverse(way, args=[plan.pk]), follow=True)
    assert page.status_code == status


def test_a_search_is_not_advanced_by_looking(as_user, viewer, plan):
    as_user(viewer).get(reverse("layout_detail", args=[plan.pk]))
    assert Plan.objects.get(pk=plan.pk).answer == {}


def test_zones_and_fixtures_told_are_folded_up_and_wrong_ones_stand_open(as_user, owner, tank):
    client, address = as_user(owner), reverse("tank_layout_new", args=[tank.pk])
    forms = client.get(address).context["forms"]
    assert not any(row.stands_open for row in [*forms.zones, *forms.candidates])
    forms = client.post(address, posted(**{"zone-0-high": "5"})).context["forms"]
    assert [row.stands_open for row in forms.zones] == [True]
    assert [row.stands_open for row in forms.candidates] == [False]
    more = client.post(address, posted(again="zone")).context["forms"]
    assert [row.stands_open for row in more.zones] == [False, True]


@pytest.mark.parametrize(
    ("wrong", "parts"),
    [
        ({"zone-0-high": "5"}, set()),
        ({"fixture-0-optics": "wide"}, {"lamps"}),
        ({"fixture-0-DELETE": "on"}, {"lamps"}),
        ({"count": "99"}, {"rest"}),
        ({"watts": "much"}, {"rest", "bounds"}),
        # What was typed stays in sight beside what is wrong elsewhere.
        ({"name": "", "x_from": "10"}, {"rest", "bounds"}),
        ({"name": "", "y_to": "20"}, {"rest", "bounds"}),
        ({"blue_from": "101"}, {"rest", "colour"}),
        ({"name": ""}, {"rest"}),
        ({"by_whom": "x" * 99}, {"rest", "letterhead"}),
        ({"zone-0-DELETE": "on"}, set()),
    ],
)
def test_only_a_part_that_is_wrong_unfolds(as_user, owner, tank, wrong, parts):
    sent = posted(price_kwh="") | wrong
    page = as_user(owner).post(reverse("tank_layout_new", args=[tank.pk]), sent)
    forms = page.context["forms"]
    shown = {
        "lamps": forms.lamps_open,
        "rest": forms.rest_open,
        "bounds": forms.limits.bounds_show,
        "colour": forms.limits.wishes_colour,
        "letterhead": forms.name.letterhead_shows,
    }
    assert page.status_code == 422
    assert {name for name, is_open in shown.items() if is_open} == parts


def test_answers_stand_beside_each_other_with_one_recommended(as_user, owner, answered):
    page = as_user(owner).get(reverse("layout_detail", args=[answered.pk]))
    compared = page.context["compared"]
    assert compared.columns[0].recommended
    assert sum(column.recommended for column in compared.columns) == 1
    assert compared.reason
    text = page.content.decode()
    assert text.count('class="zone-shares"') == len(compared.columns)


def test_the_reader_chooses_what_is_weighed(as_user, owner, answered):
    client, address = as_user(owner), reverse("layout_detail", args=[answered.pk])
    for weigh, shown in [("", "balanced"), ("surest", "surest"), ("dearest", "balanced")]:
        compared = client.get(address, {"weigh": weigh}).context["compared"]
        assert (compared.weigh, compared.columns[0].recommended) == (shown, True)

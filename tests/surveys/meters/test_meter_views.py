"""Own meters: list, make, change, remove and undo; nobody else's."""

import datetime as dt

import pytest
from django.urls import reverse
from django.utils import timezone

from apps.surveys.models import Meter
from tests.factories import make_meter, make_survey

SOUND = {"label": "Club meter", "kind": "quantum", "correction_factor": "1,32"}


@pytest.fixture
def meter(owner):
    return make_meter(owner, correction_factor=1.2)


def test_new_meter_is_listed_with_its_factor(as_user, owner):
    client = as_user(owner)
    client.post(reverse("meter_new"), SOUND)
    page = client.get(reverse("meter_list")).content.decode()
    assert "Club meter" in page and "1.32" in page


def test_new_meter_for_a_survey_leads_back_to_it(as_user, owner, tank):
    response = as_user(owner).post(reverse("meter_new") + f"?for={tank.pk}", SOUND)
    assert response["Location"].startswith(reverse("survey_new", args=[tank.pk]))


@pytest.mark.parametrize("odd", ["x", "-1", "9" * 30, "²", ""])
def test_odd_place_to_go_back_to_is_passed_over(as_user, owner, odd):
    assert as_user(owner).get(reverse("meter_new"), {"for": odd}).status_code == 200


def test_check_in_the_future_is_told(as_user, owner):
    typed = SOUND | {"immersion_factor": "1", "checked_on": "9999-12-31"}
    response = as_user(owner).post(reverse("meter_new"), typed)
    assert response.status_code == 422 and "in the future" in response.content.decode()


@pytest.mark.parametrize("factor", ["0", "12", "nan", "", "one", "1e400"])
def test_unsound_factor_is_told_and_kept(as_user, owner, factor):
    response = as_user(owner).post(reverse("meter_new"), SOUND | {"correction_factor": factor})
    assert response.status_code == 422 and Meter.objects.count() == 0
    assert f'value="{factor}"' in response.content.decode() or not factor


def test_lux_meter_carries_the_warning(as_user, owner, tank, meter):
    Meter.objects.update(kind=Meter.Kind.LUX)
    survey = make_survey(tank, meter=meter)
    page = as_user(owner).get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert 'id="lux-warning"' in page
    Meter.objects.update(kind=Meter.Kind.QUANTUM)
    page = as_user(owner).get(reverse("survey_detail", args=[survey.pk])).content.decode()
    assert 'id="lux-warning"' not in page


def test_editing_a_meter_leaves_surveys_made_with_it(as_user, owner, tank, meter):
    survey = make_survey(tank, meter=meter, correction_factor=1.2)
    as_user(owner).post(reverse("meter_edit", args=[meter.pk]), SOUND)
    survey.refresh_from_db()
    meter.refresh_from_db()
    assert (survey.correction_factor, meter.correction_factor) == (1.2, 1.32)


def test_removed_meter_comes_back_by_undo(as_user, owner, meter):
    client = as_user(owner)
    page = client.post(reverse("meter_remove", args=[meter.pk]), follow=True).content.decode()
    undo = reverse("meter_restore", args=[meter.pk])
    assert undo in page and not Meter.objects.owned_by(owner).exists()
    client.post(undo)
    assert Meter.objects.owned_by(owner).exists()


@pytest.mark.parametrize("name", ["meter_edit", "meter_remove", "meter_restore"])
@pytest.mark.parametrize("who", ["co_keeper", "stranger"])
def test_nobody_else_reaches_a_meter(request, as_user, meter, name, who):
    client = as_user(request.getfixturevalue(who))
    assert client.post(reverse(name, args=[meter.pk]), SOUND).status_code == 404


@pytest.mark.parametrize("name", ["meter_remove", "meter_restore"])
def test_looking_never_changes_a_meter(as_user, owner, meter, name):
    assert as_user(owner).get(reverse(name, args=[meter.pk])).status_code == 405


def test_meters_lead_to_the_cross_check_of_their_last_survey(as_user, owner, tank):
    meter, unused = make_meter(owner), make_meter(owner, label="Unused")
    long_ago = timezone.now() - dt.timedelta(days=90)
    make_survey(tank, meter=meter, taken_at=long_ago)
    last = make_survey(tank, meter=meter, taken_at=timezone.now() - dt.timedelta(days=2))
    page = as_user(owner).get(reverse("meter_list"))
    by_meter = {one.pk: one.last_survey for one in page.context["meters"]}
    assert by_meter == {meter.pk: last, unused.pk: None}
    assert reverse("survey_cross_check", args=[last.pk]) in page.content.decode()

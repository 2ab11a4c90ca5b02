"""Checks of own meters: entered, kept from a comparison, and what they say of a meter's scale."""

import datetime as dt

import numpy as np
import pytest
from django.urls import reverse

from apps.surveys.meters.scales import checked_scales, deviation_between, survey_deviation
from apps.surveys.models import Meter, MeterCheck
from tests.factories import make_meter, make_meter_check, make_survey

USUAL = {"label": "Club meter", "correction_factor": "1", "uncertainty_from": "usual"}
CHECK = {
    "checked_on": "2026-05-03", "reference": "Club sensor", "reference_percent": "3",
    "pairs": "100 110\n200 220",
}  # fmt: skip


@pytest.fixture
def meter(owner):
    return make_meter(owner, label="Mine", uncertainty_percent=5)


@pytest.mark.parametrize(("kind", "percent"), [("quantum", 5), ("lux", 15), ("other", None)])
def test_a_new_meter_has_the_usual_uncertainty_of_its_kind(as_user, owner, kind, percent):
    client = as_user(owner)
    form = client.get(reverse("meter_new")).context["form"]
    offered = form.initial["uncertainty_percent"]
    client.post(reverse("meter_new"), USUAL | {"kind": kind, "uncertainty_percent": offered})
    made = Meter.objects.get()
    assert made.uncertainty_percent == percent
    assert made.uncertainty_from == ("usual" if percent else "")


@pytest.mark.parametrize(("typed", "origin"), [("7", "stated"), ("5", "usual"), ("", "")])
def test_only_the_usual_number_is_called_usual(as_user, owner, typed, origin):
    given = USUAL | {"kind": "quantum", "uncertainty_percent": typed}
    as_user(owner).post(reverse("meter_new"), given)
    assert Meter.objects.get().uncertainty_from == origin


def test_an_older_meter_gets_no_uncertainty_by_being_edited(as_user, owner):
    old = make_meter(owner)
    client = as_user(owner)
    form = client.get(reverse("meter_edit", args=[old.pk])).context["form"]
    assert form["uncertainty_percent"].value() is None
    client.post(reverse("meter_edit", args=[old.pk]), USUAL | {"kind": "quantum"})
    old.refresh_from_db()
    assert (old.uncertainty_percent, old.uncertainty_from) == (None, "")


def test_a_check_is_kept_and_dates_the_meter(as_user, owner, meter):
    as_user(owner).post(reverse("meter_check_new", args=[meter.pk]), CHECK)
    check = MeterCheck.objects.get()
    meter.refresh_from_db()
    assert check.pairs == [[100, 110], [200, 220]] and meter.checked_on == dt.date(2026, 5, 3)
    assert check.ratio == pytest.approx(1.1)


@pytest.mark.parametrize(
    ("wrong", "field"),
    [
        ({"pairs": "100"}, "pairs"),
        ({"pairs": "100 0"}, "pairs"),
        ({"pairs": ""}, "pairs"),
        ({"pairs": "1 2\n" * 201}, "pairs"),
        ({"reference": ""}, "reference"),
        ({"reference_percent": ""}, "reference_percent"),
        ({"reference_percent": "31"}, "reference_percent"),
        ({"checked_on": "9999-01-01"}, "checked_on"),
        ({"checked_on": "0001-01-01"}, "checked_on"),
    ],
)
def test_an_unsound_check_is_refused_at_its_field(as_user, owner, meter, wrong, field):
    response = as_user(owner).post(reverse("meter_check_new", args=[meter.pk]), CHECK | wrong)
    assert response.status_code == 422 and not MeterCheck.objects.exists()
    assert list(response.context["form"].errors) == [field]


def compared(owner, tank, **meters):
    rows = [(10 + 5 * i, 20, 10, 100 + 20 * i) for i in range(6)]
    first = make_survey(tank, readings=rows, meter=meters["first"])
    other = [(x, y, d, v * 1.1) for x, y, d, v in rows]
    return first, make_survey(tank, readings=other, meter=meters["second"])


def test_a_comparison_of_own_meters_is_kept_as_a_check(as_user, owner, tank, meter):
    first, second = compared(owner, tank, first=meter, second=make_meter(owner))
    url = reverse("survey_cross_check", args=[first.pk])
    client = as_user(owner)
    assert client.get(url, {"with": second.pk}).context["may_keep"]
    client.post(reverse("cross_check_keep", args=[first.pk]), {"with": second.pk})
    check = MeterCheck.objects.get()
    assert (check.meter, check.other) == (first.meter, second.meter)
    assert check.ratio == pytest.approx(1.1) and len(check.pairs) == 6


def test_nobody_keeps_a_comparison_of_anothers_meters(as_user, owner, co_keeper, tank, meter):
    first, second = compared(owner, tank, first=meter, second=make_meter(owner))
    url = reverse("survey_cross_check", args=[first.pk])
    client = as_user(co_keeper)
    assert not client.get(url, {"with": second.pk}).context["may_keep"]
    keep = reverse("cross_check_keep", args=[first.pk])
    client.post(keep, {"with": second.pk})
    assert not MeterCheck.objects.exists()


@pytest.mark.parametrize(("who", "status"), [("viewer", 403), ("stranger", 404)])
def test_who_may_not_write_keeps_no_comparison(request, as_user, owner, tank, meter, who, status):
    first, second = compared(owner, tank, first=meter, second=make_meter(owner))
    client = as_user(request.getfixturevalue(who))
    keep = reverse("cross_check_keep", args=[first.pk])
    assert client.post(keep, {"with": second.pk}).status_code == status


def test_a_check_says_how_far_a_survey_may_be_off(tank, owner, meter):
    """5 % before, 3 % of the reference and 0.05 / sqrt 3 of its pairs; the factor is off too."""
    survey = make_survey(tank, meter=meter)
    assert survey_deviation(survey) == pytest.approx(np.log(1.05))
    make_meter_check(meter)
    own, prior = np.hypot(np.log(1.03), 0.05 / np.sqrt(3)), np.log(1.05)
    weight = own**-2 / (own**-2 + prior**-2)
    left = (own**-2 + prior**-2) ** -0.5
    assert survey_deviation(survey) == pytest.approx(np.hypot(left, weight * np.log(1.1)))


def test_the_checks_factor_taken_leaves_the_checks_own_deviation(as_user, owner, tank, meter):
    make_meter_check(meter)
    before = checked_scales(owner.pk).factor(meter)
    as_user(owner).post(reverse("meter_take_factor", args=[meter.pk]))
    meter.refresh_from_db()
    assert meter.total_factor() == pytest.approx(before)
    survey = make_survey(tank, meter=meter, correction_factor=meter.total_factor())
    assert survey_deviation(survey) < 0.04


def test_an_unchecked_meter_has_no_factor_to_take(as_user, owner, meter):
    as_user(owner).post(reverse("meter_take_factor", args=[meter.pk]))
    meter.refresh_from_db()
    assert meter.correction_factor == 1


def test_compared_meters_are_apart_by_their_comparison_and_no_more(tank, owner, meter):
    other = make_meter(owner, uncertainty_percent=5, correction_factor=1 / 1.1)
    first, second = (
        make_survey(tank, meter=m, correction_factor=m.correction_factor) for m in (meter, other)
    )
    assert deviation_between(first, second) is None
    make_meter_check(meter, other=other, reference="", reference_percent=None)
    prior = 2 * np.log(1.05) ** 2
    assert deviation_between(first, second) == pytest.approx(
        (1 / prior + 3 / 0.05**2) ** -0.5, rel=1e-6
    )
    assert deviation_between(first, first) == 0


def test_a_deleted_check_counts_no_more(tank, owner, meter):
    make_meter_check(meter).remove()
    assert survey_deviation(make_survey(tank, meter=meter)) == pytest.approx(np.log(1.05))


def test_a_lux_meter_is_calibrated_by_a_check(tank, owner):
    lux = make_meter(owner, kind=Meter.Kind.LUX, correction_factor=0.02, uncertainty_percent=15)
    make_meter_check(lux, pairs=[[5000, 110], [10000, 220]], reference_percent=5)
    assert checked_scales(owner.pk).factor(lux) == pytest.approx(0.0217, abs=0.0006)


@pytest.mark.parametrize("name", ["meter_check_new", "meter_take_factor"])
@pytest.mark.parametrize("who", ["co_keeper", "stranger"])
def test_nobody_else_checks_a_meter(request, as_user, meter, name, who):
    client = as_user(request.getfixturevalue(who))
    assert client.post(reverse(name, args=[meter.pk]), CHECK).status_code == 404

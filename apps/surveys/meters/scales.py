"""How far the scales of meters, and so of whole surveys, may be off, by all their checks."""

import math
from dataclasses import dataclass

import numpy as np
from django.core.exceptions import ValidationError

from apps.common.reading_once import read_once
from apps.photics.day.meter_scale import KNOWN_MOST, MeterComparison, scale_posterior
from apps.photics.ground.arrays import FloatArray
from apps.surveys.models import Meter, MeterCheck, Survey


@dataclass(frozen=True)
class CheckedScales:
    """The scales of those of a keeper's meters that were checked, together [log]."""

    places: dict[int, int]  # by the meter's key
    mean: FloatArray  # (m,) log of what their values are to be multiplied by
    covariance: FloatArray  # (m, m)

    def known(self, meter: Meter) -> bool:
        """Whether checks or a statement say anything of a meter's scale."""
        place = self.places.get(meter.pk)
        return place is not None and self.covariance[place, place] < KNOWN_MOST**2

    def factor(self, meter: Meter) -> float:
        """Return what a known meter's values are to be multiplied by [1]."""
        return float(np.exp(self.mean[self.places[meter.pk]]))

    def deviation(self, meter: Meter) -> float:
        """Return how far that may be off [log]."""
        place = self.places[meter.pk]
        return math.sqrt(max(float(self.covariance[place, place]), 0.0))


def checked_scales(owner_pk: int) -> CheckedScales:
    """Return the CheckedScales of a keeper's own meters, in one query.

    Those that follow their checks by date are apart: what holds of them changes with the day.
    """
    return read_once(("checked scales", owner_pk), lambda: read_scales(owner_pk))


def read_scales(owner_pk: int) -> CheckedScales:
    """Return `checked_scales` as the database has it now."""
    own = {"meter__owner": owner_pk, "meter__club": None, "meter__follows_checks": False}
    checks = MeterCheck.objects.present().filter(**own)
    rows = list(checks.select_related("meter", "other").order_by("pk"))
    meters = {m.pk: m for row in rows for m in (row.meter, row.other) if m is not None}
    places = {pk: place for place, pk in enumerate(sorted(meters))}
    ordered = [meters[pk] for pk in sorted(meters)]
    mean, covariance = scale_posterior(
        np.array([math.log(m.total_factor()) for m in ordered]),
        np.array([stated_deviation(m) or math.nan for m in ordered]),
        [comparison(row, places) for row in rows],
    )
    return CheckedScales(places, mean, covariance)


def comparison(check: MeterCheck, places: dict[int, int]) -> MeterComparison:
    """Return a MeterCheck as the posterior takes it; meters by their places."""
    log_ratio, deviation = check.log_ratio()
    other = None if check.other_id is None else places[check.other_id]
    reference = math.log1p((check.reference_percent or 0.0) / 100.0)
    own = math.hypot(deviation, reference)
    return MeterComparison(places[check.meter_id], other, log_ratio, own)


def stated_deviation(meter: Meter | None) -> float:
    """Return the deviation of a meter's scale as it is stated, 0 where it is not [log]."""
    percent = meter.uncertainty_percent if meter else None
    return math.log1p((percent or 0.0) / 100.0)


def scale_by_check(check: MeterCheck) -> tuple[float, float]:
    """Return what a meter's values are to be multiplied by from a check on [1], and its deviation.

    By what was stated of the meter and this one check: sensors drift, so older ones count no more.
    """
    meter, other = check.meter, check.other
    log_ratio, scatter = check.log_ratio()
    reference = math.log1p((check.reference_percent or 0.0) / 100.0)
    if other is not None:
        log_ratio += math.log(other.factor_on(check.checked_on))
        reference = stated_deviation(other)
    mean, covariance = scale_posterior(
        np.array([math.log(meter.total_factor())]),
        np.array([stated_deviation(meter) or math.nan]),
        [MeterComparison(0, None, log_ratio, math.hypot(scatter, reference))],
    )
    return float(np.exp(mean[0])), math.sqrt(max(float(covariance[0, 0]), 0.0))


def dated_deviation(survey: Survey, meter: Meter) -> float:
    """Return how far a survey's scale may be off, by the check that held on its day [log]."""
    check = meter.check_on(survey.day())
    if check is None:
        return stated_deviation(meter)
    factor, deviation = scale_by_check(check)
    taken = survey.correction_factor / survey.spectral_factor
    return math.hypot(deviation, math.log(factor / taken))


def scale_of(survey: Survey) -> tuple[int, int | None] | None:
    """Return what tells the scale a survey was read on: its meter, and the check that held then."""
    if survey.meter is None:
        return None
    check = survey.meter.check_on(survey.day())
    return survey.meter.pk, check.pk if check else None


def is_checked(survey: Survey) -> bool:
    """Whether checks say how far the scale of a survey's meter may be off."""
    meter = survey.meter
    if meter is None:
        return False
    if meter.follows_checks:
        return meter.check_on(survey.day()) is not None
    return checked_scales(meter.owner_id).known(meter)


def survey_deviation(survey: Survey) -> float:
    """Return how far a survey's whole scale may be off from PAR [log]; 0 where nobody knows.

    By its meter's checks where there are any: their own deviation, and how far the factor that the
    survey took lies from what they say.
    """
    meter = survey.meter
    if meter is None:
        return 0.0
    if meter.follows_checks:
        return dated_deviation(survey, meter)
    scales = checked_scales(meter.owner_id)
    if not scales.known(meter):
        return stated_deviation(meter)
    return math.hypot(scales.deviation(meter), offset(survey, meter, scales))


def offset(survey: Survey, meter: Meter, scales: CheckedScales) -> float:
    """Return how far above a survey's factor its meter's checks lie [log]."""
    taken = survey.correction_factor / survey.spectral_factor
    return math.log(scales.factor(meter) / taken)


def deviation_between(one: Survey, other: Survey) -> float | None:
    """Return how far two surveys' scales may be apart by their meters [log].

    0 for one meter; None where no check connects what is known of both.
    """
    first, second = one.meter, other.meter
    if first and second and (first.follows_checks or second.follows_checks):
        return dated_between(one, other, first, second)
    if one.meter_id == other.meter_id:
        return 0.0
    if first is None or second is None or first.owner_id != second.owner_id:
        return None
    scales = checked_scales(first.owner_id)
    if first.pk not in scales.places or second.pk not in scales.places:
        return None
    contrast = np.zeros(len(scales.mean))
    contrast[scales.places[first.pk]] += 1.0
    contrast[scales.places[second.pk]] -= 1.0
    variance = float(contrast @ scales.covariance @ contrast)
    if not variance < KNOWN_MOST**2:
        return None
    apart = offset(one, first, scales) - offset(other, second, scales)
    return math.hypot(math.sqrt(max(variance, 0.0)), apart)


def dated_between(one: Survey, other: Survey, first: Meter, second: Meter) -> float | None:
    """Return `deviation_between` where a meter follows its checks by date [log].

    Between two checks a meter's scale is one; across a check each side is known by its own.
    """
    if first == second and first.check_on(one.day()) == first.check_on(other.day()):
        return 0.0
    if first != second and not (is_checked(one) and is_checked(other)):
        return None
    return math.hypot(survey_deviation(one), survey_deviation(other))


def take_factor(meter: Meter) -> None:
    """Correct a keeper's meter by what its checks say; surveys already made keep their factor.

    Raises ValidationError where no check says anything, or what it says is out of bounds.
    """
    scales = checked_scales(meter.owner_id)
    if not scales.known(meter):
        raise ValidationError(f"{meter.label} has no check to correct it by.")
    meter.correction_factor *= scales.factor(meter) / meter.total_factor()
    meter.full_clean()
    meter.save(update_fields=["correction_factor"])

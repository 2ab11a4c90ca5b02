"""Two surveys of one tank held against each other where both read: mostly, two meters."""

import numpy as np

from apps.accounts.models import User
from apps.photics.day.cross_check import DARK_UMOL, Ratio, common_places, ratio_of
from apps.photics.ground.arrays import FloatArray, IntArray
from apps.surveys.models import MeterCheck, Survey, SurveyQuerySet

# Readings nearer than this stand for one place [cm], about a sensor's head and a hand's aim.
WITHIN_CM = 2.0


def partners(survey: Survey) -> SurveyQuerySet:
    """Return the surveys of the same tank and light, newest first: no part of it for the whole."""
    others = survey.tank.surveys.present().exclude(pk=survey.pk).newest_first()
    return others.filter(channel=survey.channel).select_related("meter")


def is_of_own_meters(user: User, survey: Survey, partner: Survey) -> bool:
    """Whether two surveys were taken with two meters of the user's own."""
    meters = {survey.meter, partner.meter}
    return len(meters) == 2 and all(m is not None and m.owner_id == user.pk for m in meters)


def chosen_partner(survey: Survey, key: str) -> Survey | None:
    """Return the partner of a survey that an address names."""
    chosen = next((other for other in partners(survey) if str(other.pk) == key), None)
    if chosen:
        chosen.tank = survey.tank
    return chosen


def shown_pairs(first: Survey, second: Survey) -> list[list[float]]:
    """Return what both meters showed at common places, for this light's colour and at full level.

    Pairs too dark to compare are left out.
    """
    _, shown = common_values(first, second)
    own, other = (
        values * survey.spectral_factor
        for values, survey in zip(shown, (first, second), strict=True)
    )
    return [[float(a), float(b)] for a, b in zip(own, other, strict=True) if min(a, b) >= DARK_UMOL]


def check_of(survey: Survey, partner: Survey) -> MeterCheck:
    """Return the unsaved check of a survey's meter against its partner's."""
    return MeterCheck(
        meter=survey.meter,
        other=partner.meter,
        checked_on=partner.day(),
        pairs=shown_pairs(survey, partner),
    )


def common_values(first: Survey, second: Survey) -> tuple[IntArray, list[FloatArray]]:
    """Return index pairs (k, 2) of common places, and what each meter showed there, (k,)."""
    sides = [list(survey.readings.all()) for survey in (first, second)]
    places = [[(r.x_cm, r.y_cm, r.depth_cm) for r in rows] for rows in sides]
    pairs = common_places(*places, within_cm=WITHIN_CM)
    shown = [
        np.array([rows[i].value_umol for i in pairs[:, side]], float) * survey.peak_share
        for side, (rows, survey) in enumerate(zip(sides, (first, second), strict=True))
    ]
    return pairs, shown


def meters_verdict(ratio: Ratio) -> str:
    """Say whether two meters differ by their Ratio."""
    if ratio.is_one:
        return "No difference seen between them."
    return "They differ. Comparing two meters can’t tell which of them is right."


def compare(first: Survey, second: Survey) -> dict[str, object]:
    """Return the pairs of common places and the ratio second / first, corrected and as shown.

    Each is taken at its survey's level of the lights, brought to full.
    """
    pairs, shown = common_values(first, second)
    readings = list(first.readings.all())
    corrected = [
        values * survey.correction_factor
        for values, survey in zip(shown, (first, second), strict=True)
    ]
    ratio = ratio_of(*corrected)
    return {
        "pairs": [
            (readings[i], float(a), float(b), float(b / a) if a else None)
            for (i, _), a, b in zip(pairs, *corrected, strict=True)
        ],
        "ratio": ratio,
        "verdict": meters_verdict(ratio) if ratio else "",
        "ratio_shown": ratio_of(*shown),
        "within_cm": WITHIN_CM,
    }

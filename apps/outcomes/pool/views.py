"""A tank among others: what they say together, and its owner's word to take part."""

from dataclasses import dataclass

import numpy as np
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_POST

from apps.corals.models import Coral
from apps.drawing.response_curve import Curve, draw_curve
from apps.outcomes.association.events import Direction
from apps.outcomes.models import PooledCurve, PoolShare
from apps.outcomes.pool.agreeing import count_among_others, count_no_more
from apps.outcomes.pool.pooling import EVENTS_MIN, KEEPERS_MIN, SHARE_MAX, TANKS_MIN, within_grid
from apps.photics.causes.counts_and_ranks import wilson_proportion
from apps.photics.causes.response_curves import (
    Bin,
    LogLogistic,
    anchored_response,
    fit_log_logistic,
)
from apps.tanks.access import owned_tank, readable_tank

# A half-way dose is shown where its standard error is below this share of it [1]. House rule.
HALF_ERROR_MAX = 0.25
# What a page says of when results are shown.
RULES = {
    "tanks_min": TANKS_MIN,
    "keepers_min": KEEPERS_MIN,
    "events_min": EVENTS_MIN,
    "share_max": SHARE_MAX,
}


@dataclass(frozen=True)
class ShownCurve:
    """A PooledCurve with its words and its cells' shares."""

    curve: PooledCurve
    title: str
    bins: tuple[Bin, ...]
    verdict: str
    reaches_end: bool  # an end of the interval lies beyond what was looked at
    half: LogLogistic | None  # the curve through the shares, where it is worth telling
    drawn: Curve | None  # the shares with the line that the odds draw through them


def verdict_words(low: float, high: float) -> str:
    """Return what the ends of an interval of odds for a doubling of light say."""
    if low > 1:
        return "Light goes with it."
    if high < 1:
        return "It is the other way round."
    return "No clear sign of light, which is no sign of no light."


def shown(curve):
    bins = tuple(
        Bin(low, np.inf if high is None else high, wilson_proportion(events, visits), middle_log2)
        for low, high, events, visits, middle_log2 in curve.bins
    )
    ends = within_grid(0.0), within_grid(np.inf)
    return ShownCurve(
        curve=curve,
        title=title_of(curve),
        bins=bins,
        verdict="" if curve.ratio is None else verdict_words(curve.low, curve.high),
        reaches_end=curve.low == ends[0] or curve.high == ends[1],
        half=half_way(bins),
        drawn=drawing_of(curve, bins),
    )


def drawing_of(curve, bins):
    """Return the Curve of a PooledCurve's Bins, None where no line is known."""
    if curve.ratio is None:
        return None
    ends = {"ratio": curve.ratio, "low": curve.low, "high": curve.high}
    return draw_curve(anchored_response(bins, **ends))


def half_way(bins):
    """Return the log-logistic curve through Bins' shares, None unless it is sure."""
    dose = [2**b.middle_log2 for b in bins]
    try:
        result = fit_log_logistic(
            dose, [b.share.value for b in bins], weight=[b.share.number for b in bins]
        )
    except ValueError:
        return None
    sure = result.standard_errors[3] < HALF_ERROR_MAX * result.half
    return result if sure and min(dose) < result.half < max(dose) else None


def title_of(curve):
    if curve.level == PooledCurve.Level.GENUS:
        return curve.name.capitalize()
    if curve.level == PooledCurve.Level.GROUP:
        return Coral(group=curve.name).group_short()
    return "All corals"


@login_required
def pool_detail(request, tank_pk):
    tank = readable_tank(request.user, tank_pk)
    context = {
        "tank": tank,
        "is_owner": tank.owner_id == request.user.pk,
        "shared": PoolShare.objects.filter(tank=tank).exists(),
        "questions": questions(PooledCurve.objects.filter(club=None)),
        "rules": RULES,
    }
    return render(request, "outcomes/pool/pool_detail.html", context)


def questions(curves):
    """Return [(direction, ShownCurves)] of PooledCurves, for the directions that have any."""
    drawn = [shown(curve) for curve in curves]
    each = ((way, [c for c in drawn if c.curve.question == way]) for way in Direction)
    return [(way, result) for way, result in each if result]


@login_required
@require_POST
def pool_agree(request, tank_pk):
    tank = owned_tank(request.user, tank_pk)
    count_among_others(tank=tank, by=request.user)
    messages.success(request, f"{tank.name} counts among the others from the next night on.")
    return redirect("pool_detail", tank.pk)


@login_required
@require_POST
def pool_withdraw(request, tank_pk):
    tank = owned_tank(request.user, tank_pk)
    count_no_more(tank=tank)
    messages.success(request, f"{tank.name} no longer counts: nothing of it is left in the sums.")
    return redirect("pool_detail", tank.pk)

"""What a light change would do, told to the form that enters it."""

import datetime as dt
from collections.abc import Iterator, Sequence
from dataclasses import replace

import numpy as np
from django.urls import reverse

from apps.corals.status import band_state
from apps.lighting.change.effect import BandMove, ChangeEffect
from apps.lighting.models import HungFixture
from apps.planning.what_if.live_light import live_light
from apps.planning.what_if.what_if import CoralChange, WhatIf, placed_corals, what_if
from apps.tanks.models import Tank

# Where no coral sits, the level looked at [share of the water's depth]: our own choice.
USUAL_DEPTH = 0.4
# Of all spots: those that gain least, the median, those that gain most [%].
OF_SPOTS = (10, 50, 90)
GUESSED = "The output of {} is not known, so this is a guess."


def change_effects(
    tank: Tank, rows: Sequence[HungFixture], factor: float, now: dt.datetime
) -> Iterator[ChangeEffect]:
    """Yield the one ChangeEffect of HungFixtures instead of those of now, times a factor."""
    live = live_light(tank, now)
    if live.problem:
        yield ChangeEffect(remark=live.problem)
        return
    placed, _ = placed_corals(live)
    depth_cm = USUAL_DEPTH * tank.depth_cm
    if placed:
        depth_cm = float(np.median([spot.depth_cm for _, spot in placed]))
    try:
        changed = what_if(live, rows, depth_cm=round(depth_cm))
    except ValueError as problem:
        yield ChangeEffect(remark=str(problem))
        return
    guessed = live.guessed_outputs(rows)
    low, middle, high = ratios(changed, tank, factor)
    yield ChangeEffect(
        ratio=middle,
        low_ratio=low,
        high_ratio=high,
        depth_cm=round(depth_cm),
        moves=tuple(band_moves(changed.corals, factor, live.full_hours)),
        corals=len(changed.corals),
        remark=GUESSED.format(", ".join(guessed)) if guessed else "",
    )


def ratios(changed: WhatIf, tank: Tank, factor: float) -> Sequence[float | None]:
    """Return the light of the plane after for 1 before, at its OF_SPOTS; None where it is dark."""
    now, then = changed.now, changed.then
    wet = ~tank.scene().outside(now.x_cm[None, :], now.y_cm[:, None]) & (now.par_umol > 0)
    if not wet.any():
        return [None] * len(OF_SPOTS)
    each = then.par_umol[wet] / now.par_umol[wet]
    return [factor * float(one) for one in np.percentile(each, OF_SPOTS)]


def band_moves(
    corals: Sequence[CoralChange], factor: float, full_hours: float | None
) -> Iterator[BandMove]:
    """Yield the BandMove of every coral that leaves its band or enters it."""
    for one in corals:
        then = replace(
            one.then,
            par_umol=factor * one.then.par_umol,
            low_umol=factor * one.then.low_umol,
            high_umol=factor * one.then.high_umol,
        )
        state = band_state(then, one.coral.band(full_hours))
        if state.key != one.state_now.key:
            yield BandMove(
                name=one.coral.name,
                url=reverse("coral_detail", args=[one.coral.pk]),
                par_now_umol=one.now.par_umol,
                par_then_umol=then.par_umol,
                key=state.key,
                words=state.words,
            )

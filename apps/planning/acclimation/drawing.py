"""Planned against actual: the light of the steps and the light the coral had, on one time axis."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass

from apps.corals.coral.light_plot import TALLEST
from apps.corals.coral.light_steps import light_steps
from apps.drawing.marks import Tick
from apps.drawing.time_axis import (
    Step,
    TimeAxis,
    ValueAxis,
    band_path,
    midnight,
    step_path,
    value_axis,
)
from apps.lightmap.lightmap import TankLight
from apps.lightmap.spot_light import SpotLight
from apps.photics.day.acclimation import REFERENCE_LIGHTS, ReferenceLight
from apps.planning.models import Acclimation, AcclimationStep, AcclimationTick

# Of the drawing in pixels: chosen for a phone.
HEIGHT = 190
# What is shown before the first step and after the last planned one.
BEFORE, AFTER = dt.timedelta(days=7), dt.timedelta(days=4)


@dataclass(frozen=True)
class ReferenceLine:
    """A published daily light as a band of the drawing, in pixels; `label` names it."""

    top: float
    height: float
    label: str
    light: ReferenceLight


@dataclass(frozen=True)
class AcclimationDrawing:
    """Planned and actual light on one time axis, as paths and ticks."""

    axis: TimeAxis
    time_ticks: tuple[Tick, ...]
    ticks: tuple[Tick, ...]
    height: int
    planned: str
    actual: str
    interval: str
    marks: tuple[Tick, ...]  # steps that were ticked, in % of the width
    now_at: float
    wanted: tuple[float, float]
    references: tuple[ReferenceLine, ...]
    summary: str


def acclimation_drawing(
    plan: Acclimation, light: TankLight, *, now: dt.datetime, dli_per_umol: float | None
) -> AcclimationDrawing:
    """Return the AcclimationDrawing of a plan read `with_all`.

    `dli_per_umol` is the daily light of PAR 1, or None where no schedule is stated: the published
    lines are daily lights and are left out then.
    """
    zone, steps = plan.tank.zone, list(plan.steps.all())
    now = now.astimezone(zone)
    first = midnight(plan.starts_on, zone)
    last = midnight(plan.planned_on(len(steps)), zone)
    axis = TimeAxis(min(first, now) - BEFORE, max(last, now) + AFTER)
    planned = planned_steps(plan, steps, axis)
    had = [
        (s, s.light)
        for s in light_steps(plan.coral, light, TimeAxis(axis.start, now))
        if s.light is not None
    ]
    actual = [Step(s.start, s.end, here.par_umol, here.par_umol) for s, here in had]
    spread = [Step(s.start, s.end, here.low_umol, here.high_umol) for s, here in had]
    band = plan.coral.band(light.history.full_hours_at(now))
    value = light_axis(band.high_umol, (*planned, *actual), spread)
    return AcclimationDrawing(
        axis=axis,
        time_ticks=axis.ticks(most=4),
        ticks=value.ticks(),
        height=HEIGHT,
        planned=step_path(planned, time=axis, value=value),
        actual=step_path(actual, time=axis, value=value) if actual else "",
        interval=band_path(spread, time=axis, value=value),
        marks=tuple(tick_mark(tick, axis, zone) for tick in plan.ticks.all()),
        now_at=axis.percent(now),
        wanted=(value.y(band.high_umol), value.y(band.low_umol) - value.y(band.high_umol)),
        references=reference_lines(value, dli_per_umol),
        summary=drawing_summary(plan, had[-1][1] if had else None),
    )


def light_axis(band_high_umol: float, lines: Sequence[Step], spread: Sequence[Step]) -> ValueAxis:
    """Return the ValueAxis that holds a band and all lines, and of a wide interval what fits.

    `band_high_umol` the band's upper end [umol m-2 s-1].
    """
    top = max([band_high_umol, *(step.high for step in lines)])
    widest = max((step.high for step in spread), default=top)
    return value_axis(max(top, min(widest, TALLEST * top / 2)), height=HEIGHT)


def planned_steps(plan: Acclimation, steps: list[AcclimationStep], axis: TimeAxis) -> list[Step]:
    """Return the planned light as Steps of the time axis, the light it is used to first."""
    zone = plan.tank.zone
    starts = [midnight(plan.planned_on(step.number), zone) for step in steps]
    lights = [plan.start_umol, *(step.light_umol for step in steps)]
    ends = [*starts, axis.end]
    return [
        Step(start, end, light, light)
        for start, end, light in zip([axis.start, *starts], ends, lights, strict=True)
    ]


def tick_mark(tick: AcclimationTick, axis: TimeAxis, zone: dt.tzinfo) -> Tick:
    at = midnight(tick.done_on, zone) + dt.timedelta(hours=12)
    return Tick(axis.percent(at), f"step {tick.number} on {tick.done_on:%-d %b}")


def reference_lines(value: ValueAxis, dli_per_umol: float | None) -> tuple[ReferenceLine, ...]:
    """Return the published lights that lie within the drawing."""
    if not dli_per_umol:
        return ()
    lines = []
    for light in REFERENCE_LIGHTS:
        low, high = light.low_mol / dli_per_umol, light.high_mol / dli_per_umol
        if high <= value.top:
            span = (
                f"{light.low_mol:g}"
                if light.low_mol == light.high_mol
                else (f"{light.low_mol:g}–{light.high_mol:g}")
            )
            top = value.y(high)
            lines.append(
                ReferenceLine(
                    top, max(round(value.y(low) - top, 1), 1.5), f"{span}\u00a0mol", light
                )
            )
    return tuple(lines)


def drawing_summary(plan: Acclimation, latest: SpotLight | None) -> str:
    """Return what the drawing shows in words, for those who don't see it."""
    text = f"Planned from PAR {plan.start_umol:.0f} to {plan.target_umol:.0f} in steps."
    if latest is None:
        return f"{text} The light it had is not known."
    return f"{text} By the light map it has PAR {latest.par_umol:.0f} at its spot now."

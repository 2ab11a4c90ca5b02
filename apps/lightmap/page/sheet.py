"""Everything the light map page prints, from a tank and an address: one record."""

import datetime as dt
import uuid
from dataclasses import dataclass, field
from urllib.parse import urlencode

import numpy as np
from django.utils import timezone

from apps.drawing.cut import CELLS, Drawing, OnCut
from apps.drawing.legend import LegendCell, legend_of
from apps.drawing.plan import draw_plan
from apps.drawing.section import draw_section
from apps.lighting.history import Change, light_history
from apps.lightmap.lightmap import (
    ShownField,
    SurveyMap,
    fit_survey,
    map_after,
    ready_to_draw,
    surveys_for_fitting,
)
from apps.lightmap.page.looks import LOOKS, PAR, SHADOW, Look, scale_for
from apps.lightmap.page.next import NextReadings, next_readings
from apps.lightmap.page.query import AS_MEASURED, BAND_PRESETS, TODAY, as_address
from apps.lightmap.pins import BandState, Pin, state_in_band
from apps.lightmap.rig_transition import transition_between
from apps.photics.ground import scene
from apps.photics.ground.scene import in_rock
from apps.surveys.models import Survey

# Columns and rows of the table of values.
TABLE_STEPS = 6
# Places along the tank among which the question for a point starts.
START_PLACES = 41
# Disagreeing readings listed beside the map; the table marks them all.
WORST_SHOWN = 5
# When more than this share disagrees, it is the map that fits badly [1], house rule.
MANY_SHARE = 0.2
NO_SHADOWS = (
    "No fixtures carry this map, so it cannot tell where light comes from. "
    "Say what hangs above the tank in the light log."
)


@dataclass(frozen=True)
class PlaneFacts:
    """What the plane shown amounts to, averaged over its area [umol m-2 s-1, %]."""

    min_umol: float
    mean_umol: float
    max_umol: float
    uniformity: float
    beyond_percent: float
    in_band_percent: float
    surely_percent: float
    perhaps_percent: float


@dataclass(frozen=True)
class MeasuredRow:
    """A reading at the day's peak, and what the others say is there."""

    number: int
    client_id: uuid.UUID
    x_cm: float
    y_cm: float
    depth_cm: float
    peak_umol: float
    expected_umol: float | None = None
    off_percent: float | None = None
    disagrees: bool = False


@dataclass(frozen=True)
class PinLight:
    """A pin with the light at its own depth."""

    number: int
    pin: Pin
    par_umol: float
    low_umol: float
    high_umol: float
    extrapolated: bool
    state: BandState
    # Nobody reads light within rock: the coral's or the rock's place is off.
    in_rock: bool


@dataclass
class LightMapSheet:
    """The page's contents; drawings are None while there is nothing to draw."""

    tank: object
    unit: str
    surveys: list[Survey]
    asked: object
    survey: Survey | None = None
    fitted: SurveyMap | None = None
    measured_on: dt.date | None = None
    newer_exists: bool = False
    changes: tuple[Change, ...] = ()
    factor: float = 1.0
    shown: str = AS_MEASURED  # or TODAY
    shown_field: ShownField | None = None
    predicted_since: dt.date | None = None
    dark: bool = False  # today nothing shines: only what was measured can be shown
    rig: tuple[scene.Fixture, ...] = ()  # that hung on the day, where the keeper told it
    look: Look = LOOKS[PAR]
    look_problem: str = ""
    next: NextReadings | None = None
    depth_cm: float = 0.0
    y_cm: float = 0.0
    plan: Drawing | None = None
    section: Drawing | None = None
    legend: list[LegendCell] = field(default_factory=list)
    facts: PlaneFacts | None = None
    rows: list[MeasuredRow] = field(default_factory=list)
    pins: list[PinLight] = field(default_factory=list)
    table: list = field(default_factory=list)
    table_x_cm: list[float] = field(default_factory=list)
    presets: dict = field(default_factory=lambda: BAND_PRESETS)
    looks: dict = field(default_factory=lambda: LOOKS)

    @property
    def problem(self):
        return self.fitted.problem if self.fitted else ""

    @property
    def summary(self):
        """How the map shown was made."""
        return (self.shown_field or self.fitted).field.summary

    @property
    def guessed_look(self):
        """Whether what is shown hangs on fixtures that are only guessed."""
        return self.look.key == SHADOW and self.fitted.field.guessed

    @property
    def ask_x_cm(self):
        """Where the question for a point starts, as its y and depth do: in water [cm]."""
        if self.asked.x_cm is not None:
            return self.asked.x_cm
        rocks, middle = self.tank.scene_rocks(), self.tank.length_cm / 2
        places = np.linspace(0.0, self.tank.length_cm, START_PLACES)
        free = places[~in_rock(rocks, places, self.y_cm, self.depth_cm)]
        return float(free[np.argmin(abs(free - middle))]) if free.size else middle

    @property
    def disagreeing(self):
        """Readings that do not fit the rest, the furthest off first."""
        return sorted((r for r in self.rows if r.disagrees), key=lambda r: -r.off_percent)

    @property
    def worst(self):
        return self.disagreeing[:WORST_SHOWN]

    @property
    def many_disagree(self):
        return len(self.disagreeing) > MANY_SHARE * len(self.rows)

    @property
    def query(self):
        """Return the address of this very view, without the page's path."""
        return urlencode(self.wishes | self.look_wish | self.next_wish)

    @property
    def query_without_next(self):
        """Return the address of this view without spots to read next."""
        return urlencode(self.wishes | self.look_wish)

    @property
    def look_wish(self):
        return {} if self.look.key == PAR else {"view": self.look.key}

    @property
    def next_wish(self):
        return {"next": self.asked.next_count} if self.next else {}

    @property
    def query_without_look(self):
        """Return the address of this view up to what the colours stand for."""
        return urlencode(self.wishes | self.next_wish)

    @property
    def wishes(self):
        return {
            "survey": self.survey.pk,
            "depth": as_address(self.depth_cm),
            "y": as_address(self.y_cm),
            "low": self.asked.band_texts[0],
            "high": self.asked.band_texts[1],
            "shown": self.shown,
        }


def light_map_sheet(tank, asked, *, unit, pins, moment=None):
    """Return the LightMapSheet of a tank for an Asked; pins are the Pins to draw."""
    sheet = mapped_light(tank, asked, unit=unit, moment=moment)
    if sheet.shown_field:
        fill_planes(sheet, pins)
    return sheet


def mapped_light(tank, asked, *, unit, moment=None):
    """Return a LightMapSheet that knows its light but draws nothing yet.

    Its shown_field stays None where there is no map.
    """
    surveys = surveys_for_fitting(tank, asked.survey_pk)[::-1]
    sheet = LightMapSheet(tank=tank, unit=unit, surveys=surveys, asked=asked)
    if not surveys:
        return sheet
    for survey in surveys:
        survey.day = survey.taken_at.astimezone(tank.zone).date()
    history = light_history(tank)
    sheet.survey, sheet.fitted = choose_survey(surveys, asked.survey_pk, history)
    sheet.measured_on = sheet.survey.day
    newest = next((s for s in surveys if s.readings.all()), surveys[0])
    sheet.newer_exists = sheet.survey.taken_at < newest.taken_at
    if sheet.fitted.field is None:
        return sheet
    show_light(sheet, history, moment or timezone.now())
    sheet.rig = history.rig_at(sheet.survey.taken_at)
    sheet.rows = measured_rows(sheet.survey, sheet.summary)
    usual_depth = float(np.median([row.depth_cm for row in sheet.rows]))
    sheet.depth_cm = round(usual_depth, 1) if asked.depth_cm is None else asked.depth_cm
    sheet.y_cm = round(tank.width_cm / 2, 1) if asked.y_cm is None else asked.y_cm
    sheet.look = LOOKS[asked.view]
    if sheet.look.key == SHADOW and sheet.shown_field.field.rig_fit is None:
        sheet.look, sheet.look_problem = LOOKS[PAR], NO_SHADOWS
    return sheet


def show_light(sheet, history, moment):
    """Set which light the sheet shows: as measured, or as the log makes it at a moment."""
    taken_at, rocks = sheet.survey.taken_at, sheet.tank.scene_rocks()
    changes = history.between(taken_at, moment)
    sheet.changes = tuple(change for change in changes if change.touches_light)
    transition = transition_between(history, taken_at, moment)
    moved = bool(sheet.changes) or transition is not None
    if sheet.changes:
        sheet.predicted_since = sheet.changes[0].happened_at.astimezone(sheet.tank.zone).date()
    sheet.dark = transition is not None and transition.is_dark
    sheet.factor = history.factor_between(taken_at, moment)
    # An older survey is opened to see what was; the newest to see what is.
    usual = TODAY if moved and not sheet.newer_exists else AS_MEASURED
    sheet.shown = (sheet.asked.shown or usual) if moved and not sheet.dark else AS_MEASURED
    if sheet.shown == TODAY:
        drawn = map_after(sheet.fitted, transition, rocks)
        vague = len(history.vague_between(taken_at, moment))
        sheet.shown_field = ShownField(drawn.field, sheet.factor, vague, drawn.cache_key)
    else:
        drawn = sheet.fitted
        sheet.shown_field = ShownField(drawn.field, 1.0, 0, drawn.cache_key)
    ready_to_draw(drawn)


def choose_survey(surveys, asked_pk, history):
    """Return the survey asked for, else the newest that carries a map, else the newest.

    With it comes its SurveyMap. Surveys are newest first; no more are fitted than needed.
    """
    asked = [survey for survey in surveys if survey.pk == asked_pk]
    for survey in asked or surveys:
        fitted = fit_survey(survey, history)
        if asked or fitted.field is not None:
            return survey, fitted
    return surveys[0], fit_survey(surveys[0], history)


def fill_planes(sheet, pins):
    """Set the drawings and all that depends on the planes shown."""
    tank, asked, shown = sheet.tank, sheet.asked, sheet.shown_field
    scale = scale_for(sheet.look, shown, tank)
    level = shown.grid(sheet.depth_cm, max(tank.length_cm, tank.width_cm) / CELLS)
    upright = shown.section(sheet.y_cm, max(tank.length_cm, tank.depth_cm) / CELLS)
    if asked.next_count:
        sheet.next = next_readings(sheet.fitted.field, asked.next_count, pins)
    spots = sheet.next.spots if sheet.next else ()
    things = {"over": OnCut(sheet.rows, pins, spots), "unit": sheet.unit}
    values = sheet.look.values(shown, level)
    sheet.plan = draw_plan(level, values, scale, tank, y_cm=sheet.y_cm, **things)
    values = sheet.look.values(shown, upright)
    sheet.section = draw_section(upright, values, scale, tank, depth_cm=sheet.depth_cm, **things)
    sheet.legend = legend_of(scale)
    sheet.facts = plane_facts(level, asked.band_low_umol, asked.band_high_umol)
    sheet.pins = pin_lights(shown, pins)
    sheet.table_x_cm, sheet.table = value_table(shown, tank, sheet.depth_cm)


def measured_rows(survey, summary):
    """Return a MeasuredRow for each reading, in the order they were typed."""
    disagreeing = {found.index for found in summary.disagreeing}
    return [
        MeasuredRow(
            number=i + 1,
            client_id=reading.client_id,
            x_cm=reading.x_cm,
            y_cm=reading.y_cm,
            depth_cm=reading.depth_cm,
            peak_umol=reading.value_umol * survey.to_peak,
            expected_umol=float(summary.loo_par_umol[i]),
            off_percent=float(summary.loo_error_percent[i]),
            disagrees=i in disagreeing,
        )
        for i, reading in enumerate(survey.readings.all())
    ]


def plane_facts(grid, low_umol, high_umol):
    """Return the PlaneFacts of a GridEstimate for a band [umol m-2 s-1].

    Nodes at a wall stand for half a cell, at a corner for a quarter: the trapezoid rule. Those
    within a rock count for nothing, unless the rocks fill the whole plane.
    """
    water = ~grid.in_rock
    water |= not water.any()
    weight = water.astype(float)
    for edge in (np.s_[0, :], np.s_[-1, :], np.s_[:, 0], np.s_[:, -1]):
        weight[edge] /= 2.0

    def percent(mask):
        return 100.0 * float((weight * mask).sum() / weight.sum())

    par, low, high = grid.par_umol, grid.low_umol, grid.high_umol
    mean = float((weight * par).sum() / weight.sum())
    return PlaneFacts(
        min_umol=float(par[water].min()),
        mean_umol=mean,
        max_umol=float(par[water].max()),
        uniformity=float(par[water].min()) / mean,
        beyond_percent=percent(grid.extrapolated),
        in_band_percent=percent((par >= low_umol) & (par <= high_umol)),
        surely_percent=percent((low >= low_umol) & (high <= high_umol)),
        perhaps_percent=percent((high >= low_umol) & (low <= high_umol)),
    )


def pin_lights(shown, pins):
    """Return a PinLight for each Pin, numbered as on the drawings."""
    if not pins:
        return []
    places = np.array([(pin.x_cm, pin.y_cm, pin.depth_cm) for pin in pins], float)
    found = shown.at(places)
    lights = []
    for i, pin in enumerate(pins):
        ends = float(found.par_umol[i]), float(found.low_umol[i]), float(found.high_umol[i])
        inside = bool(found.in_rock[i])
        state = state_in_band(None if inside else ends, pin.band_low_umol, pin.band_high_umol)
        beyond = bool(found.extrapolated[i])
        lights.append(PinLight(i + 1, pin, *ends, beyond, state, in_rock=inside))
    return lights


def value_table(shown, tank, depth_cm):
    """Return x [cm] of the columns, and rows of (y [cm], values) from the back to the front."""
    grid = shown.grid(depth_cm, max(tank.length_cm, tank.width_cm) / TABLE_STEPS)
    rows = []
    for j in reversed(range(len(grid.y_cm))):
        cells = [
            {
                "par": float(grid.par_umol[j, i]),
                "low": float(grid.low_umol[j, i]),
                "high": float(grid.high_umol[j, i]),
                "beyond": bool(grid.extrapolated[j, i]),
                "in_rock": bool(grid.in_rock[j, i]),
            }
            for i in range(len(grid.x_cm))
        ]
        rows.append((float(grid.y_cm[j]), cells))
    return grid.x_cm.tolist(), rows

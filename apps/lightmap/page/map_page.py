"""Everything a page of the light map prints, from a tank and a query: one frozen record."""

import datetime as dt
import math
import uuid
from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from urllib.parse import urlencode

import numpy as np
from django.utils import timezone

from apps.drawing.cut import OnCut
from apps.lighting.history import LightHistory, light_history
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.joined_words import contradiction_words, rests_on_words, rock_words
from apps.lightmap.page.looks import LOOKS, PAR, SHADOW, Look
from apps.lightmap.page.moment import MomentWords, moment_words
from apps.lightmap.page.next import NextReadings, next_readings
from apps.lightmap.page.planes import (
    MapPlanes,
    MapView,
    PlaneFacts,
    ValueTable,
    draw_planes,
    plane_facts,
    value_table,
)
from apps.lightmap.page.query import (
    AS_MEASURED,
    BAND_PRESETS,
    TODAY,
    MapQuery,
    QueriedBand,
    as_address,
)
from apps.lightmap.page.shown_light import (
    ChosenSurvey,
    MapLight,
    choose_survey,
    light_shown,
    unread_choice,
)
from apps.lightmap.pins import Pin
from apps.lightmap.plan_places import field_now
from apps.lightmap.stated_outputs import StatedOutputs
from apps.lightmap.survey_map import surveys_for_fitting
from apps.photics.field.light_field import LightField
from apps.photics.field.readings import MIN_READINGS
from apps.photics.ground.estimate import FieldSummary
from apps.photics.ground.scene import out_of_water
from apps.surveys.meters.scales import checked_scales
from apps.surveys.models import Meter, Survey
from apps.tanks.models import Tank

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
class MeasuredRow:
    """A reading at the day's peak, and what the others say is there."""

    number: int
    client_id: uuid.UUID
    x_cm: float
    y_cm: float
    depth_cm: float
    peak_umol: float
    expected_umol: float
    off_percent: float
    disagrees: bool


@dataclass(frozen=True, kw_only=True)
class MapPage:
    """A page's contents; what cannot be known or drawn is None."""

    tank: Tank
    unit: str
    query: MapQuery
    surveys: tuple[Survey, ...] = ()
    chosen: ChosenSurvey | None = None
    light: MapLight | None = None
    view: MapView | None = None
    rows: tuple[MeasuredRow, ...] = ()
    planes: MapPlanes | None = None
    facts: PlaneFacts | None = None
    table: ValueTable | None = None
    next: NextReadings | None = None
    unread_problem: str = ""  # why stated outputs carry no light, where no survey does
    presets: dict[str, tuple[str, float, float]] = field(default_factory=lambda: BAND_PRESETS)
    looks: dict[str, Look] = field(default_factory=lambda: LOOKS)

    @property
    def survey(self) -> Survey | None:
        return self.chosen.survey if self.chosen else None

    @property
    def moment(self) -> MomentWords | None:
        """Of which moment the light is; None without a survey."""
        if self.chosen is None:
            return None
        chosen = self.chosen
        return moment_words(measured_on=chosen.measured_on, newer_exists=chosen.newer_exists)

    @property
    def problem(self) -> str:
        """Why the survey carries no map."""
        return self.chosen.fitted.problem if self.chosen else ""

    @property
    def disagreeing(self) -> list[MeasuredRow]:
        """Readings that do not fit the rest, the furthest off first."""
        return sorted((r for r in self.rows if r.disagrees), key=lambda r: -r.off_percent)

    @property
    def worst(self) -> list[MeasuredRow]:
        return self.disagreeing[:WORST_SHOWN]

    @property
    def many_disagree(self) -> bool:
        return len(self.disagreeing) > MANY_SHARE * len(self.rows)


@dataclass(frozen=True, kw_only=True)
class LitPage(MapPage):
    """The page of a survey that carries a map: its light and what of it is drawn are known."""

    chosen: ChosenSurvey
    light: MapLight
    view: MapView
    rests_on: str  # the surveys the map rests on, "" for its own alone
    contradiction: str  # its readings against those of earlier surveys
    rock_notes: tuple[str, ...]

    @property
    def is_measured(self) -> bool:
        """Whether any reading stands behind the light."""
        return self.chosen.survey is not None

    @property
    def mark(self) -> str:
        """What stands behind the name of a light that nobody measured."""
        return "" if self.is_measured else " (not measured)"

    @property
    def back(self) -> str:
        """What the plan says at the back pane."""
        return "back pane" if self.is_measured else "back pane · NOT MEASURED"

    @property
    def surface_words(self) -> str:
        """What the section says at the surface."""
        return "water surface" if self.is_measured else "water surface · NOT MEASURED"

    @property
    def few_readings(self) -> bool:
        """Whether readings alone would be too few, so that stated outputs count as well."""
        spots = {(round(r.x_cm), round(r.y_cm), round(r.depth_cm)) for r in self.rows}
        return self.is_measured and not self.rests_on and len(spots) < MIN_READINGS

    @property
    def moment(self) -> MomentWords:
        """Of which moment the light is, and how far off typically."""
        light = self.light
        return moment_words(
            measured_on=self.chosen.measured_on,
            predicted_since=light.predicted_since if light.shown == TODAY else None,
            changed_since=light.shown == AS_MEASURED and bool(light.changes),
            newer_exists=self.chosen.newer_exists,
            typical_error_percent=light.summary.typical_error_percent,
        )

    @property
    def guessed_look(self) -> bool:
        """Whether what is shown hangs on fixtures that are only guessed."""
        return self.view.look.key == SHADOW and self.light.guessed

    @property
    def meter_percent(self) -> float:
        """How far the meter's whole scale may be off, one deviation; 0 where not stated [%]."""
        return 100.0 * math.expm1(self.light.field.field.meter_deviation)

    @property
    def meter_source(self) -> str:
        """Where that is from."""
        survey = self.chosen.survey
        if survey is None or survey.meter is None:
            return ""
        if checked_scales(survey.meter.owner_id).known(survey.meter):
            return "by its checks"
        is_usual = survey.meter.uncertainty_from == Meter.UncertaintyFrom.USUAL
        return "usual for its kind, not measured" if is_usual else "as stated"

    @property
    def ask_x_cm(self) -> float:
        """Where the question for a point starts, as its y and depth do: in water [cm]."""
        if self.query.x_cm is not None:
            return self.query.x_cm
        rocks, middle = self.tank.scene_rocks(), self.tank.length_cm / 2
        places = np.linspace(0.0, self.tank.length_cm, START_PLACES)
        tank, y_cm = self.tank.scene(), self.view.y_cm
        free = places[~out_of_water(tank, rocks, places, y_cm, self.view.depth_cm)]
        return float(free[np.argmin(abs(free - middle))]) if free.size else middle

    @property
    def address(self) -> str:
        """Return the address of this very view, without the page's path."""
        return urlencode(self._plane_wishes | self._look_wish | self._next_wish)

    @property
    def address_without_next(self) -> str:
        """Return the address of this view without points to read next."""
        return urlencode(self._plane_wishes | self._look_wish)

    @property
    def address_without_look(self) -> str:
        """Return the address of this view up to what the colours stand for."""
        return urlencode(self._plane_wishes | self._next_wish)

    @property
    def _plane_wishes(self) -> dict[str, object]:
        low, high = self.query.band.texts
        return {
            **({"survey": self.chosen.survey.pk} if self.chosen.survey else {}),
            "depth": as_address(self.view.depth_cm),
            "y": as_address(self.view.y_cm),
            "low": low,
            "high": high,
            "shown": self.light.shown,
        }

    @property
    def _look_wish(self) -> dict[str, object]:
        return {} if self.view.look.key == PAR else {"view": self.view.look.key}

    @property
    def _next_wish(self) -> dict[str, object]:
        return {"next": self.query.next_count} if self.next else {}


def map_page(
    tank: Tank, query: MapQuery, *, unit: str, moment: dt.datetime | None = None
) -> MapPage:
    """Return the page that knows its light but draws nothing yet; a LitPage if there is a map."""
    moment = moment or timezone.now()
    surveys = tuple(surveys_for_fitting(tank, query.survey_pk)[::-1])
    history = light_history(tank)
    chosen = chosen_light(tank, surveys, query, history, moment)
    if chosen is None or chosen.fitted.field is None:
        return MapPage(
            tank=tank,
            unit=unit,
            query=query,
            surveys=surveys,
            chosen=chosen,
            unread_problem=unread_problem(tank, moment),
        )
    light = light_shown(chosen, tank, history, shown=query.shown, moment=moment)
    rows = measured_rows(chosen.survey, light.summary) if chosen.survey else ()
    return LitPage(
        tank=tank,
        unit=unit,
        query=query,
        surveys=surveys,
        chosen=chosen,
        light=light,
        rows=rows,
        view=view_of(query, tank, light, rows),
        rests_on=rests_on_words(chosen.fitted.rests_on, history, tank.zone),
        contradiction=contradiction_words(chosen.fitted.mapped.summary.against_others),
        rock_notes=tuple(rock_notes(tank, chosen.fitted.anchored)),
    )


def chosen_light(
    tank: Tank,
    surveys: Sequence[Survey],
    query: MapQuery,
    history: LightHistory,
    moment: dt.datetime,
) -> ChosenSurvey | None:
    """Return the ChosenSurvey of a query: a survey's light, else that by stated outputs.

    None where there is neither a survey nor a stated output.
    """
    chosen = None
    if surveys:
        outputs = StatedOutputs(tank, history)
        chosen = choose_survey(surveys, query.survey_pk, history, tank.zone, outputs)
        if chosen.fitted.field is not None or query.survey_pk is not None:
            return chosen
    return unread_choice(tank, moment) or chosen


def unread_problem(tank: Tank, moment: dt.datetime) -> str:
    """Return why there is no light by stated outputs, "" where no fixture was described."""
    unread = tank_light(tank).unread
    return "" if unread is None else unread.problem_at(moment)


def rock_notes(tank: Tank, field: LightField) -> list[str]:
    """Return a sentence for each rock that the fit takes for smaller or larger than stated."""
    names = [rock.name for rock in tank.rocks.all() if rock.removed_at is None]
    return rock_words(field.rock_fits, names)


def view_of(query: MapQuery, tank: Tank, light: MapLight, rows: Sequence[MeasuredRow]) -> MapView:
    """Return the MapView of a query; where it says nothing, the depth most readings lie at."""
    depths = [row.depth_cm for row in rows] or [tank.depth_cm / 2]
    usual_cm = round(float(np.median(depths)), 1)
    look, problem = LOOKS[query.view], ""
    if look.key == SHADOW and light.field.field.rig_fit is None:
        look, problem = LOOKS[PAR], NO_SHADOWS
    return MapView(
        look=look,
        depth_cm=usual_cm if query.depth_cm is None else query.depth_cm,
        y_cm=round(tank.width_cm / 2, 1) if query.y_cm is None else query.y_cm,
        look_problem=problem,
    )


def with_planes(page: MapPage, pins: Sequence[Pin]) -> MapPage:
    """Return a page with its drawings, if it has a light; Pins are drawn and numbered."""
    if not isinstance(page, LitPage):
        return page
    page = with_band(page, pins)
    field, band = page.light.field, page.query.band
    if page.query.next_count:
        page = next_of(page, page.query.next_count, pins)
    over = OnCut(page.rows, pins, page.next.points if page.next else ())
    planes = draw_planes(field, page.tank, page.view, over=over, pins=pins, unit=page.unit)
    return replace(
        page,
        planes=planes,
        facts=plane_facts(
            planes.level,
            low_umol=band.low_umol,
            high_umol=band.high_umol,
            common_log=field.common_log,
            rocks=page.tank.scene_rocks(),
        ),
        table=value_table(field, page.tank, page.view.depth_cm),
    )


def with_band(page: LitPage, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage whose view draws out its band: the reader's, else that of most pins."""
    band = page.query.band
    usual = usual_band(pins)
    if usual and not band.is_chosen:
        band = QueriedBand(*usual)
    wanted = None if band.problem else (band.low_umol, band.high_umol)
    query, view = replace(page.query, band=band), replace(page.view, wanted=wanted)
    return replace(page, query=query, view=view)


def usual_band(pins: Sequence[Pin]) -> tuple[float, float] | None:
    """Return the band that most pins have [umol m-2 s-1]; of equals, the lower one."""
    bands = Counter(
        (pin.band_low_umol, pin.band_high_umol)
        for pin in pins
        if pin.band_low_umol is not None and pin.band_high_umol is not None
    )
    return min(bands, key=lambda band: (-bands[band], band), default=None)


def with_next(page: MapPage, count: int, pins: Sequence[Pin]) -> MapPage:
    """Return a MapPage with so many points to read next, if it has a light."""
    page = replace(page, query=replace(page.query, next_count=count))
    return next_of(page, count, pins) if isinstance(page, LitPage) else page


def next_of(page: LitPage, count: int, pins: Sequence[Pin]) -> LitPage:
    """Return a LitPage with so many points to read next."""
    # Read next is read now, whatever light is shown.
    field = field_now(page.tank, timezone.now()) or page.light.fitted.mapped
    return replace(page, next=next_readings(field, count, pins))


def measured_rows(survey: Survey, summary: FieldSummary) -> tuple[MeasuredRow, ...]:
    """Return a MeasuredRow for each reading, in the order they were typed."""
    disagreeing = {reading.index for reading in summary.disagreeing}
    return tuple(
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
    )

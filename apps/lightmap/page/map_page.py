"""Everything a page of the light map prints, from a tank and a query: one frozen record."""

import datetime as dt
import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from django.utils import timezone

from apps.drawing.cut import Drawing, LetteredPlace
from apps.drawing.legend import Legend
from apps.lighting.history import LightHistory, light_history
from apps.lightmap.difference.dated_light import Comparable
from apps.lightmap.lightmap import tank_light
from apps.lightmap.page.box import BoxDrawing
from apps.lightmap.page.changed import CutChange
from apps.lightmap.page.joined_words import (
    contradiction_words,
    heading_words,
    rests_on_words,
    rock_words,
)
from apps.lightmap.page.links import Choice, address_of, choices, toggles
from apps.lightmap.page.looks import CHANGE, LOOKS, PAR, SHADOW
from apps.lightmap.page.moment import MomentWords, moment_words
from apps.lightmap.page.next import NextReadings
from apps.lightmap.page.planes import (
    MapPlanes,
    MapView,
    PinLight,
    PlaneFacts,
    ValueTable,
)
from apps.lightmap.page.query import (
    ABOVE,
    AS_MEASURED,
    GUESS,
    LAYERS,
    READINGS,
    SEEN_WORDS,
    SIDE,
    SLANT,
    TODAY,
    MapQuery,
    Preset,
    as_address,
    presets_at,
)
from apps.lightmap.page.shown_light import (
    ChosenSurvey,
    MapLight,
    MeasuredRow,
    choose_survey,
    light_shown,
    measured_rows,
    unread_choice,
)
from apps.lightmap.page.usual_view import places_read, view_of
from apps.lightmap.pins import ABOVE as ABOVE_BAND
from apps.lightmap.pins import BELOW
from apps.lightmap.stated_outputs import StatedOutputs
from apps.lightmap.survey_map import surveys_for_fitting
from apps.photics.field.light_field import LightField
from apps.photics.field.readings import MIN_READINGS
from apps.photics.ground.scene import out_of_water
from apps.surveys.meters.scales import is_checked
from apps.surveys.models import Meter, Survey
from apps.tanks.models import Tank

# Places along the tank among which the question for a point starts.
START_PLACES = 41
# Disagreeing readings listed beside the map; the table marks them all.
WORST_SHOWN = 5
# When more than this share disagrees, it is the map that fits badly [1], house rule.
MANY_SHARE = 0.2
# Corals outside their band that stand beside the map; the list behind the fold has all.
CORALS_FIRST = 3


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
    presets: tuple[Preset, ...] = ()
    box: BoxDrawing | None = None
    marks: tuple[LetteredPlace, ...] = ()  # what others marked on the drawings
    as_of: dt.date | None = None  # the day whose light it shows; None for today

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
        return sorted((r for r in self.rows if r.disagrees), key=lambda r: -r.off_log)

    @property
    def worst(self) -> list[MeasuredRow]:
        return self.disagreeing[:WORST_SHOWN]

    @property
    def corals_outside(self) -> list[PinLight]:
        """Corals whose light lies outside their band, those surely so first."""
        lit = self.planes.pin_lights if self.planes else ()
        outside = [one for one in lit if one.state.key in (BELOW, ABOVE_BAND)]
        return sorted(outside, key=lambda one: one.state.words.startswith("probably"))

    @property
    def corals_first(self) -> list[PinLight]:
        return self.corals_outside[:CORALS_FIRST]

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
    headed_by: str  # the same in a line, "" where its own survey carries it
    contradiction: str  # its readings against those of earlier surveys
    rock_notes: tuple[str, ...]
    earlier: tuple[Comparable, ...] = ()  # what the light may be set against
    since: Comparable | None = None  # what it is set against
    change: CutChange | None = None  # how the cut shown differs from it

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
        """Of which moment the light is, and how sure it is."""
        light = self.light
        return moment_words(
            measured_on=self.chosen.measured_on,
            predicted_since=light.predicted_since if light.shown == TODAY else None,
            changed_since=light.shown == AS_MEASURED and bool(light.changes),
            newer_exists=self.chosen.newer_exists,
            as_of=self.as_of,
            half_width_percent=light.field.half_width_percent,
            rests_on=self.headed_by,
            output_source=self.chosen.output_source,
        )

    @property
    def reading_count(self) -> int:
        """How many readings stand behind the light, of whichever survey."""
        return sum(one.count for one in self.chosen.fitted.rests_on)

    @property
    def beyond_percent(self) -> float:
        """How much of all open water lies beyond the readings, as of the plane `facts` say [%]."""
        return self.light.field.field.beyond_percent

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
        if is_checked(survey):
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
    def ask_point_cm(self) -> tuple[float, float, float]:
        """The point read before another is chosen [cm]."""
        return self.ask_x_cm, self.view.y_cm, self.view.depth_cm

    @property
    def cut(self) -> Drawing | None:
        """The drawing that is shown, None where the whole is at a slant."""
        if self.planes is None or self.box is not None:
            return None
        drawn = self.planes.section if self.query.seen == SIDE else self.planes.plan
        if GUESS not in self.query.hidden:
            return drawn
        return replace(drawn, light=replace(drawn.light, beyond=""))

    @property
    def legend(self) -> Legend | None:
        """What the colours of the drawing shown mean; the whole at a slant has no band."""
        drawn = self.box or self.planes
        return drawn.legend if drawn else None

    @property
    def wishes(self) -> dict[str, object]:
        """What the address of this very view says."""
        low, high = self.query.band.texts
        view, query = self.view, self.query
        return {
            **({"survey": self.chosen.survey.pk} if self.chosen.survey else {}),
            "depth": as_address(view.depth_cm),
            "y": as_address(view.y_cm),
            "low": low,
            "high": high,
            "shown": self.light.shown,
            **({} if view.look.key == PAR else {"view": view.look.key}),
            **({"since": self.since.key} if self.since else {}),
            **({} if query.seen == ABOVE else {"seen": query.seen}),
            **({"turn": query.turn} if query.turn and query.seen == SLANT else {}),
            **({"hide": ".".join(k for k in LAYERS if k in query.hidden)} if query.hidden else {}),
            **({"next": query.next_count} if self.next else {}),
        }

    @property
    def address(self) -> str:
        """Return the address of this very view, without the page's path."""
        return address_of(self.wishes)

    @property
    def address_without_next(self) -> str:
        """Return the address of this view without points to read next."""
        return address_of(self.wishes, next=None)

    @property
    def address_turned(self) -> tuple[str, str]:
        """Return the addresses a step to the left and to the right round the tank."""
        if self.box is None:
            return "", ""
        ways = self.box.turn_back, self.box.turn_on
        return address_of(self.wishes, turn=ways[0]), address_of(self.wishes, turn=ways[1])

    @property
    def seen_choices(self) -> tuple[Choice, ...]:
        """The ways to look at the water."""
        return choices(self.wishes, "seen", SEEN_WORDS, here=self.query.seen, usual=ABOVE)

    @property
    def look_choices(self) -> tuple[Choice, ...]:
        """What the colours can stand for."""
        words = {k: look.name for k, look in LOOKS.items() if k != CHANGE or self.earlier}
        return choices(self.wishes, "view", words, here=self.view.look.key, usual=PAR)

    @property
    def layer_choices(self) -> tuple[Choice, ...]:
        """What lies over the light, to be put on or off."""
        words = {k: w for k, w in LAYERS.items() if k != READINGS or self.rows}
        if self.view.look.key == CHANGE:  # has dots of its own where it is unsure
            del words[GUESS]
        return toggles(self.wishes, "hide", words, self.query.hidden)


def map_page(
    tank: Tank, query: MapQuery, *, unit: str, moment: dt.datetime | None = None
) -> MapPage:
    """Return the page that knows its light but draws nothing yet; a LitPage if there is a map."""
    surveys = tuple(surveys_for_fitting(tank, query.survey_pk, until=moment)[::-1])
    as_of = moment and moment.astimezone(tank.zone).date()
    moment = moment or timezone.now()
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
            as_of=as_of,
        )
    # The corals drawn are those of that day, and so are the hours their bands rest on.
    full_hours = history.full_hours_at(moment)
    query = replace(query, band=query.band.at_hours(full_hours))
    light = light_shown(chosen, tank, history, shown=query.shown, moment=moment)
    rows = measured_rows(chosen.survey, light.summary) if chosen.survey else ()
    rests_on = chosen.fitted.rests_on
    return LitPage(
        tank=tank,
        unit=unit,
        query=query,
        surveys=surveys,
        chosen=chosen,
        light=light,
        rows=rows,
        view=view_of(query, tank, light, places_read(rows, surveys, rests_on)),
        rests_on=rests_on_words(rests_on, history, tank.zone),
        headed_by=heading_words(rests_on, history, tank.zone),
        presets=presets_at(full_hours),
        contradiction=contradiction_words(chosen.fitted.mapped.summary.against_others),
        rock_notes=tuple(rock_notes(tank, chosen.fitted.anchored)),
        as_of=as_of,
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

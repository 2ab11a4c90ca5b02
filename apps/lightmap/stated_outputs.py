"""What is known of the output of fixtures: measured over a tank of their keeper, else stated."""

import datetime as dt
import math
from collections.abc import Collection, Iterable
from dataclasses import dataclass, replace
from enum import StrEnum
from functools import cached_property

from django.db.models import Max

from apps.lighting.history import Change, LightHistory, light_history
from apps.lighting.lamp_hours import Lamp
from apps.lighting.models import Fixture, HungFixture, Zone
from apps.lighting.rig import rig_in_force
from apps.lightmap.survey_map import LazyMap, SurveyMap, surveys_for_fitting
from apps.photics.ground.normal import NORMAL_90
from apps.photics.layout.measured_rig import measured_output
from apps.photics.rig.fixture_light import OutputEstimate, output_estimate
from apps.surveys.meters.scales import survey_deviation
from apps.surveys.models import Survey
from apps.tanks.models import Tank

# Other tanks looked at for the output of one fixture, the newest survey first: our own choice.
TANKS_MOST = 6
# Maps of one tank looked at for it, those of surveys it hung over: our own choice.
SURVEYS_MOST = 3


class OutputSource(StrEnum):
    """Whence the lamps' output is known over a tank without readings."""

    STATED, MEASURED, BOTH = "stated", "measured", "both"


def source_of(outputs: Iterable[OutputEstimate]) -> OutputSource:
    """Return the OutputSource of some outputs: BOTH where some are measured, others stated."""
    kinds = {output.measured for output in outputs}
    if len(kinds) > 1:
        return OutputSource.BOTH
    return OutputSource.MEASURED if kinds == {True} else OutputSource.STATED


class StatedOutputs:
    """The OutputEstimates of what hangs over a tank after each of its light changes.

    What a survey over another tank of the same keeper measured of a fixture counts before what is
    stated of it. Nothing is read before it is asked for.
    """

    def __init__(self, tank: Tank, history: LightHistory) -> None:
        self.tank, self.history = tank, history

    def after(self, change: Change, lamps: Iterable[Lamp]) -> list[OutputEstimate | None]:
        """Return the OutputEstimate of each Lamp that a Change tells; None where nothing is."""
        return [self.of(change.pk, lamp) for lamp in lamps]

    def at(self, moment: dt.datetime, lamps: Iterable[Lamp]) -> list[OutputEstimate | None]:
        """Return the OutputEstimate of each Lamp that hangs at a moment."""
        changes = [c for c in self.history.changes if c.rig is not None and c.happened_at <= moment]
        if not changes:
            return [None for _ in lamps]
        return self.after(changes[-1], lamps)

    def of(self, change_pk: int, lamp: Lamp) -> OutputEstimate | None:
        """Return the OutputEstimate of a Lamp as it hangs after a change."""
        fixture = self._fixtures.get(self._hung.get((change_pk, lamp.number), 0))
        if fixture is not None and fixture.pk in self._measured:
            return self._measured[fixture.pk]
        stated = fixture.output() if fixture is not None else None
        return stated or output_estimate(ppf_umol_s=lamp.ppf_umol_s)

    @cached_property
    def _hung(self) -> dict[tuple[int, int], int]:
        """{(change, number): fixture of the library} of all that hung."""
        rows = HungFixture.objects.filter(change__tank=self.tank, fixture__isnull=False)
        values = rows.values_list("change_id", "number", "fixture_id")
        return {(change, number): fixture for change, number, fixture in values}

    @cached_property
    def _fixtures(self) -> dict[int, Fixture]:
        return Fixture.objects.in_bulk(set(self._hung.values()))

    @cached_property
    def _measured(self) -> dict[int, OutputEstimate]:
        """{fixture: OutputEstimate} of those measured over other tanks of the tank's owner."""
        own = [pk for pk, f in self._fixtures.items() if f.owner_id == self.tank.owner_id]
        return measured_elsewhere(self.tank.owner_id, own, but=self.tank)


def measured_elsewhere(
    owner_pk: int, fixture_pks: Collection[int], *, but: Tank | None = None
) -> dict[int, OutputEstimate]:
    """Return {fixture: OutputEstimate} of those that readings over a keeper's tanks measured.

    `but` a tank whose own readings are known already. The newest survey that measured a fixture
    counts, whatever else is wanted.
    """
    read: dict[int, ReadTank] = {}
    result: dict[int, OutputEstimate] = {}
    for fixture_pk, tanks in read_under(owner_pk, fixture_pks, but).items():
        best: MeasuredOutput | None = None
        for tank, newest_day in tanks[:TANKS_MOST]:
            if best and newest_day <= best.surveyed_on:
                break
            if tank.pk not in read:
                read[tank.pk] = ReadTank(tank)
            one = read[tank.pk].output_of(fixture_pk)
            if one:
                best = one if best is None else max(best, one, key=lambda m: m.surveyed_on)
        if best:
            result[fixture_pk] = best.output
    return result


def read_under(
    owner_pk: int, fixture_pks: Collection[int], but: Tank | None
) -> dict[int, list[tuple[Tank, dt.date]]]:
    """Return by fixture a keeper's tanks it ever hung over that were read, the newest read first.

    Each with the day of its newest survey; none is `but`.
    """
    if not fixture_pks:
        return {}
    hung: dict[int, set[int]] = {}
    rows = HungFixture.objects.filter(fixture__in=fixture_pks, change__removed_at=None)
    for tank_pk, fixture_pk in rows.values_list("change__tank_id", "fixture_id").distinct():
        hung.setdefault(tank_pk, set()).add(fixture_pk)
    tanks = Tank.objects.filter(
        pk__in=hung.keys() - {but.pk if but else None},
        owner=owner_pk,
        removed_at=None,
        surveys__removed_at=None,
        surveys__readings__isnull=False,
    )
    result: dict[int, list[tuple[Tank, dt.date]]] = {}
    for tank in tanks.annotate(read_at=Max("surveys__taken_at")).order_by("-read_at", "pk"):
        day = tank.read_at.astimezone(tank.zone).date()
        for fixture_pk in hung[tank.pk]:
            result.setdefault(fixture_pk, []).append((tank, day))
    return result


@dataclass(frozen=True)
class MeasuredOutput:
    """What a survey's map says of one fixture of the library that shone then."""

    surveyed_on: dt.date
    output: OutputEstimate


class ReadTank:
    """A read tank: what its surveys say of the fixtures that hung over it, each fitted once."""

    def __init__(self, tank: Tank) -> None:
        self.tank, self.history = tank, light_history(tank)
        self.surveys = surveys_for_fitting(tank)
        self._outputs: dict[int, dict[int, OutputEstimate] | None] = {}
        self._hung: dict[int, set[int | None]] = {}

    def output_of(self, fixture_pk: int) -> MeasuredOutput | None:
        """Return the MeasuredOutput of the newest survey that measured a fixture."""
        tried = 0
        for survey in reversed(self.surveys):
            if tried == SURVEYS_MOST:
                break
            if fixture_pk not in self.hung_at(survey):
                continue
            outputs = self.outputs_at(survey)
            if outputs and fixture_pk in outputs:
                return MeasuredOutput(survey.day(), outputs[fixture_pk])
            tried += outputs is not None
        return None

    def hung_at(self, survey: Survey) -> set[int | None]:
        """Return the fixtures that hung over a survey, read once however many are wanted."""
        if survey.pk not in self._hung:
            rows = rig_in_force(self.tank, survey.taken_at)
            self._hung[survey.pk] = {row.fixture_id for row in rows}
        return self._hung[survey.pk]

    def outputs_at(self, survey: Survey) -> dict[int, OutputEstimate] | None:
        """Return {fixture: OutputEstimate} of a survey; None where it carries no map of its own."""
        if survey.pk not in self._outputs:
            self._outputs[survey.pk] = self._fitted_outputs(survey)
        return self._outputs[survey.pk]

    def _fitted_outputs(self, survey: Survey) -> dict[int, OutputEstimate] | None:
        fitted = LazyMap(survey, self.history, self.surveys).fitted
        if fitted.field is None:
            return None
        day, meter = survey.day(), survey_deviation(survey)
        words = f"a survey of {day.day} {day:%b %Y} over another tank"
        outputs = fixture_outputs(self.tank, fitted) or {}
        return {pk: replace(widened_by(one, meter), words=words) for pk, one in outputs.items()}


def fixture_outputs(tank: Tank, fitted: SurveyMap) -> dict[int, OutputEstimate] | None:
    """Return {fixture of the library: OutputEstimate} of what shone at a SurveyMap's readings.

    None unless the map is fitted to known fixtures.
    """
    field = fitted.anchored
    if field.calibrated is None or field.rig_fit is None:
        return None
    hanging = rig_in_force(tank, fitted.followed_from)
    # The map was fitted to what shone on the display then, in this order.
    lit = [row for row in hanging if row.zone == Zone.DISPLAY and row.light_percent > 0]
    numbers: dict[int, list[int]] = {}
    for k, row in enumerate(lit):
        if row.fixture_id is not None:
            numbers.setdefault(row.fixture_id, []).append(k)
    return {pk: measured_output(field.calibrated, of_one) for pk, of_one in numbers.items()}


def widened_by(output: OutputEstimate, deviation: float) -> OutputEstimate:
    """Return an OutputEstimate wider by a meter's scale, its deviation [log]."""
    low, high = (
        math.hypot(math.log(output.ppf_umol_s / end), NORMAL_90 * deviation)
        for end in (output.low_umol_s, output.high_umol_s)
    )
    middle = output.ppf_umol_s
    return replace(output, low_umol_s=middle * math.exp(-low), high_umol_s=middle * math.exp(high))

"""The tables of a tank that other programs may want, without what was deleted."""

from collections.abc import Callable, Iterator
from typing import Any

from django.db.models import QuerySet
from django.utils import timezone

from apps.corals.models import Coral, HealthNote, WaterEvent
from apps.lighting.history import light_history
from apps.lighting.models import DayCurve, HungFixture, LightChange
from apps.lightmap.export.grid_csv import grid_rows
from apps.lightmap.export.light_grid import light_grid, point_count
from apps.surveys.models import Reading
from apps.tanks.models import Tank
from apps.transfer.tables.table import Row, Table, count, day, flag, moment, number, text

PAR = "umol m-2 s-1"
PLACE = (
    number("x_cm", "from the left end", "cm"),
    number("y_cm", "from the front pane", "cm"),
    number("depth_cm", "below the surface", "cm"),
)


def _light(tank: Tank) -> Iterator[Row]:
    grid = light_grid(tank, timezone.now())
    for *numbers, beyond in grid_rows(grid) if grid else ():
        yield (*numbers, bool(beyond))


def _counted(rows: Callable[[Tank], QuerySet[Any]]) -> Callable[[Tank], int]:
    return lambda tank: rows(tank).count()


def _reading_rows(tank: Tank) -> QuerySet[Reading]:
    return Reading.objects.filter(survey__tank=tank, survey__removed_at=None)


def _readings(tank: Tank) -> Iterator[Row]:
    related = _reading_rows(tank).select_related("survey__meter", "survey__tank")
    for row in related.order_by("survey__taken_at", "survey", "position"):
        survey = row.survey
        yield (
            survey.pk, survey.taken_at, survey.meter.label if survey.meter else "",
            survey.meter.kind if survey.meter else "", survey.correction_factor,
            survey.level_percent, survey.channel, row.position, row.x_cm, row.y_cm, row.depth_cm,
            row.value_umol, row.spread_umol, row.par_umol, row.peak_umol,
        )  # fmt: skip


def _coral_rows(tank: Tank) -> QuerySet[Coral]:
    return Coral.objects.present().filter(tank=tank)


def _corals(tank: Tank) -> Iterator[Row]:
    rows = _coral_rows(tank).select_related("parent")
    full_hours = light_history(tank).full_hours_at(timezone.now())
    for coral in rows.prefetch_related("spots"):
        band = coral.band(full_hours)
        last = max(coral.spots.all(), key=lambda s: (s.since, s.pk), default=None)
        place = (last.x_cm, last.y_cm, last.depth_cm, last.since) if last else (None,) * 4
        yield (
            coral.pk, coral.name, coral.group, coral.genus, coral.added_on, coral.came_from,
            coral.parent.name if coral.parent else "", coral.gone_on, coral.gone_how,
            band.low_umol, band.high_umol, coral.band_low_umol is not None, *place,
        )  # fmt: skip


def _note_rows(tank: Tank) -> QuerySet[HealthNote]:
    return HealthNote.objects.present().filter(coral__tank=tank, coral__removed_at=None)


def _notes(tank: Tank) -> Iterator[Row]:
    for note in _note_rows(tank).select_related("coral").order_by("noted_on", "pk"):
        time = note.noted_time.isoformat("minutes") if note.noted_time else ""
        yield (
            note.pk, note.coral_id, note.coral.name, note.noted_on, time, note.noted_by,
            note.condition, note.seen, " ".join(note.also_seen), note.strength, note.where,
            note.text,
        )  # fmt: skip


def _change_rows(tank: Tank) -> QuerySet[LightChange]:
    return LightChange.objects.present().filter(tank=tank).in_order()


def _light_log(tank: Tank) -> Iterator[Row]:
    for row in _change_rows(tank):
        yield (
            row.pk, row.happened_at, row.reason, row.summary, row.factor, row.cover,
            row.cover_done, 100.0 * row.transmission if row.cover else None, row.day_hours,
            row.ramp_hours, row.tells_rig,
        )  # fmt: skip


def _hung_rows(tank: Tank) -> QuerySet[HungFixture]:
    return HungFixture.objects.filter(change__tank=tank, change__removed_at=None)


def _lights(tank: Tank) -> Iterator[Row]:
    for row in (
        _hung_rows(tank)
        .select_related("change")
        .order_by("change__happened_at", "change", "number")
    ):
        yield (
            row.change_id, row.change.happened_at, row.number, row.name, row.kind, row.zone,
            row.x_cm, row.y_cm, row.height_cm, row.turn_deg, row.tilt_deg, row.beam_in_force_deg,
            row.level_percent, row.light_percent, row.ppf_umol_s,
        )  # fmt: skip


def _water_rows(tank: Tank) -> QuerySet[WaterEvent]:
    return WaterEvent.objects.present().filter(tank=tank).in_order()


def _water(tank: Tank) -> Iterator[Row]:
    for row in _water_rows(tank):
        yield row.pk, row.happened_at, row.kind, row.value, row.unit, row.text, row.could_hurt


def _day_rows(tank: Tank) -> QuerySet[DayCurve]:
    return DayCurve.objects.present().filter(tank=tank).order_by("name", "pk")


def _day_count(tank: Tank) -> int:
    return sum(len(curve.points) for curve in _day_rows(tank))


def _days(tank: Tank) -> Iterator[Row]:
    for curve in _day_rows(tank):
        for minute, level in curve.points:
            clock = f"{int(minute) // 60 % 24:02}:{int(minute) % 60:02}"
            yield (
                curve.pk, curve.name, curve.zone, curve.group, curve.is_moonlight,
                curve.share_percent, minute, clock, level,
            )  # fmt: skip


TABLES = (
    Table("light", "Light map as a grid", (
        *PLACE,
        number("par_umol", "PAR at the peak of the day, now", PAR),
        number("par_low_umol", "lower end of its 90 % interval", PAR),
        number("par_high_umol", "upper end of its 90 % interval", PAR),
        number("dli_mol", "daily light integral, empty without hours", "mol m-2 d-1"),
        flag("extrapolated", "no readings lie around this point"),
    ), _light, point_count),
    Table("readings", "Readings", (
        count("survey", "number of the survey"),
        moment("taken_at", "when the survey was taken"),
        text("meter", "the meter it was taken with"),
        text("meter_kind", "quantum, lux or other"),
        number("correction_factor", "the meter's factor when it was taken", "1"),
        number("level_percent", "level of the lights then, of the day's peak", "%"),
        text("channel", "the one channel that burned alone, if so"),
        count("position", "place of the reading in its survey"),
        *PLACE,
        number("value", "what the meter showed", f"{PAR}, or lx of a lux meter"),
        number("spread", "spread of a burst, as the meter showed it", f"{PAR}, or lx"),
        number("par_umol", "PAR as read: value x factor", PAR),
        number("par_peak_umol", "PAR at the day's peak: the same at full level", PAR),
    ), _readings, _counted(_reading_rows)),
    Table("corals", "Corals", (
        count("coral", "number of the coral"),
        text("name", "what its keeper calls it"),
        text("group", "soft, lps, sps or other"),
        text("genus", "its genus"),
        day("added_on", "in this tank since"),
        text("came_from", "where it came from"),
        text("parent", "the colony it was cut from"),
        day("gone_on", "the day it went"),
        text("gone_how", "what became of it"),
        number("band_low_umol", "lower end of the PAR it should have, by today's hours", PAR),
        number("band_high_umol", "upper end of the PAR it should have, by today's hours", PAR),
        flag("band_is_own", "the band is the keeper's choice, not its group's"),
        *PLACE,
        day("there_since", "it sits there since"),
    ), _corals, _counted(_coral_rows)),
    Table("notes", "Notes on corals", (
        count("note", "number of the note"),
        count("coral", "number of the coral"),
        text("coral_name", "the coral's name"),
        day("noted_on", "the day at the tank"),
        text("noted_time", "the time at the tank, HH:MM"),
        text("noted_by", "whose eyes, where not the writer's"),
        count("condition", "how it is: 6 thriving to 1 failing"),
        text("seen", "the main sign"),
        text("also_seen", "further signs"),
        count("strength", "1 slight, 2 clear, 3 strong"),
        text("where", "where on the coral"),
        text("text", "in the keeper's words"),
    ), _notes, _counted(_note_rows)),
    Table("light_log", "Light log", (
        count("change", "number of the entry"),
        moment("happened_at", "when it was done"),
        text("reason", "what was done"),
        text("summary", "in the keeper's words"),
        number("factor", "light after it for 1 before, besides what fixtures tell", "1"),
        text("cover", "what was put on or taken off"),
        text("cover_done", "on or off"),
        number("cover_percent", "what of the light the cover passes", "%"),
        number("day_hours", "from lights on to lights off", "h"),
        number("ramp_hours", "ramp at each end", "h"),
        flag("tells_rig", "the table of lights says what hangs from then on"),
    ), _light_log, _counted(_change_rows)),
    Table("lights", "Lights after each entry", (
        count("change", "number of the entry in the light log"),
        moment("from", "they hang so from then on"),
        count("number", "number of the fixture while it hangs"),
        text("name", "what it is called"),
        text("kind", "its form"),
        text("zone", "which water it shines on"),
        number("x_cm", "its centre from the left end", "cm"),
        number("y_cm", "its centre from the front pane", "cm"),
        number("height_cm", "above the water", "cm"),
        number("turn_deg", "turned by", "degrees"),
        number("tilt_deg", "tilted by", "degrees"),
        number("beam_deg", "beam angle in force", "degrees"),
        number("level_percent", "level at the day's peak", "%"),
        number("light_percent", "PAR for 100 of all channels at full level", "%"),
        number("ppf_umol_s", "rated output at full level", "umol s-1"),
    ), _lights, _counted(_hung_rows)),
    Table("water", "Water log", (
        count("entry", "number of the entry"),
        moment("happened_at", "when"),
        text("kind", "what it is about"),
        number("value", "what was measured"),
        text("unit", "its unit"),
        text("text", "in the keeper's words"),
        flag("could_hurt", "its keeper thinks it could have hurt corals"),
    ), _water, _counted(_water_rows)),
    Table("day_schedules", "Day schedules", (
        count("schedule", "number of the schedule"),
        text("name", "what it is called"),
        text("zone", "which water it is for"),
        text("group", "the channels that follow it; all where empty"),
        flag("is_moonlight", "it is moonlight"),
        number("share_percent", "its part of PAR at full level", "%"),
        number("minute", "minutes after midnight at the tank", "min"),
        text("clock", "the same as HH:MM"),
        number("level_percent", "level at that minute", "%"),
    ), _days, _day_count),
)  # fmt: skip
BY_NAME = {table.name: table for table in TABLES}

"""Light of single channels added up: the map of any mix, and whether the parts make the whole.

Light adds: with the same lamps over the same water, the PAR of a mix is the sum of each channel's
PAR at its level. That holds where a channel's light is proportional to its level.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from django.db.models import Prefetch

from apps.lighting.history import light_history
from apps.lightmap.survey_map import fit_survey
from apps.photics.day.cross_check import Ratio, ratio_of
from apps.photics.field.light_field import LightField
from apps.photics.ground.arrays import ArrayLike
from apps.photics.ground.estimate import Estimate
from apps.photics.ground.normal import NORMAL_90
from apps.surveys.models import Reading, Survey
from apps.tanks.models import Tank


@dataclass(frozen=True)
class ChannelPart:
    """One channel at its full level, from the newest survey of it alone; or why there is none."""

    name: str
    survey: Survey
    field: LightField | None
    problem: str


@dataclass(frozen=True)
class MixField:
    """The light of channels at levels [1], evaluated like a light field."""

    parts: tuple[ChannelPart, ...]
    levels: tuple[float, ...]

    def at(self, points_cm: ArrayLike) -> Estimate:
        """Return the Estimate at points (m, 3) of x, y, depth [cm].

        Errors of the channels' maps are taken as independent; the sum's interval is that of a
        log-normal with the sum's deviation.
        """
        points = np.asarray(points_cm, float).reshape(-1, 3)
        par, variance = np.zeros(len(points)), np.zeros(len(points))
        beyond, inside = np.zeros((2, len(points)), bool)
        for part, level in zip(self.parts, self.levels, strict=True):
            if level <= 0 or part.field is None:
                continue
            result = part.field.at(points)
            par += level * result.par_umol
            deviation = (
                result.par_umol * np.log(result.high_umol / result.low_umol) / (2 * NORMAL_90)
            )
            variance += (level * deviation) ** 2
            beyond |= result.extrapolated
            inside |= result.in_rock
        half_width = NORMAL_90 * np.sqrt(variance) / np.maximum(par, 1e-9)
        return Estimate(par, par * np.exp(-half_width), par * np.exp(half_width), beyond, inside)


@dataclass(frozen=True)
class SumCheck:
    """Whether the channels' maps make up a survey of all of them together."""

    survey: Survey
    levels: dict[str, float]  # {name: percent} the parts were summed at
    ratio: Ratio | None  # measured over summed
    assumed: bool  # the survey says no level per channel: its one level served for all

    @property
    def verdict(self) -> str:
        """Whether the parts add up, in words; "" where there was too little to compare."""
        if self.ratio is None:
            return ""
        if self.ratio.is_one:
            return "No difference shows: the parts add up."
        return (
            "They do not quite add up: a channel that is missing here, a level that is not in "
            "proportion to its number, or a lamp that dims when all burn would each do that."
        )


def channel_parts(tank: Tank) -> list[ChannelPart]:
    """Return a ChannelPart for each channel that was surveyed alone, by name."""
    rows = Reading.objects.order_by("position", "pk")
    surveys = tank.surveys.present().exclude(channel="").order_by("taken_at", "pk")
    newest = {}
    for survey in surveys.select_related("meter").prefetch_related(
        Prefetch("readings", queryset=rows)
    ):
        survey.tank = tank
        newest[survey.channel.casefold()] = survey
    history = light_history(tank)
    parts = []
    for _, survey in sorted(newest.items()):
        fitted = fit_survey(survey, history)
        parts.append(ChannelPart(survey.channel, survey, fitted.field, fitted.problem))
    return parts


def whole_surveys(tank: Tank) -> list[Survey]:
    """Return the surveys of all channels together that hold readings, newest first."""
    result = tank.surveys.present().filter(channel="", readings__isnull=False).distinct()
    return list(result.newest_first().prefetch_related("readings"))


def sum_check(parts: Sequence[ChannelPart], survey: Survey) -> SumCheck:
    """Compare the sum of mapped parts with what a survey of all of them measured."""
    noted = {name.casefold(): percent for name, percent in survey.levels.items()}
    known = all(part.name.casefold() in noted for part in parts)
    levels = {
        part.name: noted[part.name.casefold()] if known else survey.level_percent for part in parts
    }
    mix = MixField(tuple(parts), tuple(level / 100.0 for level in levels.values()))
    readings = list(survey.readings.all())
    points = [(r.x_cm, r.y_cm, r.depth_cm) for r in readings]
    measured = [r.value_umol * survey.correction_factor for r in readings]
    summed = mix.at(points).par_umol
    return SumCheck(survey, levels, ratio_of(summed, measured), assumed=not known)

"""What salt and dust take of the light between cleanings, as far as a tank's surveys tell."""

import datetime as dt
import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass

from apps.lighting.history import Change, LightHistory
from apps.lighting.models import LightChange
from apps.lightmap.check.scoring import SurveyScore
from apps.lightmap.lightmap import TankLight
from apps.photics.ground.normal import NORMAL_90
from apps.photics.rig.fixture_light import FoulingRate, fouling_rate
from apps.surveys.meters.scales import scale_of

DAY_S = 86400.0
# The middle of a survey as a whole is off by this beside what its readings scatter, and by more
# where two meters were used [log]. House rules.
SURVEY_OFF, OTHER_METER_OFF = 0.02, 0.05


@dataclass(frozen=True)
class FoulingStep:
    """Two surveys that differ by salt alone: days of it more at the second, and what it made."""

    score: SurveyScore
    days: float  # below zero where the second was made sooner after a cleaning
    log_ratio: float  # of the light, besides all else that the log knows
    deviation: float


@dataclass(frozen=True)
class Fouling:
    """The estimate of a tank, and the steps it rests on; `rate` is None without any."""

    steps: tuple[FoulingStep, ...]
    rate: FoulingRate | None
    days_now: float | None  # since the last cleaning; None where the log has none
    # From the last cleaning to the newest survey: the salt that the map holds; 0 if cleaned since.
    days_mapped: float = 0.0

    @property
    def estimate(self) -> FoulingRate:
        """The estimate of a tank whose surveys tell."""
        if self.rate is None:
            raise ValueError("No two surveys of this tank show salt building up.")
        return self.rate

    @property
    def shows_loss(self) -> bool:
        """Whether surveys tell, and the light surely falls between cleanings."""
        return self.rate is not None and self.rate.shows_loss

    @property
    def percent(self) -> tuple[float, ...]:
        """Loss in 30 days: best, low, high [%]; below zero is a gain."""
        return tuple(100.0 * share for share in self.estimate.monthly_loss)

    @property
    def most_percent(self) -> float:
        """The high end of the loss in 30 days, where no loss shows [%]."""
        return max(self.percent[2], 0.0)

    @property
    def wiped(self) -> tuple[float, float, float] | None:
        """What a cleaning now would make of the light for 1: best, low, high [1]; None unknown."""
        if self.days_now is None:
            return None
        best, most, least = (1.0 / left for left in self.estimate.factor(self.days_now))
        return best, least, most

    @property
    def cleaning_factor(self) -> float | None:
        """What a cleaning now makes of the light for 1 by the map, which no salt since dims [1]."""
        return 1.0 / self.estimate.factor(self.days_mapped)[0]


def fouling_of(light: TankLight, scores: Sequence[SurveyScore], now: dt.datetime) -> Fouling:
    """Return the Fouling of a TankLight by its SurveyScores.

    A pair of surveys counts where fixtures stayed in place, nothing but cleanings was left to a
    guess in between, and one may say how many days of salt more the second saw.
    """
    every = (fouling_step(light.history, score) for score in scores)
    steps = tuple(step for step in every if step)
    wiped = cleanings(light.history.changes)
    days_now = (now - wiped[-1].happened_at).total_seconds() / DAY_S if wiped else None
    surveyed = light.maps[-1].taken_at if light.maps else now
    days_mapped = (surveyed - wiped[-1].happened_at).total_seconds() / DAY_S if wiped else 0.0
    if not steps:
        return Fouling((), None, days_now)
    # Fewer days of salt and more light say the same as more days and less light.
    signs = [1.0 if step.days > 0 else -1.0 for step in steps]
    return Fouling(
        steps,
        fouling_rate(
            [sign * step.days for sign, step in zip(signs, steps, strict=True)],
            [sign * step.log_ratio for sign, step in zip(signs, steps, strict=True)],
            [step.deviation for step in steps],
        ),
        days_now,
        max(days_mapped, 0.0),
    )


def fouling_step(history: LightHistory, score: SurveyScore) -> FoulingStep | None:
    """Return the FoulingStep of a SurveyScore, or None where it tells nothing of salt."""
    start, end = score.from_survey.taken_at, score.survey.taken_at
    vague = history.vague_between(start, end)
    if score.moved or any(change.reason != LightChange.Reason.CLEANED for change in vague):
        return None
    days = fouled_days(history, start, end)
    if not days:
        return None
    logged = sum(math.log(change.factor) for change in cleanings(history.between(start, end)))
    wide = math.log(score.score.ratio_high / score.score.ratio_low) / (2.0 * NORMAL_90)
    same_meter = scale_of(score.from_survey) == scale_of(score.survey)
    off = SURVEY_OFF if same_meter else OTHER_METER_OFF
    return FoulingStep(score, days, math.log(score.score.ratio) + logged, math.hypot(wide, off))


def fouled_days(history: LightHistory, start: dt.datetime, end: dt.datetime) -> float | None:
    """Return how many days of salt more lay on the light at `end`; None where nobody can say."""
    between = cleanings(history.between(start, end))
    if not between:
        return (end - start).total_seconds() / DAY_S
    before = [c for c in cleanings(history.changes) if c.happened_at <= start]
    if not before:
        return None
    first, last = start - before[-1].happened_at, end - between[-1].happened_at
    return (last - first).total_seconds() / DAY_S


def cleanings(changes: Iterable[Change]) -> list[Change]:
    """Return those of Changes that cleaned the light."""
    return [change for change in changes if change.reason == LightChange.Reason.CLEANED]

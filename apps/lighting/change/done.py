"""A light change by what was done: one number for all lamps or one, made into the rig after it."""

import datetime as dt
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Any

from django.core.exceptions import ValidationError
from django.db import models, transaction
from django.utils import timezone

from apps.accounts.models import User
from apps.common.units import format_length
from apps.lighting.change.rehanging import InvalidRig, rig_from_rows
from apps.lighting.hanging import save_light_change
from apps.lighting.models import HEIGHT, Fixture, HungFixture, LightChange, Zone
from apps.lighting.rig import rig_in_force
from apps.photics.ground.lengths import CM
from apps.tanks.access import hold_tanks
from apps.tanks.models import Tank

AS_IT_IS = "That is how it is now. Enter what is different."
NO_LAMP_THERE = "Choose lamps that hang there."


class What(models.TextChoices):
    """What a keeper did to the lamps."""

    LOWERED = "lowered", "Lowered"
    RAISED = "raised", "Raised"
    LEVEL = "level", "Turned up or down"
    CLEANED = "cleaned", "Cleaned"
    LAMP = "lamp", "New lamp"
    LENS = "lens", "New lens"
    MOVED = "moved", "Moved"

    @property
    def cautions(self) -> str:
        """What to be careful of, by the names of `_caution.html`."""
        if self == What.LEVEL:
            return "eyes"
        return "mains eyes" if self in (What.CLEANED, What.LENS) else "mains overhead eyes"


REASONS = {
    What.LOWERED: LightChange.Reason.LOWERED,
    What.RAISED: LightChange.Reason.RAISED,
    What.LEVEL: LightChange.Reason.LEVEL,
    What.CLEANED: LightChange.Reason.CLEANED,
    What.LAMP: LightChange.Reason.HUNG,
    What.LENS: LightChange.Reason.LENS,
    What.MOVED: LightChange.Reason.MOVED,
}


class OutOfReach(ValidationError):
    """Lamps that were moved by more than they can be: up or down from `from_cm`, `most_cm` at most.

    `by_one` says whether it is one lamp.
    """

    def __init__(self, what: What, heights_cm: Sequence[float]) -> None:
        low, high = HEIGHT
        self.what, self.by_one = what, len(heights_cm) == 1
        is_down = what == What.LOWERED
        self.from_cm = min(heights_cm) if is_down else max(heights_cm)
        self.most_cm = self.from_cm - low if is_down else high - self.from_cm
        super().__init__(self.words(CM))

    def words(self, unit: str) -> str:
        """Return the sentence with lengths in a unit."""
        here, most = (f"{format_length(cm, unit)} {unit}" for cm in (self.from_cm, self.most_cm))
        where = "lowest" if self.what == What.LOWERED else "highest"
        start = f"It hangs at {here}: " if self.by_one else f"The {where} hangs at {here}: "
        verb = "lower" if self.what == What.LOWERED else "raise"
        return f"{start}{verb} {'it' if self.by_one else 'them'} by {most} at most."


@dataclass(frozen=True)
class Done:
    """What was done, in the numbers that it takes; lengths in cm.

    `number` is that of the one lamp it was done to, None for all over the display.
    """

    what: What
    number: int | None = None
    by_cm: float = 0.0
    percent: float | None = None
    beam_deg: float | None = None
    along_cm: float = 0.0
    back_cm: float = 0.0
    fixture: Fixture | None = None  # None for the same kind again

    @property
    def factor(self) -> float:
        """The light after it for 1 before, besides what the rows tell [1]."""
        return 1.0 + (self.percent or 0.0) / 100.0 if self.what == What.CLEANED else 1.0

    @property
    def is_new_of_a_kind(self) -> bool:
        """Whether lamps were replaced by others like them, such as tubes."""
        return self.what == What.LAMP and self.fixture is None

    def row(self, hung: HungFixture) -> dict[str, Any]:
        """Return what becomes of one lamp, as `rig_from_rows` takes it."""
        return {"number": hung.number} | self.settings_after(hung)

    def settings_after(self, hung: HungFixture) -> dict[str, Any]:
        """Return the settings of a lamp that it changes."""
        if self.what == What.LOWERED:
            return {"height_cm": hung.height_cm - self.by_cm}
        if self.what == What.RAISED:
            return {"height_cm": hung.height_cm + self.by_cm}
        if self.what == What.LEVEL:
            return {"level_percent": self.percent}
        if self.what == What.LENS:
            return {"beam_deg": self.beam_deg}
        if self.what == What.MOVED:
            return {"x_cm": hung.x_cm + self.along_cm, "y_cm": hung.y_cm + self.back_cm}
        if self.what == What.LAMP and self.fixture is not None:
            return replaced(hung, self.fixture, self.percent)
        return {}


def replaced(hung: HungFixture, fixture: Fixture, level_percent: float | None) -> dict[str, Any]:
    """Return the settings of another fixture that hangs where a lamp hung."""
    level = {} if level_percent is None else {"level_percent": level_percent}
    if fixture.pk == hung.fixture_id:
        return {"fixture_id": fixture.pk} | level
    # The old one's lens and ageing are not the new one's.
    return {"fixture_id": fixture.pk, "beam_deg": None, "loss_percent": None} | level


def lamps_meant(rows: Iterable[HungFixture], number: int | None) -> list[HungFixture]:
    """Return the lamp of a number, or all over the display."""
    if number is None:
        return [row for row in rows if row.zone == Zone.DISPLAY]
    return [row for row in rows if row.number == number]


def stated_change(done: Done, *, tank: Tank, by: User, happened_at: dt.datetime, summary: str = ""):
    """Return the LightChange of what was done, not saved."""
    return LightChange(
        tank=tank,
        created_by=by,
        happened_at=happened_at,
        summary=summary,
        reason=LightChange.Reason.TUBES if done.is_new_of_a_kind else REASONS[done.what],
        factor=done.factor,
    )


def rig_after(
    done: Done, change: LightChange, meant: Sequence[HungFixture]
) -> tuple[list[HungFixture] | None, Iterable[int]]:
    """Return what `save_light_change` takes: the rig after what was done to the lamps meant.

    Raises InvalidRig, OutOfReach, and ValidationError where nothing would be other than it is.
    """
    if not meant:
        raise ValidationError(NO_LAMP_THERE)
    if done.what == What.CLEANED or done.is_new_of_a_kind:
        return None, ()
    check_reach(done, meant)
    rows = [done.row(hung) for hung in meant]
    hung, down = rig_from_rows(change=change, rows=rows, user=change.created_by)
    if hung is None:
        raise ValidationError(AS_IT_IS)
    return hung, down


def check_reach(done: Done, meant: Sequence[HungFixture]) -> None:
    """Raise OutOfReach where a lamp would hang in the water or beyond any ceiling."""
    if done.what not in (What.LOWERED, What.RAISED):
        return
    low, high = HEIGHT
    after = [done.settings_after(hung)["height_cm"] for hung in meant]
    if min(after) < low or max(after) > high:
        raise OutOfReach(done.what, [hung.height_cm for hung in meant])


def lamps_over(tank: Tank, moment: dt.datetime, fixtures: set[int]) -> list[HungFixture]:
    """Return the lamps over a tank at a moment that are of a library's fixtures, by their keys."""
    rows = rig_in_force(tank, moment)
    return [row for row in lamps_meant(rows, None) if row.fixture_id in fixtures]


def tanks_sharing(tank: Tank, rows: Iterable[HungFixture], user: User) -> list[Tank]:
    """Return the keeper's other tanks over which one of the same fixtures hangs now."""
    keys, now = {row.fixture_id for row in rows if row.fixture_id}, timezone.now()
    others = Tank.objects.changeable_by(user).filter(ended_on=None).exclude(pk=tank.pk)
    maybe = others.filter(light_changes__hung__fixture__in=keys).distinct()
    return [other for other in maybe if lamps_over(other, now, keys)]


@transaction.atomic
def save_done(
    done: Done,
    *,
    tank: Tank,
    also_over: Iterable[Tank] = (),
    by: User,
    happened_at: dt.datetime,
    summary: str = "",
) -> LightChange:
    """Save what was done over a tank, and over the others that the same fixtures hang over too.

    All or none is saved; return the change of the first. Raises ValidationError by field.
    """
    others = list(also_over)
    hold_tanks([one.pk for one in (tank, *others)])
    meant = lamps_meant(rig_in_force(tank, happened_at), done.number)
    keys = {hung.fixture_id for hung in meant if hung.fixture_id}
    pairs = [(tank, meant), *((one, lamps_over(one, happened_at, keys)) for one in others)]
    saved = []
    for where, lamps in pairs:
        change = stated_change(done, tank=where, by=by, happened_at=happened_at, summary=summary)
        change.full_clean()
        try:
            hung, down = rig_after(done, change, lamps)
        except (InvalidRig, OutOfReach) as problem:
            raise (
                problem
                if where == tank
                else ValidationError([f"Over {where.name}: {text}" for text in problem.messages])
            ) from None
        saved.append(save_light_change(change=change, hung=hung, taken_down=down))
    return saved[0]

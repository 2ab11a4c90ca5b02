"""Maps of a tank that nobody read: the light its fixtures should give by what is stated of them."""

import datetime as dt
import hashlib
import logging
from functools import cached_property

from apps.common.kept import kept
from apps.lighting.history import Change, LightHistory
from apps.lighting.lamp_hours import Lamp, LampKey
from apps.lightmap.joint_input import FIT_VERSION, Fitted
from apps.lightmap.stated_outputs import OutputSource, StatedOutputs, source_of
from apps.lightmap.survey_map import UNFITTED, SurveyMap, TankMap
from apps.photics.layout.unread_light import unread_field
from apps.photics.rig.fixture_light import OutputEstimate
from apps.tanks.models import Tank

logger = logging.getLogger(__name__)

# Before any light change: the first row of a log is later.
DAWN = dt.datetime(1, 1, 2, tzinfo=dt.UTC)
NO_OUTPUT = "Not known how much light {} gives: enter rated output or watts in the lamp library."


class UnreadMap(TankMap):
    """The light of a tank under the rig that a light change tells, before anyone read it."""

    measured = False
    survey_pk = 0

    def __init__(
        self, tank: Tank, history: LightHistory, change: Change, outputs: StatedOutputs
    ) -> None:
        self.tank, self.history, self.change, self.outputs = tank, history, change, outputs
        self.taken_at = change.happened_at

    @cached_property
    def lit(self) -> list[Lamp]:
        """What shines after the change."""
        return lit_lamps(self.change)

    @cached_property
    def known(self) -> list[OutputEstimate | None]:
        """The OutputEstimate of each that shines."""
        return self.outputs.after(self.change, self.lit)

    @cached_property
    def fitted(self) -> SurveyMap:
        """The light by stated outputs, or why there is none."""
        known = [output for output in self.known if output is not None]
        if len(known) < len(self.lit):
            names = dict.fromkeys(
                lamp.make[0] for lamp, o in zip(self.lit, self.known, strict=True) if o is None
            )
            problem = NO_OUTPUT.format(" and ".join(f"“{name}”" for name in names))
            return SurveyMap(0, self.taken_at, Fitted(None, None, problem))
        rig = tuple(lamp.fixture for lamp in self.change.rig or ())
        tank, rocks = self.tank.scene(), self.tank.scene_rocks()
        text = repr((FIT_VERSION, "unread", tank, rocks, rig, known))
        key = "light-map-" + hashlib.sha256(text.encode()).hexdigest()

        def make() -> Fitted:
            field = unread_field(tank, rig, known, rocks)
            return Fitted(field, field, "")

        try:
            fitted = kept(key, make)
        except Exception:
            # One tank's odd geometry must not take its every page down with it.
            logger.exception("The light of tank %s could not be worked out", self.tank.pk)
            fitted = Fitted(None, None, UNFITTED)
        return SurveyMap(0, self.taken_at, fitted, key)

    @property
    def output_source(self) -> OutputSource:
        """How the outputs of what shines are known."""
        return source_of(output for output in self.known if output is not None)

    def output_words(self) -> tuple[str, ...]:
        """Say of each make that shines what it is taken to give, and where that is from."""
        return tuple(
            dict.fromkeys(
                f"{lamp.make[0]}: {o.ppf_umol_s:.0f}\u00a0µmol/s ({o.low_umol_s:.0f}–"
                f"{o.high_umol_s:.0f}), from {o.words}"
                for lamp, o in zip(self.lit, self.known, strict=True)
                if o is not None
            )
        )

    @property
    def factor_from(self) -> dt.datetime:
        """All logged factors count: no reading knows any of them."""
        return DAWN

    @property
    def vague_from(self) -> dt.datetime:
        """Guesses count from the first description on, which is none itself."""
        first = next(c for c in self.history.changes if c.rig is not None)
        return first.happened_at


class UnreadMaps:
    """The UnreadMaps of a tank: one for each rig that shines with what none before had."""

    def __init__(self, tank: Tank, history: LightHistory, outputs: StatedOutputs) -> None:
        self.tank, self.history, self.outputs = tank, history, outputs

    @cached_property
    def maps(self) -> tuple[UnreadMap, ...]:
        """The maps, oldest first; a rig with the same fixtures is followed from the one before."""
        result: list[UnreadMap] = []
        known: set[LampKey] = set()
        for change in self.history.changes:
            shining = {lamp.key for lamp in lit_lamps(change)}
            if shining - known:
                known = shining
                result.append(UnreadMap(self.tank, self.history, change, self.outputs))
        return tuple(result)

    def at(self, moment: dt.datetime) -> UnreadMap | None:
        """Return the map of a moment's rig, of the first rig before that; None without one."""
        before = [m for m in self.maps if m.taken_at <= moment]
        return before[-1] if before else next(iter(self.maps), None)

    def map_for(self, moment: dt.datetime) -> UnreadMap | None:
        """Return `at` where it carries a light."""
        result = self.at(moment)
        return None if result is None or result.field is None else result

    def problem_at(self, moment: dt.datetime) -> str:
        """Return why there is no light at a moment, "" where nobody described any fixture."""
        result = self.at(moment)
        return "" if result is None else result.problem


def lit_lamps(change: Change) -> list[Lamp]:
    """Return what shines after a Change that tells it."""
    return [lamp for lamp in change.rig or () if lamp.fixture.level > 0]

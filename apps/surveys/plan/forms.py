"""The form that lays out the points of a survey by a pattern."""

import re
from typing import TypedDict

from django import forms

from apps.common.numbers import UnreadableNumber
from apps.common.units import LengthField, format_length, parse_length_cm
from apps.surveys.models import Survey
from apps.surveys.plan import patterns
from apps.surveys.plan.grid_rule import rule_grid
from apps.surveys.plan.patterns import Place
from apps.tanks.models import Tank

SIDE_MOST, DEPTHS_MOST, COUNT_MOST = 30, 12, 60
USUAL_DEPTHS, USUAL_COUNT = 3, 8


# Up to this long [cm] a level has so many points along and across: with three depths that is nine
# minutes at half a minute each. A grid of 16 is off by 4.5 %, 6.0 without the lamps told, one of 24
# by 3.8 and 4.0 (docs/measurements.md); our own choice between them.
SMALL_CM, SMALL_SIDES = 60.0, (3, 2)


def sides_of_rule(tank: Tank) -> dict[str, object]:
    """Return how many points the grid rule has along and across a level, by their fields."""
    rule = rule_grid(length_cm=tank.length_cm, width_cm=tank.width_cm)
    return {"nx": len(rule.x_cm), "ny": len(rule.y_cm)}


def usual_sides(tank: Tank) -> dict[str, object]:
    """Return how many points a first plan has along and across a level, by their fields."""
    if max(tank.length_cm, tank.width_cm) > SMALL_CM:
        return sides_of_rule(tank)
    many, few = SMALL_SIDES
    is_long = tank.length_cm >= tank.width_cm
    return {"nx": many if is_long else few, "ny": few if is_long else many}


class StoredPlan(TypedDict, total=False):
    """What a survey's points were last laid out by, lengths in cm."""

    pattern: str
    nx: int
    ny: int
    count: int
    gap: float
    depths: list[float]


class PlanForm(forms.Form):
    GRID, RING, FRONT, CORALS, SUGGESTED = "grid", "ring", "front", "corals", "suggested"
    ADD, REPLACE = "add", "replace"

    pattern = forms.ChoiceField(
        label="Pattern",
        widget=forms.RadioSelect,
        choices=[
            (GRID, "a grid at depths"),
            (RING, "a ring round the rock"),
            (FRONT, "along the front"),
            (CORALS, "the corals’ spots"),
            (SUGGESTED, "where the last map is least sure"),
        ],
    )
    nx = forms.IntegerField(label="Points left to right", min_value=1, max_value=SIDE_MOST)
    ny = forms.IntegerField(label="Points front to back", min_value=1, max_value=SIDE_MOST)
    count = forms.IntegerField(label="Points", min_value=1, max_value=COUNT_MOST)
    depths = forms.CharField(label="Depths below the surface", max_length=200)
    how = forms.ChoiceField(
        label="Points planned before",
        required=False,
        choices=[(REPLACE, "replace those not read yet"), (ADD, "keep them and add these")],
    )

    # Only what the pattern needs must be there; the rest keeps its usual value.
    NEEDS = {
        GRID: ("nx", "ny", "depths"),
        RING: ("count", "gap", "depths"),
        FRONT: ("count", "gap", "depths"),
        CORALS: (),
        SUGGESTED: ("count",),
    }

    def __init__(self, *args: object, tank: Tank, unit: str, **kwargs: object) -> None:
        self.tank, self.unit = tank, unit
        super().__init__(*args, **kwargs)
        self.fields["gap"] = LengthField(
            unit=unit,
            low_cm=0,
            high_cm=tank.width_cm,
            label="Distance from rock or front pane",
        )
        for name in ("nx", "ny", "count"):
            self.fields[name].widget.attrs["inputmode"] = "numeric"
        needed = self.NEEDS.get(self.data.get("pattern"), ())
        for name in ("nx", "ny", "count", "gap", "depths"):
            self.fields[name].required = name in needed or not self.is_bound

    @classmethod
    def of_survey(cls, survey: Survey, unit: str, *, dense: bool = False) -> "PlanForm":
        """Return the form as it first stands: as it was last sent, else the usual one.

        `dense` asks for the grid rule's points, whatever the size of the tank.

        Once points are planned, nothing that stands is replaced unless the keeper says so.
        """
        tank = survey.tank
        form = cls.usual(tank, unit)
        form.initial |= cls._shown(survey.plan_asked, unit)
        if dense:
            form.initial |= {"pattern": cls.GRID} | sides_of_rule(tank)
        if survey.planned_points.exists():
            form.initial["how"] = cls.ADD
        return form

    def filled(self) -> "PlanForm":
        """Return a form that was sent as this one stands."""
        return type(self)(self.initial, tank=self.tank, unit=self.unit)

    @classmethod
    def _shown(cls, stored: StoredPlan, unit: str) -> dict[str, object]:
        """Return stored wishes as the fields show them."""
        known = ("pattern", "nx", "ny", "count", "gap")
        shown = {name: value for name, value in stored.items() if name in known}
        if "depths" in stored:
            shown["depths"] = "; ".join(format_length(depth, unit) for depth in stored["depths"])
        return shown

    def wishes(self) -> dict[str, object]:
        """Return what a valid form wants as plain values in cm; what it left blank is not in."""
        names = ("pattern", *self.NEEDS[self.cleaned_data["pattern"]])
        return {name: self.cleaned_data[name] for name in names}

    @classmethod
    def usual(cls, tank: Tank, unit: str) -> "PlanForm":
        """Return the form by the grid rule, of a small tank with what ten minutes allow."""
        depths = patterns.round_depths(tank, USUAL_DEPTHS, unit)
        first = {
            "pattern": cls.GRID,
            **usual_sides(tank),
            "count": USUAL_COUNT,
            "gap": patterns.GAP_CM,
            "depths": "; ".join(format_length(depth, unit) for depth in depths),
            "how": cls.REPLACE,
        }
        return cls(tank=tank, unit=unit, initial=first)

    def is_sparser_than(self, count: int) -> bool:
        """Return whether a valid form is of a grid with fewer points at each depth."""
        data = self.cleaned_data
        return data["pattern"] == self.GRID and data["nx"] * data["ny"] < count

    def clean_depths(self) -> list[float]:
        # A blank parts depths, but not a number from the unit behind it.
        said = re.sub(r"(?<=\d)\s+(?=[a-zA-Z\"″¼-¾⅐-⅞])", "", self.cleaned_data["depths"])
        # Nor an inch from its fraction: "9 3/4" is one depth.
        said = re.sub(r"(?<=\d)\s+(?=\d+/\d)", "-", said)
        texts = [t for t in re.split(r"[;\s]+|,\s+", said) if t]
        if len(texts) > DEPTHS_MOST:
            raise forms.ValidationError(f"At most {DEPTHS_MOST} depths, please.")
        try:
            depths = [parse_length_cm(text, self.unit) for text in texts]
        except UnreadableNumber as problem:
            raise forms.ValidationError(str(problem)) from None
        for depth in depths:
            if not 0 <= depth <= self.tank.depth_cm:
                end = format_length(self.tank.depth_cm, self.unit)
                raise forms.ValidationError(f"The water reaches from 0 to {end} {self.unit}.")
        return depths

    def clean_how(self) -> str:
        # Not asked while nothing is planned.
        return self.cleaned_data["how"] or self.REPLACE

    def places(self) -> tuple[list[Place], str]:
        """Return (Places at readable points, a sentence on what was left out or is lacking)."""
        result, lacking = self._pattern()
        tank, rocks = self.tank, self.tank.scene_rocks()
        if self.cleaned_data["pattern"] != self.CORALS:
            result = [patterns.readable(place, tank, self.unit) for place in result]
        free, dry = patterns.clear_of_rock(result, tank, rocks)
        sentence = lacking
        if dry:
            left = "is left out" if dry == 1 else "are left out"
            where = "in rock" if tank.scene().is_box else "in rock or outside the tank"
            sentence = f"{dry} of them would lie {where} and {left}."
        return free, sentence

    def _pattern(self) -> tuple[list[Place], str]:
        data, tank = self.cleaned_data, self.tank
        if data["pattern"] == self.GRID:
            result = patterns.grid_places(
                tank, nx=data["nx"], ny=data["ny"], depths_cm=data["depths"]
            )
            return result, ""
        row = {key: data.get(key) for key in ("count", "gap")}
        if data["pattern"] == self.FRONT:
            result = patterns.front_places(
                tank, count=row["count"], depths_cm=data["depths"], gap_cm=row["gap"]
            )
            return result, ""
        if data["pattern"] == self.RING:
            rocks = list(tank.rocks.present())
            result = patterns.ring_places(
                tank, rocks, count=row["count"], depths_cm=data["depths"], gap_cm=row["gap"]
            )
            return result, "" if result else "This tank has no rock described, so there is no ring."
        if data["pattern"] == self.CORALS:
            result = patterns.CORAL_PLACES.collect(tank)
            return result, "" if result else "No coral has a spot in this tank yet."
        return self._suggested()

    def _suggested(self) -> tuple[list[Place], str]:
        result = patterns.TELLING_PLACES.collect(self.tank, self.cleaned_data["count"])
        if result:
            return result, ""
        return [], "There is no light map of this tank yet, so nothing can be suggested from it."

"""The whole form of a layout's question: a box, zones, fixtures and limits read as one."""

from functools import cached_property

from django import forms
from django.utils.timezone import now

from apps.lighting.history import light_history
from apps.lighting.models import Fixture
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.layout.question import Question
from apps.photics.rig.tank_optics import USUAL_LAW
from apps.planning.layout.forms import (
    CANDIDATES_MOST,
    ZONES_MOST,
    BoxForm,
    CandidateRows,
    LimitsForm,
    ZoneRows,
    too_much,
)
from apps.planning.layout.measured_tank import measured_tank
from apps.planning.layout.zone_presets import PRESETS, presets_for
from apps.planning.layout_documents import USUAL_DAY_HOURS, Asked, asked_from_json

# A tank that is only a wish yet starts as a common size [cm].
WISHED_CM = {"length_cm": 90.0, "width_cm": 45.0, "depth_cm": 45.0}


class NameForm(forms.Form):
    name = forms.CharField(label="Name of the plan", max_length=80)
    notes = forms.CharField(
        label="Notes", required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
    )


class LayoutAsking:
    """The forms of one question. `again` shows what was typed with more rows, unchecked."""

    def __init__(self, *, user, tank, data=None, again="", plan=None):
        self.tank, self.user, self.unit, self.again = tank, user, user.units, again
        self.bound = data is not None and not again
        self.stored = asked_from_json(plan.asked) if plan and plan.asked else None
        self.rocks = tank.scene_rocks() if tank else ()
        sent = data if self.bound else None
        self.name = NameForm(sent, initial=self.typed(data, plan_words(plan, tank), NameForm))
        self.box_form = None
        if tank is None:
            first = {**WISHED_CM, "back_pane": "clear"}
            if self.stored:
                box = self.stored.question.tank
                first = {name: getattr(box, name) for name in first}
            fields = ("length_cm", "width_cm", "depth_cm", "back_pane")
            initial = {k: data[k] for k in fields if k in data} if data is not None else first
            self.box_form = BoxForm(sent, unit=self.unit, initial=initial)
        self.box = self.read_box(data)
        self.zones = ZoneRows(
            sent, prefix="zone", initial=self.zone_initial(data),
            form_kwargs={"box": self.box, "unit": self.unit},
        )  # fmt: skip
        fixtures = list(Fixture.objects.owned_by(user))
        self.candidates = CandidateRows(
            sent, prefix="fixture", initial=self.candidate_initial(data, fixtures),
            form_kwargs={"fixtures": fixtures, "measured": self.measured_of(fixtures)},
        )  # fmt: skip
        for rows in (self.zones, self.candidates):
            for form in rows.forms:
                form.empty_permitted = not form.initial
        typed = self.typed(data, self.limit_initial(), LimitsForm, box=self.box, unit=self.unit)
        self.limits = LimitsForm(sent, box=self.box, unit=self.unit, initial=typed)
        self.problem = ""

    def typed(self, data, first, form, **kwargs):
        """Return the initial values of a form: what was typed before, else `first`."""
        if data is None:
            return first
        return {name: data.get(name, "") for name in form(**kwargs).fields}

    def read_box(self, data):
        """Return the scene Tank the zones lie in, None where its measures can't be read."""
        if self.tank is not None:
            return self.tank.scene()
        if data is None:
            first = self.box_form.initial
            return SceneTank(
                first["length_cm"], first["width_cm"], first["depth_cm"], first["back_pane"], "sand"
            )
        form = BoxForm(data, unit=self.unit)
        return form.scene() if form.is_valid() else None

    def zone_initial(self, data):
        if data is not None and self.again != "fit":
            return row_texts(data, "zone", ZONES_MOST, more=self.again == "zone")
        if data is None and self.stored:
            return [zone_texts(zone) for zone in self.stored.question.zones]
        if self.box is None:
            return []
        box = {name: getattr(self.box, name) for name in WISHED_CM}
        return [zone_texts(preset.zone(**box)) for preset in self.presets(data)]

    def presets(self, data):
        """Return the zones a question starts from: the ticked ones, else what lives there."""
        chosen = data.getlist("preset") if data is not None else []
        return [PRESETS[key] for key in PRESETS if key in chosen] or presets_for(self.tank)

    def candidate_initial(self, data, fixtures):
        if data is not None:
            return row_texts(data, "fixture", CANDIDATES_MOST, more=self.again == "fixture")
        if self.stored:
            known = {f"own:{fixture.pk}" for fixture in fixtures}
            pairs = zip(self.stored.sources, self.stored.question.candidates, strict=True)
            return [candidate_texts(s if s in known or s[:5] == "kind:" else "", c)
                    for s, c in pairs]  # fmt: skip
        measured = self.measured_of(fixtures)
        told = [f for f in fixtures if f.output() or f.pk in measured]
        return [{"source": f"own:{f.pk}"} for f in told[:CANDIDATES_MOST]] or [
            {"source": "kind:mid"}
        ]

    def limit_initial(self):
        if self.stored is None:
            first = LimitsForm.usual()
            schedule = light_history(self.tank).schedule_at(now()) if self.tank else None
            if schedule:
                first["day_hours"] = round(schedule.full_hours, 2)
            return first
        asked, hung = self.stored, self.stored.question.limits
        return {
            "count": hung.count, "fill_count": hung.fill_count, "canopy": hung.canopy,
            "height_from": hung.height_cm[0], "height_to": hung.height_cm[1],
            "x_from": hung.x_cm[0], "x_to": hung.x_cm[1],
            "y_from": hung.y_cm[0], "y_to": hung.y_cm[1],
            "budget": hung.budget, "watts": hung.watts,
            "day_hours": asked.day_hours, "price_kwh": asked.price_kwh,
        }  # fmt: skip

    def parts(self):
        return [
            f for f in (self.name, self.box_form, self.zones, self.candidates, self.limits) if f
        ]

    def is_valid(self):
        """Return whether all can be read; every part is asked, so that all is marked at once."""
        if not self.bound:
            return False
        valid = [part.is_valid() for part in self.parts()]
        if not all(valid) or self.box is None:
            return False
        if not self.zones.kept():
            self.problem = "A layout needs at least one zone to serve."
        elif not self.candidates.kept():
            self.problem = "A layout needs at least one fixture to choose from."
        else:
            self.problem = too_much(self.asked().question)
        return not self.problem

    @cached_property
    def measured(self):
        """Return what a survey tells of the tank, None without one."""
        return measured_tank(self.tank, now()) if self.tank else None

    def measured_of(self, fixtures):
        """Return the keys of fixtures whose output is measured; all told, no survey is asked."""
        if self.tank is None or all(fixture.output() for fixture in fixtures):
            return frozenset()
        return frozenset(self.measured.outputs) if self.measured else frozenset()

    def asked(self):
        """Return the Asked the forms say."""
        rows, data = self.candidates.kept(), self.limits.cleaned_data
        measured = self.measured
        outputs = measured.outputs if measured else {}
        return Asked(
            Question(
                tank=self.box,
                zones=tuple(form.zone() for form in self.zones.kept()),
                candidates=tuple(form.candidate(outputs) for form in rows),
                limits=self.limits.limits(),
                rocks=self.rocks,
                law=measured.law if measured else USUAL_LAW,
            ),
            sources=tuple(form.cleaned_data["source"] for form in rows),
            day_hours=USUAL_DAY_HOURS if data["day_hours"] is None else data["day_hours"],
            price_kwh=data["price_kwh"],
            surveyed_on=measured.surveyed_on if measured else None,
        )


def plan_words(plan, tank):
    """Return the name and notes a question starts with."""
    if plan:
        return {"name": plan.name, "notes": plan.notes}
    return {"name": f"Light for {tank}"[:80] if tank else "Light for a new tank"}


def zone_texts(zone):
    """Return the initial values of a zone's row."""
    ends = {"x": zone.x_cm, "y": zone.y_cm, "depth": zone.depth_cm}
    texts = {f"{axis}_{which}": value for axis, pair in ends.items()
             for which, value in zip(("from", "to"), pair, strict=True)}  # fmt: skip
    return {"name": zone.name, "low_umol": zone.low_umol, "high_umol": zone.high_umol,
            "weight": zone.weight, **texts}  # fmt: skip


def candidate_texts(source, candidate):
    """Return the initial values of a fixture's row."""
    return {
        "source": source,
        "optics": ", ".join(f"{beam:g}" for beam in candidate.beams_deg),
        "owned": candidate.owned or None,
        "price": candidate.price,
    }


def row_texts(data, prefix, most, *, more):
    """Return what was typed into each row, and a blank one when more are wanted."""
    text = data.get(f"{prefix}-TOTAL_FORMS", "")
    count = min(int(text), most) if text.isascii() and text.isdigit() else 0
    rows = []
    for number in range(count):
        start = f"{prefix}-{number}-"
        rows.append({key.removeprefix(start): data[key] for key in data if key.startswith(start)})
    return [*rows, {}] if more and count < most else rows

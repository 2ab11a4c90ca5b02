"""The forms of a layout's question: a box, zones, fixtures and limits read as one."""

from functools import cached_property

from django import forms
from django.http import QueryDict
from django.utils.timezone import now

from apps.accounts.models import User
from apps.common.numbers import whole_number
from apps.lighting.history import light_history
from apps.lighting.models import Fixture, HungFixture
from apps.photics.ground.scene import Tank as SceneTank
from apps.photics.ground.usual_bands import USUAL_DAY_HOURS
from apps.photics.layout.advice.spectrum_wish import SpectrumWish
from apps.photics.layout.question import Question
from apps.photics.rig.fixture_light import OutputEstimate
from apps.photics.rig.tank_optics import USUAL_LAW
from apps.planning.layout.fixtures.candidate_forms import (
    CANDIDATES_MOST,
    NEW,
    CandidateRows,
    candidate_texts,
)
from apps.planning.layout.fixtures.kept import hanging_by_fixture
from apps.planning.layout.fixtures.prices import KeptPrices, kept_prices
from apps.planning.layout.forms import (
    WORDS,
    BoxForm,
    LimitsForm,
    NameForm,
    too_much,
    wished_tank,
)
from apps.planning.layout.measured_tank import (
    MeasuredTank,
    measured_outputs,
    measured_tank,
)
from apps.planning.layout.words import length_words
from apps.planning.layout.zones.fitted_zones import FITTED_TO, fitted, measures_of, numbers_text
from apps.planning.layout.zones.folded_rows import empty_permitted
from apps.planning.layout.zones.lives_form import LivesForm
from apps.planning.layout.zones.zone_forms import ZONES_MOST, ZoneRows
from apps.planning.layout.zones.zone_section import ZoneSection, lived_rows, stored_rows
from apps.planning.models import Plan
from apps.planning.stored_layout import StoredQuestion, read_question
from apps.tanks.models import Tank

# Initial values of a form, by the names of its fields.
Initial = dict[str, object]

# A tank that is only a wish yet starts as a common size [cm]: chosen, as tanks are sold.
WISHED_CM = {"length_cm": 90.0, "width_cm": 45.0, "depth_cm": 45.0}
PLAIN_SHAPE: Initial = {
    "shape": "box",
    "bow_cm": None,
    "outline_cm": [],
    "cover_transmission": 1.0,
}


# What a plan for no tank yet is called until its keeper names it.
UNNAMED = "Light for a new tank"


class QuestionForms:
    """The forms of one question. `again` shows what was typed with more rows, unchecked."""

    def __init__(
        self,
        *,
        user: User,
        tank: Tank | None,
        data: QueryDict | None = None,
        again: str = "",
        plan: Plan | None = None,
    ) -> None:
        self.tank, self.user, self.unit, self.again = tank, user, user.units, again
        self.data = data
        self.bound = data is not None and not again
        self.stored = read_question(plan.asked) if plan and plan.asked else None
        self.rocks = tank.scene_rocks() if tank else ()
        # What is wrong with the whole, and the parts of the page in which it can be mended.
        self.problem, self.mended_in = "", frozenset[str]()
        self.box_form = None if tank else self.new_box_form()
        self.box = self.read_box()
        if data is not None:
            self.data = fitted(data, self.box, self.unit, stretch=again == "stretch")
        words = plan_words(plan, tank, user)
        self.name = NameForm(self.sent, initial=self.typed(words, NameForm))
        self.full_hours = self.read_hours()
        self.lives = LivesForm(self.data, tank=tank, stored=self.stored)
        self.zones = self.zone_rows()
        self.candidates = self.candidate_rows()
        limits = self.typed(self.limit_initial(), LimitsForm, box=self.box, unit=self.unit)
        self.limits = LimitsForm(self.sent, box=self.box, unit=self.unit, initial=limits)

    @property
    def sent(self) -> QueryDict | None:
        """Return the data the forms are bound to, None where they are only shown."""
        return self.data if self.bound else None

    def typed(self, first: Initial, form: type[forms.Form], **kwargs: object) -> Initial:
        """Return the initial values of a form: what was typed before, else `first`."""
        data = self.data
        if data is None:
            return first
        return {name: data.get(name, "") for name in form(**kwargs).fields}

    def new_box_form(self) -> BoxForm:
        """Return the form of the measures of a tank that is only planned yet."""
        first: Initial = {**WISHED_CM, "back_pane": "clear", **PLAIN_SHAPE}
        if self.stored:
            box = self.stored.question.tank
            first = {name: getattr(box, name) for name in first}
            first |= {
                "bow_cm": box.bow_cm or None,
                "outline_cm": [list(corner) for corner in box.outline_cm],
            }
        data = self.data
        initial = first if data is None else {k: data[k] for k in first if k in data}
        return BoxForm(self.sent, unit=self.unit, initial=initial)

    def read_box(self) -> SceneTank | None:
        """Return the scene Tank the zones lie in, None where its measures can't be read."""
        if self.tank is not None:
            return self.tank.scene()
        if self.data is None and self.box_form is not None:
            return wished_tank(self.box_form.initial).scene()
        form = BoxForm(self.data, unit=self.unit)
        return form.scene() if form.is_valid() else None

    def read_hours(self) -> float:
        """Return the hours of full light a day that bands are turned into PAR by [h]."""
        first = self.limit_initial()["day_hours"]
        usual = first if isinstance(first, float | int) else USUAL_DAY_HOURS
        if self.data is None or "day_hours" not in self.data:
            return float(usual)
        field = LimitsForm(box=self.box, unit=self.unit).fields["day_hours"]
        try:
            typed = field.clean(self.data["day_hours"])
        except forms.ValidationError:
            return float(usual)
        return float(typed) or float(usual)

    def zone_rows(self) -> ZoneRows:
        """Return the rows of the zones; one left as it came and empty says nothing."""
        return empty_permitted(ZoneRows(
            self.sent, prefix="zone", initial=self.zone_initial(),
            form_kwargs={"box": self.box, "unit": self.unit, "full_hours": self.full_hours},
        ))  # fmt: skip

    @property
    def fitted_to(self) -> str:
        """Return the measures the zones were drawn for, empty where they can't be read."""
        if self.box is not None:
            return numbers_text(measures_of(self.box))
        return self.data.get(FITTED_TO, "") if self.data is not None else ""

    @cached_property
    def section(self) -> ZoneSection:
        """Return what is drawn of the zones, and what is left without one."""
        return ZoneSection(self.box, self.zones, self.rocks)

    def candidate_rows(self) -> CandidateRows:
        """Return the rows of the fixtures to choose from."""
        fixtures = self.library
        return empty_permitted(CandidateRows(
            self.sent, prefix="fixture", initial=self.candidate_initial(fixtures),
            form_kwargs={
                "unit": self.unit, "fixtures": fixtures,
                "measured": self.measured_of(fixtures), "hanging": self.hanging,
            },
        ))  # fmt: skip

    @property
    def lamps_open(self) -> bool:
        """Return whether the fixtures to choose from must be seen: one is new or wrong."""
        wrong = self.bound and bool(self.candidates.total_error_count())
        new = any(not row.is_filled for row in self.candidates)
        return wrong or new or self.again == "fixture" or "lamps" in self.mended_in

    @property
    def rest_open(self) -> bool:
        """Return whether what mostly stays as usual must be seen: something of it is wrong."""
        return bool(self.limits.errors or self.name.errors) or "rest" in self.mended_in

    def zone_initial(self) -> list[Initial]:
        """Return the initial values of each zone's row."""
        data = self.data
        if data is not None:
            typed = row_texts(data, "zone", ZONES_MOST, more=self.again == "zone")
            if self.again != "lives":
                return typed
            return self.lived_rows(typed)[:ZONES_MOST]
        if self.box is None:
            return []
        if self.stored:
            return stored_rows(self.stored, self.box)
        return self.lived_rows()

    def lived_rows(self, typed: list[Initial] | None = None) -> list[Initial]:
        """Return the rows of what shall live here, and of those typed what was moved by hand."""
        if self.box is None:
            return typed or []
        wished, hours = self.lives.wishes(), self.full_hours
        return lived_rows(wished, self.box, full_hours=hours, typed=typed or ())

    def candidate_initial(self, fixtures: list[Fixture]) -> list[Initial]:
        """Return the initial values of each fixture's row."""
        if self.data is not None:
            return row_texts(self.data, "fixture", CANDIDATES_MOST, more=self.again == "fixture")
        if self.stored:
            return self.stored_candidates(fixtures)
        measured = self.measured_of(fixtures)
        stated = [f for f in fixtures if f.output() or f.pk in measured]
        # What hangs here first: it is at hand.
        stated.sort(key=lambda fixture: fixture.pk not in self.hanging)
        prices = self.kept_prices
        rows: list[Initial] = [
            {"source": f"own:{f.pk}", "owned": len(self.hanging.get(f.pk, ())) or None}
            for f in stated[:CANDIDATES_MOST]
        ] or [{"source": "kind:mid"}]
        return [row | prices.of(str(row["source"])) for row in rows]

    def stored_candidates(self, fixtures: list[Fixture]) -> list[Initial]:
        """Return the rows of a stored question's fixtures, those that stay once each."""
        if self.stored is None:
            return []
        library = {f"own:{fixture.pk}": fixture for fixture in fixtures}
        rows: list[Initial] = []
        kept: set[str] = set()
        pairs = zip(self.stored.sources, self.stored.question.candidates, strict=True)
        for number, (source, candidate) in enumerate(pairs):
            if candidate.is_kept and source in kept:
                continue
            if candidate.is_kept:
                kept.add(source)
            known = source in library or source == NEW or source[:5] == "kind:"
            row = candidate_texts(source if known else "", candidate, library)
            # Nothing hangs over a tank that is only measures.
            row["keep"] = bool(row["keep"] and self.tank)
            rows.append(row | {"renewal": self.stored.renewal_of(number)})
        return rows

    def limit_initial(self) -> Initial:
        """Return the initial values of the limits: those stored, else the usual ones."""
        if self.stored is None:
            first = LimitsForm.usual() | {"price_kwh": self.kept_prices.price_kwh}
            hours = light_history(self.tank).full_hours_at(now()) if self.tank else None
            if hours:
                first["day_hours"] = round(hours, 2)
            return first
        hung, box = self.stored.question.limits, self.stored.question.tank
        x_from, x_to = typed_range(hung.x_cm, box.length_cm)
        y_from, y_to = typed_range(hung.y_cm, box.width_cm)
        return {
            "count": hung.count, "fill_count": hung.fill_count, "canopy": hung.canopy,
            "height_from": hung.height_cm[0], "height_to": hung.height_cm[1],
            "x_from": x_from, "x_to": x_to, "y_from": y_from, "y_to": y_to,
            "budget": hung.budget, "watts": hung.watts,
            "day_hours": self.stored.day_hours, "price_kwh": self.stored.price_kwh,
        } | wish_initial(self.stored.wish)  # fmt: skip

    def is_valid(self) -> bool:
        """Return whether all can be read; every part is checked, so that all is marked at once."""
        if not self.bound:
            return False
        parts = [self.name, self.box_form, self.zones, self.candidates, self.limits]
        valid = [part.is_valid() for part in parts if part is not None]
        if not all(valid) or self.box is None:
            return False
        if not self.zones.kept():
            self.problem = "A layout needs at least one zone to serve."
        elif not self.candidates.kept():
            self.problem = "A layout needs at least one lamp to choose from."
            self.mended_in = frozenset({"lamps"})
        else:
            self.problem = too_much(self.question().question, length_words(self.unit))
            self.mended_in = frozenset({"lamps", "rest"} if self.problem else ())
        return not self.problem

    @cached_property
    def kept_prices(self) -> KeptPrices:
        """Return the prices of the keeper's last plans."""
        return kept_prices(self.user)

    @cached_property
    def hanging(self) -> dict[int, list[HungFixture]]:
        """Return what hangs over the tank now, by its fixture of the library."""
        return hanging_by_fixture(self.tank, now())

    @cached_property
    def measured(self) -> MeasuredTank | None:
        """Return what a survey knows of the tank, None without one."""
        return measured_tank(self.tank, now()) if self.tank else None

    @cached_property
    def library(self) -> list[Fixture]:
        """Return the keeper's own fixtures."""
        return list(Fixture.objects.owned_by(self.user))

    @cached_property
    def outputs(self) -> dict[int, OutputEstimate]:
        """Return what readings know of the output of the keeper's fixtures, by their keys."""
        return measured_outputs(self.user, self.measured, tank=self.tank, fixtures=self.library)

    def measured_of(self, fixtures: list[Fixture]) -> frozenset[int]:
        """Return the keys of fixtures whose output is measured; none where all state theirs."""
        if all(fixture.output() for fixture in fixtures):
            return frozenset()
        return frozenset(self.outputs)

    def question(self) -> StoredQuestion:
        """Return the question that valid forms make."""
        if self.box is None:
            raise ValueError("A question has a box of water.")
        rows, data = self.candidates.kept(), self.limits.cleaned_data
        measured = self.measured
        pairs = [(form.cleaned_data, candidate)
                 for form in rows for candidate in form.candidates(self.outputs)]  # fmt: skip
        return StoredQuestion(
            Question(
                tank=self.box,
                zones=tuple(form.zone() for form in self.zones.kept()),
                candidates=tuple(candidate for _, candidate in pairs),
                limits=self.limits.limits(),
                rocks=self.rocks,
                law=measured.law if measured else USUAL_LAW,
            ),
            sources=tuple(data["source"] for data, _ in pairs),
            renewals=tuple(data["renewal"] for data, _ in pairs),
            day_hours=USUAL_DAY_HOURS if data["day_hours"] is None else data["day_hours"],
            price_kwh=data["price_kwh"],
            wish=self.limits.wish(),
            surveyed_on=measured.surveyed_on if measured else None,
            origins=tuple(form.origin() for form in self.zones.kept()),
        )


def typed_range(ends_cm: tuple[float, float], side_cm: float) -> tuple[float | None, float | None]:
    """Return the ends of a range [cm] that say more than a side of the tank, None for others.

    What nobody typed follows the tank, also when its question is asked of another.
    """
    low, high = ends_cm
    return low if low > 0.0 else None, high if high < side_cm else None


def wish_initial(wish: SpectrumWish | None) -> Initial:
    """Return the fields of a colour wished for; those of ends without a bound stay empty."""
    if wish is None:
        return {}
    ends: Initial = {}
    for colour, (low, high) in (("blue", wish.blue), ("green", wish.green), ("red", wish.red)):
        ends[f"{colour}_from"] = None if low == 0.0 else round(100 * low, 1)
        ends[f"{colour}_to"] = None if high == 1.0 else round(100 * high, 1)
    return ends


def plan_words(plan: Plan | None, tank: Tank | None, user: User) -> Initial:
    """Return the name, people and notes a question starts with."""
    usual = f"Light for {tank}"[:80] if tank else UNNAMED
    if plan:
        words = {name: getattr(plan, name) for name in WORDS}
        # One for no tank yet that is taken into a tank is that tank's.
        return words | ({"name": usual} if tank and plan.name == UNNAMED else {})
    # An adviser's letterhead is typed once: the next plan starts with the last one's.
    own = Plan.objects.present().filter(owner=user).exclude(letterhead="")
    last = own.values_list("letterhead", flat=True).first() or ""
    return {"name": usual, "by_whom": user.display_name, "letterhead": last}


def row_texts(data: QueryDict, prefix: str, most: int, *, more: bool) -> list[Initial]:
    """Return what was typed into each row, and a blank one when more are wanted."""
    count = min(whole_number(data.get(f"{prefix}-TOTAL_FORMS", "")) or 0, most)
    rows: list[Initial] = []
    for number in range(count):
        start = f"{prefix}-{number}-"
        rows.append({key.removeprefix(start): data[key] for key in data if key.startswith(start)})
    return [*rows, {}] if more and count < most else rows

"""An answer changed by hand: another level, height, optic or place, seen before it is hung."""

from collections.abc import Mapping

from django import forms
from django.http import QueryDict

from apps.common.units import LengthField, NumberField
from apps.lighting.fixture_models import BEAM
from apps.lighting.models import HEIGHT
from apps.photics.layout.answers import Answer
from apps.photics.layout.hanging import Layout
from apps.photics.layout.question import Question
from apps.planning.layout.searching import SearchedPlan

# What says in an address or a form that an answer was changed by hand.
BY_HAND = "by_hand"


class HandForm(forms.Form):
    """The level, height and optic of each kind of a layout, and the place of each fixture."""

    def __init__(
        self, data: QueryDict | None, *, layout: Layout, question: Question, unit: str
    ) -> None:
        super().__init__(data)
        self.layout, self.question, tank = layout, question, question.tank
        number = 0  # of a place, as on the drawings
        for k, kind in enumerate(layout.hung):
            self.fields[f"level-{k}"] = NumberField(
                label="Level", low=1, high=100, words=("%",), initial=round(100 * kind.level, 1)
            )
            self.fields[f"height-{k}"] = LengthField(
                label="Height", unit=unit, low_cm=HEIGHT[0] + 1.0, high_cm=HEIGHT[1],
                initial=kind.height_cm,
            )  # fmt: skip
            self.fields[f"beam-{k}"] = NumberField(
                label="Optic", low=BEAM[0], high=BEAM[1], words=("°",), initial=kind.beam_deg
            )
            for n, (x, y) in enumerate(kind.places_cm):
                number += 1
                for axis, label, value, side in (
                    ("x", "from the left", x, tank.length_cm),
                    ("y", "from the front", y, tank.width_cm),
                ):
                    self.fields[f"{axis}-{k}-{n}"] = LengthField(
                        label=f"Place {number}, {label}",
                        unit=unit,
                        low_cm=0,
                        high_cm=side,
                        initial=value,
                    )

    def kinds(self) -> list[dict[str, object]]:
        """Return for each kind its name and fields, its fixtures' places among them."""
        return [
            {
                "name": self.question.candidates[kind.candidate].name,
                "fields": [self[f"{name}-{k}"] for name in ("level", "height", "beam")],
                "places": [(self[f"x-{k}-{n}"], self[f"y-{k}-{n}"])
                           for n in range(len(kind.places_cm))],
            }
            for k, kind in enumerate(self.layout.hung)
        ]  # fmt: skip

    def changed_layout(self) -> Layout:
        """Return the layout that a valid form makes."""
        data: Mapping[str, float] = self.cleaned_data
        layout = self.layout
        for k, kind in enumerate(layout.hung):
            places = tuple((data[f"x-{k}-{n}"], data[f"y-{k}-{n}"])
                           for n in range(len(kind.places_cm)))  # fmt: skip
            changed = kind._replace(
                level=data[f"level-{k}"] / 100.0,
                height_cm=data[f"height-{k}"],
                beam_deg=data[f"beam-{k}"],
                places_cm=places,
            )
            layout = layout.with_kind(k, changed)
        return layout


def hand_form(data: QueryDict, searched: SearchedPlan, answer: Answer, unit: str) -> HandForm:
    """Return the HandForm of an answer, bound where an address or a form carries its fields."""
    sent = data if BY_HAND in data else None
    return HandForm(sent, layout=answer.layout, question=searched.stored.question, unit=unit)


def changed_answer(form: HandForm, searched: SearchedPlan, answer: Answer) -> Answer:
    """Return the Answer a form makes of another; that one itself where nothing valid was sent."""
    if not form.is_bound or not form.is_valid():
        return answer
    layout = form.changed_layout()
    return Answer(layout, searched.search.scorer.score(layout), ())

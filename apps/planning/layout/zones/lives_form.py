"""What shall live in a tank: ticked, each with the part of the length it takes."""

from django import forms
from django.http import QueryDict

from apps.planning.layout.zones.inhabitants import (
    CHOICES,
    INHABITANTS,
    PLACES,
    Wish,
    wishes,
    wishes_of,
)
from apps.planning.stored_layout import StoredQuestion
from apps.tanks.models import Tank


class LivesForm(forms.Form):
    """The kinds of life to draw zones for; nothing of it can be wrong."""

    def __init__(
        self, data: QueryDict | None, *, tank: Tank | None, stored: StoredQuestion | None
    ) -> None:
        chosen, places = self.first(tank, stored)
        if data is not None and "zone-TOTAL_FORMS" in data:
            chosen = data.getlist("lives")
            places = {key: data.get(f"place-{key}", "") for key in CHOICES}
        super().__init__()
        self.chosen, self.places = [key for key in CHOICES if key in chosen], places

    @staticmethod
    def first(tank: Tank | None, stored: StoredQuestion | None) -> tuple[list[str], dict[str, str]]:
        """Return what is ticked and placed on a page that nobody sent yet."""
        if stored is None:
            return wishes_of(tank), {}
        pairs = [origin.lives.split("@") for origin in stored.origins if "@" in origin.lives]
        return [pair[0] for pair in pairs], {pair[0]: pair[1] for pair in pairs}

    def wishes(self) -> list[Wish]:
        """Return the Wishes that are ticked."""
        return wishes(self.chosen, self.places)

    def rows(self) -> list[dict[str, object]]:
        """Return for each kind its key, name, whether it is ticked, and the places it may take."""
        return [
            {
                "key": key,
                "name": name,
                "chosen": key in self.chosen,
                "places": [(place, words, place == self.place_of(key))
                           for place, (words, _) in PLACES.items()],
            }
            for key, name in CHOICES.items()
        ]  # fmt: skip

    def place_of(self, key: str) -> str:
        """Return the place a kind takes: the chosen one, else its usual one."""
        usual = INHABITANTS[key].usual_place if key in INHABITANTS else "all"
        place = self.places.get(key, "")
        return place if place in PLACES else usual

"""Which coral a name in a table means: one of the tank, a new one, or none; else it is asked."""

import datetime as dt
import difflib
from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass, field

from django.core.exceptions import ValidationError

from apps.common.moments import day_text
from apps.common.numbers import whole_number
from apps.corals.history.columns import plain_name
from apps.corals.history.table import Answers
from apps.corals.models import Coral
from apps.tanks.models import Tank

NEW, OUT = "new:", "out"
# How alike two names are [1] that the one is offered first for the other: our own choice.
ALIKE_FROM = 0.75


class Unanswered(ValueError):
    """A line waits for the keeper's answer to a question above the table."""


class LeftOut(Exception):
    """The keeper leaves these lines out."""


@dataclass
class NameQuestion:
    """A name of the table that is no coral's in the tank, or more than one's."""

    key: str
    name: str
    count: int
    first: dt.date
    likely: list[Coral]
    answer: str


@dataclass
class Arrival:
    """A coral of the tank that the table knows before the day it is said to have come."""

    coral: Coral
    stated: dt.date
    first: dt.date
    count: int
    is_earlier: bool
    problem: str = ""


@dataclass
class _Named:
    name: str
    days: list[dt.date] = field(default_factory=list)
    group: str = ""


class Corals:
    """The corals of a tank and of a table, by name."""

    def __init__(self, tank: Tank, answers: Answers) -> None:
        self.tank, self.answers = tank, answers
        present = list(tank.corals.present().prefetch_related("spots").select_related("parent"))
        self.by_pk: dict[int, Coral] = {coral.pk: coral for coral in present}
        self.by_name: dict[str, list[Coral]] = defaultdict(list)
        for coral in present:
            coral.tank = tank
            self.by_name[plain_name(coral.name)].append(coral)
        self.new: dict[str, Coral] = {}
        self.arrivals: dict[int, Arrival] = {}
        self._named: dict[str, _Named] = {}

    def mention(self, name: str, day: dt.date, *, group: str = "") -> None:
        """Take note that the table names a coral on a day."""
        named = self._named.setdefault(plain_name(name), _Named(" ".join(name.split())))
        named.days.append(day)
        named.group = named.group or group

    def settle(self) -> None:
        """Make the new corals and date back those that were there earlier, all being named."""
        days: dict[int, list[dt.date]] = defaultdict(list)
        for key, named in self._named.items():
            answer = self._answer(key)
            if answer.startswith(NEW):
                self._add_new(key, named, answer.removeprefix(NEW) or named.group)
            elif answer != OUT and answer:
                days[int(answer)] += named.days
        for pk, some in days.items():
            self._date_back(self.by_pk[pk], some)

    def coral(self, name: str, day: dt.date) -> Coral:
        """Return the coral that a name means on a day. Raises Unanswered or LeftOut."""
        key = plain_name(name)
        answer = self._answer(key)
        if answer == OUT:
            raise LeftOut
        if key in self.new:
            return self.new[key]
        if not answer or answer.startswith(NEW):
            raise Unanswered(f"Which coral is “{name}”? Choose above.")
        coral = self.by_pk[int(answer)]
        if day < coral.added_on:
            came = f"{coral} came only on {day_text(coral.added_on)}."
            raise Unanswered(f"{came} If it was here earlier, say so above.")
        return coral

    def questions(self) -> list[NameQuestion]:
        """Return what is to be asked of names, those of most lines first."""
        unsure = [(k, n) for k, n in self._named.items() if len(self.by_name.get(k, ())) != 1]
        result = [
            NameQuestion(
                key,
                named.name,
                len(named.days),
                min(named.days),
                self._likely(key),
                self.answers.names.get(key, ""),
            )
            for key, named in unsure
        ]
        return sorted(result, key=lambda question: (-question.count, question.name))

    def _answer(self, key: str) -> str:
        """Return whom a name means: the key of a coral, NEW with a group, OUT, "" if not known."""
        own = self.by_name.get(key, ())
        chosen = self.answers.names.get(key, "") or ("" if own else self.answers.names_rest)
        if (pk := whole_number(chosen)) is not None:
            return str(pk) if pk in self.by_pk else ""
        # Sent again, “new” means the one that was made: a second of one name is added by hand.
        if chosen == OUT or (chosen.startswith(NEW) and not own):
            return chosen
        return str(own[0].pk) if len(own) == 1 else ""

    def _add_new(self, key: str, named: _Named, group: str) -> None:
        coral = Coral(tank=self.tank, name=named.name, group=group, added_on=min(named.days))
        try:
            coral.full_clean(exclude=["tank"], validate_constraints=False)
        except ValidationError:
            return
        self.new[key] = coral

    def _date_back(self, coral: Coral, days: list[dt.date]) -> None:
        stated, first = coral.added_on, min(days)
        if first >= stated:
            return
        is_earlier = coral.pk in self.answers.earlier
        arrival = Arrival(coral, stated, first, sum(day < stated for day in days), is_earlier)
        if is_earlier:
            coral.added_on = first
            try:
                coral.full_clean(exclude=["tank", "parent"], validate_constraints=False)
            except ValidationError as problem:
                coral.added_on, arrival.is_earlier = stated, False
                arrival.problem = " ".join(problem.messages)
        self.arrivals[coral.pk] = arrival

    def _likely(self, key: str) -> list[Coral]:
        """Return the tank's corals, those whose names are most like a name first."""
        if own := self.by_name.get(key):
            return own
        alike = {
            coral.pk: difflib.SequenceMatcher(None, key, plain_name(coral.name)).ratio()
            for coral in self.by_pk.values()
        }
        close = [coral for coral in self.by_pk.values() if alike[coral.pk] >= ALIKE_FROM]
        return sorted(close, key=lambda coral: -alike[coral.pk])


def stated_arrivals(arrivals: Iterable[Arrival]) -> list[tuple[int, str, str]]:
    """Return (coral's key, day stated before, day since) of those dated back."""
    return [
        (a.coral.pk, a.stated.isoformat(), a.first.isoformat()) for a in arrivals if a.is_earlier
    ]

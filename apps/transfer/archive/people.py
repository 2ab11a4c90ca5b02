"""Who did it, by name: no account is told by a zip, and none is linked by one."""

from collections import defaultdict
from typing import Any

from django.db.models import Model

from apps.accounts.models import User
from apps.tanks.models import Tank
from apps.transfer.archive.tables import people_fields, table_name
from apps.transfer.models import TankImport

# The number of the tank's owner in people.json; others follow as rows name them.
OWNER = 1
UNNAMED = "another keeper"


class PeopleOut:
    """Numbers for the people of one tank, in the order in which its rows name them."""

    def __init__(self, owner: User, tank: Tank | None = None) -> None:
        self._numbers: dict[object, int] = {owner.pk: OWNER}
        self._names: dict[int, str] = {OWNER: owner.display_name}
        record = TankImport.objects.filter(tank=tank).first() if tank else None
        self._imported: dict[str, Any] = record.people if record else {}
        self._display: dict[int, str] = dict(
            User.objects.filter(pk__in=self._readers(tank)).values_list("pk", "display_name")
        )

    @staticmethod
    def _readers(tank: Tank | None) -> list[int]:
        return list(tank.memberships.values_list("user", flat=True)) if tank else []

    def of_row(self, row: Model) -> dict[str, int | None]:
        """Return {field: number} of all a row says of who did it."""
        fields = people_fields(type(row))
        names = self._imported.get(table_name(type(row)), {}).get(str(row.pk), {})
        return {
            field.name: self._number(getattr(row, field.attname), names.get(field.name))
            for field in fields
        }

    def _number(self, user: int | None, name: str | None) -> int | None:
        if user is None and name is None:
            return None
        key: object = user if user is not None else ("named", name)
        if key not in self._numbers:
            self._numbers[key] = len(self._numbers) + 1
            shown = name if user is None else self._name_of(user)
            self._names[self._numbers[key]] = shown or UNNAMED
        return self._numbers[key]

    def _name_of(self, user: int) -> str:
        # Whoever left the tank since is known by their account still.
        if user not in self._display:
            kept = User.objects.filter(pk=user).values_list("display_name", flat=True).first()
            self._display[user] = kept or ""
        return self._display[user]

    def name_of(self, number: int) -> str:
        return self._names[number]

    def document(self) -> list[dict[str, object]]:
        return [
            {"number": number, "name": name, "owner": number == OWNER}
            for number, name in self._names.items()
        ]


class PeopleIn:
    """The people of a zip: its owner becomes the importing keeper, others stay names."""

    def __init__(self, names: dict[int, str], keeper: User) -> None:
        self._names, self._keeper = names, keeper
        self._stated: dict[str, dict[str, dict[str, str]]] = defaultdict(lambda: defaultdict(dict))

    def of_row(self, row: Model, numbers: dict[str, int | None]) -> dict[str, str]:
        """Set a row's fields; returns {field: name} of whom it names without an account."""
        named = {}
        for field in people_fields(type(row)):
            number = numbers.get(field.name)
            setattr(row, field.attname, self._keeper.pk if number == OWNER else None)
            if number is not None and number != OWNER:
                named[field.name] = self._names[number]
        return named

    def keep(self, row: Model, named: dict[str, str]) -> None:
        """Note down whom a stored row names."""
        if named:
            self._stated[table_name(type(row))][str(row.pk)] = named

    def stated(self) -> dict[str, Any]:
        return {table: dict(rows) for table, rows in self._stated.items()}

"""Making a tank of a zip: all of it or nothing, under the keeper who brings it in."""

import hashlib
import uuid
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from django.db import DatabaseError, OperationalError, connection, transaction
from django.db.models import Model, UUIDField

from apps.accounts.models import User
from apps.common.copy_names import copy_name
from apps.corals.history_models import SentPhoto
from apps.corals.notes.quota import photo_quota_problem
from apps.corals.photo_files import store_file
from apps.later.progress import Progress, unheard
from apps.lighting.models import RayTable
from apps.lightmap.warming import warm_soon
from apps.photics.ground.measured_optic import MeasuredOptic
from apps.tanks.models import Tank
from apps.transfer.archive import form, keys, matching
from apps.transfer.archive.form import Unfit, UnfitZip
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.people import PeopleIn
from apps.transfer.archive.photo_check import size_of_photo
from apps.transfer.archive.reading_rows import RowChecks, StatedRow, stated_rows
from apps.transfer.archive.tables import (
    OWN_TABLES,
    document_fields,
    file_fields,
    links,
    owner_field,
    people_fields,
    table_name,
    tables,
)
from apps.transfer.models import Arrival, TankImport

# Far below what either database takes in one statement.
VALUES_AT_ONCE = 10_000
UNSOUND = "Rows of this zip do not go together: it was changed by hand. Nothing was imported."


@dataclass
class Restored:
    """What a zip became."""

    tank: Tank | None
    rows: int = 0
    photos: int = 0
    # What the keeper had already, by table.
    matched: dict[str, int] = field(default_factory=dict)


@transaction.atomic
def restore(
    opened: OpenedZip,
    *,
    keeper: User,
    arrival: Arrival | None = None,
    progress: Progress = unheard,
) -> Restored:
    """Store all of a tank's zip, or of a zip of what is a keeper's own; or raise UnfitZip."""
    kind = opened.manifest.kind
    if kind not in (form.TANK, form.OWN):
        raise UnfitZip(Unfit.KIND, "This zip is of a whole account, not of one tank.")
    if kind == form.TANK and (problem := Tank.objects.quota_problem(keeper)):
        raise UnfitZip(Unfit.QUOTA, problem)
    work = Restoring(opened, keeper, progress)
    try:
        # Inner, so that what the database refuses can be told.
        with transaction.atomic():
            result = work.run([m for m in tables() if kind == form.TANK or m in OWN_TABLES])
            if result.tank is not None:
                _keep_record(result.tank, opened, work.people, keeper, arrival)
                _refuse_beyond_quota(result)
                # Written in bulk, which says nothing of it.
                warm_soon(result.tank.pk)
    except OperationalError:
        # A deadlock or a lost line is not the zip's fault: it may be brought in anew.
        raise
    except DatabaseError:
        raise UnfitZip(Unfit.UNSOUND, UNSOUND) from None
    if kind == form.TANK and result.tank is None:
        raise UnfitZip(Unfit.TANKS, "This zip holds no tank.")
    return result


def _refuse_beyond_quota(result: Restored) -> None:
    """Take it all back where its keeper has more photos now than this site keeps."""
    if result.photos and (problem := photo_quota_problem(result.tank, 0)):
        raise UnfitZip(Unfit.QUOTA, problem)


def _keep_record(
    tank: Tank, opened: OpenedZip, people: PeopleIn, keeper: User, arrival: Arrival | None
) -> None:
    TankImport.objects.create(
        tank=tank, keeper=keeper, digest=opened.manifest.digest, arrival=arrival,
        people=people.stated(),
    )  # fmt: skip


class Restoring:
    """One zip on its way into the database: table by table, keys of the zip to rows here."""

    def __init__(self, opened: OpenedZip, keeper: User, progress: Progress = unheard) -> None:
        self.opened, self.keeper, self.progress = opened, keeper, progress
        self.people = PeopleIn(_people(opened), keeper)
        self.marks = keys.NewMarks()
        self.rows: dict[type[Model], dict[object, Model]] = defaultdict(dict)
        self.photos = 0
        self.done = self.all = 0
        self.matched: dict[str, int] = {}

    def run(self, models: list[type[Model]]) -> Restored:
        expected = {f"rows/{table_name(model)}.json" for model in models}
        if odd := sorted(n for n in self.opened.names() - expected if n.startswith("rows/")):
            raise UnfitZip(
                Unfit.NEWER, f"“{odd[0]}” is not known here: a newer reeflog made this zip."
            )
        # Marks first: a document may name one that stands in a later table.
        stated = {model: self._stated(model) for model in models}
        self.all = sum(map(len, stated.values()))
        if self.all > form.ROWS_MAX:
            raise UnfitZip(Unfit.TOO_LARGE, "This zip holds more rows than a tank ever has.")
        for model, rows in stated.items():
            self._store_table(model, rows, stated)
        made = list(self.rows[Tank].values())
        if len(made) > 1:
            raise UnfitZip(Unfit.TANKS, "This zip holds more than one tank.")
        return Restored(made[0] if made else None, self.all, self.photos, self.matched)

    def _stated(self, model: type[Model]) -> list[StatedRow]:
        name = f"rows/{table_name(model)}.json"
        # A table that came after this zip was made has no rows yet.
        table = self.opened.json(name) if name in self.opened.names() else []
        marks = [f.name for f in model._meta.concrete_fields if isinstance(f, UUIDField)]
        result = []
        for row in stated_rows(model, table):
            values = dict(row.values)
            for mark in marks:
                if isinstance(values.get(mark), uuid.UUID):
                    values[mark] = self.marks.new(values[mark])
            result.append(StatedRow(model, row.key, values, row.links))
        return result

    def _store_table(
        self, model: type[Model], stated: list[StatedRow], others: Mapping[Any, list[StatedRow]]
    ) -> None:
        rows = {row.key: self._row(row) for row in stated}
        known = self._known(model, rows, others)
        new = {key: row for key, row in rows.items() if key not in known}
        named = {row.key: self._name_people(rows[row.key], row) for row in stated}
        checks = RowChecks(model)
        for key, row in new.items():
            checks.check(row, f"Row {key} of “rows/{table_name(model)}.json”")
            self.done += 1
            self.progress(self.done, self.all)
            self._store_photos(row, key)
        insert(model, list(new.values()))
        self.rows[model] |= rows | known
        for key, row in new.items():
            self.people.keep(row, named[key])
        self._join_within(model, stated, new)
        if known:
            self.matched[table_name(model)] = len(known)

    def _known(
        self, model: type[Model], rows: dict[object, Model], others: Mapping[Any, list[StatedRow]]
    ) -> dict[object, Model]:
        """Return the keeper's own rows that say the same: they are not made a second time."""
        if model is RayTable:
            return _known_rays(rows)
        return matching.known_rows(model, rows, self.keeper, others, self.rows)

    def _row(self, stated: StatedRow) -> Model:
        """Return the unsaved row; what it points to in its own table comes later."""
        model = stated.model
        row: Model = model(**stated.values)
        if isinstance(model._meta.pk, UUIDField) or model is RayTable:
            row.pk = stated.key
        if owner := owner_field(model):
            setattr(row, owner.name, self.keeper)
        if isinstance(row, Tank) and row.removed_at is None:
            row.name = free_name(row.name, self.keeper)
        for link in links(model):
            within = link.related_model is model
            if link.name in stated.links and link.related_model in self.rows and not within:
                self._point(row, link, stated)
        for column in document_fields(model):
            if column.name in stated.values:
                self._renumber(row, column.name)
        return row

    def _point(self, row: Model, link: Any, stated: StatedRow) -> None:
        key = stated.links[link.name]
        target = self.rows[link.related_model].get(key)
        if target is None and (key is not None or not link.null):
            raise UnfitZip(
                Unfit.LOST_LINK, f"{stated.words} points to a row that is missing from this zip."
            )
        setattr(row, link.name, target)

    def _renumber(self, row: Model, name: str) -> None:
        value = self.marks.within(getattr(row, name))
        change = keys.WITH_KEYS.get((type(row), name))
        try:
            value = change(value, self.rows) if change else value
        except (KeyError, TypeError, ValueError, AttributeError, LookupError):
            where = table_name(type(row))
            raise UnfitZip(
                Unfit.VALUE, f"“rows/{where}.json”: “{name}” has a value that does not fit."
            ) from None
        setattr(row, name, value)

    def _name_people(self, row: Model, stated: StatedRow) -> dict[str, str]:
        numbers = {f.name: stated.links.get(f.name) for f in people_fields(stated.model)}
        try:
            return self.people.of_row(row, numbers)  # type: ignore[arg-type]  # keys of people
        except KeyError:
            raise UnfitZip(
                Unfit.LOST_LINK, f"{stated.words} names somebody who is not in people.json."
            ) from None

    def _join_within(
        self, model: type[Model], stated: list[StatedRow], new: Mapping[object, Model]
    ) -> None:
        """Let rows point to rows of their own table, now that these have numbers."""
        for link in links(model):
            if link.related_model is not model:
                continue
            joined = []
            for row in stated:
                if row.links.get(link.name) is not None and row.key in new:
                    self._point(new[row.key], link, row)
                    joined.append(new[row.key])
            model._base_manager.bulk_update(joined, [link.name], batch_size=500)

    def _store_photos(self, row: Model, key: object) -> None:
        for column in file_fields(type(row)):
            if not getattr(row, column.name):
                continue
            name = f"photos/{table_name(type(row))}-{key}-{column.name}.jpg"
            setattr(row, column.name, column.generate_filename(row, f"{column.name}.jpg"))
            if name not in self.opened.names():
                # Its file was lost before the zip was made, and stays so.
                continue
            content = self.opened.bytes(name, form.PHOTO_BYTES_MAX)
            size = size_of_photo(content, name)
            store_file(getattr(row, column.name), f"{column.name}.jpg", content)
            self.photos += 1
            if isinstance(row, SentPhoto) and column.name == "image":
                row.facts = {"width_px": size[0], "height_px": size[1], "camera_mark": ""}
        if isinstance(row, SentPhoto) and not row.digest:
            # Of the file as it was sent, which is not kept: it may come again.
            row.digest = hashlib.sha256(row.key.bytes).hexdigest()


def free_name(name: str, keeper: User) -> str:
    """Return the name of a tank that comes in: as a copy where one of it is the keeper's."""
    own = set(Tank.objects.filter(owner=keeper, removed_at=None).values_list("name", flat=True))
    most, result, number = Tank._meta.get_field("name").max_length or 0, name, 1
    while result in own:
        result, number = copy_name(name, most=most, number=number), number + 1
    return result


def _people(opened: OpenedZip) -> dict[int, str]:
    """Return the names of people.json by number, or raise UnfitZip."""
    listed = opened.json(form.PEOPLE)
    try:
        return {int(one["number"]): str(one["name"])[:60] for one in listed}
    except (KeyError, TypeError, ValueError):
        raise UnfitZip(
            Unfit.UNREADABLE, "“people.json” can’t be read: it was changed by hand."
        ) from None


def _known_rays(rows: dict[object, Model]) -> dict[object, Model]:
    """Return the ray tables that are here; a table under a key that is not its own is refused."""
    for key, row in rows.items():
        try:
            own = RayTable.packed(MeasuredOptic(tuple(tuple(line) for line in row.rows)))[0]
        except (TypeError, ValueError):
            own = ""
        if own != key:
            raise UnfitZip(Unfit.CHANGED, "A photometric table of this zip was changed by hand.")
    return dict(RayTable.objects.in_bulk(list(rows)))


def insert(model: type[Model], rows: list[Model]) -> None:
    """Store new rows as they are, the moments at which they were made too, and give them keys.

    In plain SQL: a saved row would be made now, and a meter's origin said anew; and Django would
    work out each value of each row by itself.
    """
    if not rows:
        return
    # A key that is no number is given with the row.
    key, given = model._meta.pk, rows[0].pk is not None
    fields = [f for f in model._meta.concrete_fields if given or not f.primary_key]
    quoted = connection.ops.quote_name
    columns = ", ".join(quoted(f.column) for f in fields)
    one = f"({', '.join(['%s'] * len(fields))})"
    at_once = max(1, VALUES_AT_ONCE // len(fields))
    with connection.cursor() as cursor:
        for start in range(0, len(rows), at_once):
            some = rows[start : start + at_once]
            cursor.execute(
                f"INSERT INTO {quoted(model._meta.db_table)} ({columns}) "
                f"VALUES {', '.join([one] * len(some))} RETURNING {quoted(key.column)}",
                [
                    field.get_db_prep_save(getattr(row, field.attname), connection)
                    for row in some
                    for field in fields
                ],
            )
            for row, (number,) in zip(some, cursor.fetchall(), strict=True):
                if not given:
                    row.pk = number
                row._state.adding, row._state.db = False, connection.alias

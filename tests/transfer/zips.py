"""Zips of tanks, in and out of the database, and their content freed of numbers."""

import io
import json
import re
import zipfile

from apps.corals.history_models import ADDED
from apps.transfer.archive.contents import OWN_FIXTURE
from apps.transfer.archive.form import MANIFEST, Member
from apps.transfer.archive.opening import OpenedZip
from apps.transfer.archive.restoring import restore
from apps.transfer.archive.tables import file_fields, links, table_name, tables
from apps.transfer.archive.writing import content_digest, write_tank

MARK = re.compile(r"[0-9a-f]{8}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{4}-[0-9a-f]{12}")


def exported(tank) -> bytes:
    out = io.BytesIO()
    write_tank(tank, out)
    return out.getvalue()


def imported(content: bytes, keeper):
    """Return the tank that a zip becomes."""
    with OpenedZip(io.BytesIO(content)) as opened:
        return restore(opened, keeper=keeper).tank


def members(content: bytes) -> dict[str, bytes]:
    archive = zipfile.ZipFile(io.BytesIO(content))
    return {name: archive.read(name) for name in archive.namelist()}


def packed(files: dict[str, bytes], *, sealed: bool = True, **manifest) -> bytes:
    """Return a zip of files; sealed: its manifest is made anew as a clever hand would."""
    files = dict(files)
    if MANIFEST in files:
        stated = json.loads(files.pop(MANIFEST))
        if sealed:
            import hashlib

            own = {n: Member(hashlib.sha256(c).hexdigest(), len(c)) for n, c in files.items()}
            stated["files"] = {name: member.stated() for name, member in own.items()}
            stated["content_sha256"] = content_digest(own)
        files[MANIFEST] = json.dumps(stated | manifest).encode()
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return out.getvalue()


def rows_of(files: dict[str, bytes], table: str):
    return json.loads(files[f"rows/{table}.json"])


def with_row(content: bytes, table: str, at: int = 0, **fields) -> bytes:
    """Return a zip with some columns of one row changed by hand, all checksums made to fit."""
    files = members(content)
    rows = rows_of(files, table)
    rows[at]["fields"] |= fields
    files[f"rows/{table}.json"] = json.dumps(rows).encode()
    return packed(files)


def canonical(content: bytes):
    """Return ({table: rows}, {photo: bytes}, people) of a zip, each number told by its place."""
    files = members(content)
    place = {
        table_name(model): {row["pk"]: n for n, row in enumerate(rows_of(files, table_name(model)))}
        for model in tables()
    }
    marks: dict[str, str] = {}
    result, photos = {}, {}
    for model in tables():
        name = table_name(model)
        result[name] = [plain_row(model, row, place, marks) for row in rows_of(files, name)]
        for row in rows_of(files, name):
            for field in file_fields(model):
                file = files.get(f"photos/{name}-{row['pk']}-{field.name}.jpg")
                photos[name, place[name][row["pk"]], field.name] = file
    names = [(one["number"], one["name"]) for one in json.loads(files["people.json"])[1:]]
    return result, photos, names


def plain_row(model, row, place, marks):
    fields = dict(row["fields"])
    for link in links(model):
        kind = link.related_model
        if kind in tables() and fields.get(link.name) is not None:
            fields[link.name] = place[table_name(kind)][fields[link.name]]
    for field in file_fields(model):
        fields[field.name] = bool(fields[field.name])
    if table_name(model) == "historyimport":
        kinds = {kind: label.split(".")[1].lower() for kind, label in ADDED.items()}
        fields["added"] = [[k, place[kinds[k]][pk], *rest] for k, pk, *rest in fields["added"]]
        fields["arrivals"] = [[place["coral"][pk], *rest] for pk, *rest in fields["arrivals"]]
    text = MARK.sub(lambda m: marks.setdefault(m[0], f"mark {len(marks)}"), json.dumps(fields))
    own = place["fixture"]
    return re.sub(f'"{OWN_FIXTURE.pattern}"', lambda m: f'"own: place {own.get(int(m[1]))}"', text)

"""All tables of a tank in one zip, described as a Frictionless data package (version 1).

https://specs.frictionlessdata.io/data-package/ and /tabular-data-resource/, /table-schema/.
"""

import hashlib
import io
import json
import zipfile
from collections.abc import Sequence
from typing import Any

from django.utils.text import slugify

from apps.tanks.models import Tank
from apps.transfer.tables.table import Column, Table, write_csv

DESCRIPTION = "datapackage.json"


def write_package(tables: Sequence[Table], tank: Tank) -> bytes:
    """Return a zip of one CSV file a table and of datapackage.json."""
    files = {table.name: write_csv(table, tank).encode() for table in tables}
    resources = [resource(table, files[table.name]) for table in tables]
    stated = {
        "profile": "tabular-data-package",
        "name": slugify(tank.name) or "tank",
        "title": tank.name,
        "description": "Lengths in cm, moments in UTC, days by the tank's clock. A text that "
        "begins like a formula is led by an apostrophe.",
        "resources": resources,
    }
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED) as archive:
        archive.writestr(DESCRIPTION, json.dumps(stated, indent=1, ensure_ascii=False))
        for name, content in files.items():
            archive.writestr(f"{name}.csv", content)
    return out.getvalue()


def resource(table: Table, content: bytes) -> dict[str, Any]:
    return {
        "profile": "tabular-data-resource",
        "name": table.name.replace("_", "-"),
        "title": table.title,
        "path": f"{table.name}.csv",
        "format": "csv",
        "mediatype": "text/csv",
        "encoding": "utf-8",
        "bytes": len(content),
        "hash": f"sha256:{hashlib.sha256(content).hexdigest()}",
        "schema": {"fields": [field(c) for c in table.columns], "missingValues": [""]},
    }


def field(column: Column) -> dict[str, str]:
    result = {"name": column.name, "type": column.type, "description": column.means}
    if column.unit:
        result["unit"] = column.unit
    return result

"""What programs can do: the schema, and as a page for people drawn from it, without a script."""

from dataclasses import dataclass
from itertools import groupby

import drf_spectacular
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET
from drf_spectacular.generators import SchemaGenerator
from drf_spectacular.utils import extend_schema
from drf_spectacular.views import SpectacularJSONAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from apps.common.kept import digest_of, kept

BEFORE = "/api/v1/"


@dataclass(frozen=True)
class Field:
    """One value that a call takes or answers with."""

    name: str
    kind: str
    words: str
    is_needed: bool


@dataclass(frozen=True)
class Operation:
    """One call: its method and address, what it is for, what it takes and answers with."""

    method: str
    path: str
    words: str
    query: tuple[Field, ...]
    body: tuple[Field, ...]
    answer: tuple[Field, ...]

    @property
    def subject(self) -> str:
        """The rows it is about: the first plain word of its address, within a tank the second."""
        words = [part for part in self.path.split("/") if part and "{" not in part]
        # What is done with a tank itself names it by its id.
        nested = len(words) > 1 and self.path.startswith("tanks/{tank_pk}/")
        return words[int(nested)].replace("-", " ")

    @property
    def anchor(self) -> str:
        plain = "".join(c if c.isalnum() else "-" for c in self.path)
        return f"{self.method.lower()}{plain}".rstrip("-")


class SchemaView(SpectacularJSONAPIView):
    """The schema of all calls. Anybody may ask for it, so it is made once for all workers."""

    @extend_schema(exclude=True)
    def get(self, request: Request) -> Response:
        disposition = 'inline; filename="reeflog.json"'
        return Response(whole_schema(), headers={"Content-Disposition": disposition})


def whole_schema() -> dict:
    """Return the schema as plain values; it is the same for everybody."""
    return kept(kept_key("api-schema"), make_schema)


def make_schema() -> dict:
    """Return the schema, made anew: half a second of work."""
    return SchemaGenerator().get_schema(request=None, public=True)


def kept_key(name: str) -> str:
    """Return the key of what rests on the schema: on our code, its settings and its maker."""
    rests_on = repr((drf_spectacular.__version__, settings.SPECTACULAR_SETTINGS))
    return f"{name}-{digest_of(rests_on)}"


@require_GET
def api_docs(request: HttpRequest) -> HttpResponse:
    operations = kept(kept_key("api-docs"), read_operations)
    ordered = sorted(operations, key=lambda operation: operation.subject)
    subjects = [(name, list(group)) for name, group in groupby(ordered, lambda o: o.subject)]
    return render(request, "api/api_docs.html", {"subjects": subjects})


def read_operations() -> tuple[Operation, ...]:
    """Return all Operations of the schema, by address."""
    whole = whole_schema()
    schemas = whole["components"]["schemas"]
    return tuple(
        operation_of(method, path.removeprefix(BEFORE), raw, schemas)
        for path, methods in sorted(whole["paths"].items())
        for method, raw in methods.items()
    )


def operation_of(method: str, path: str, raw: dict, schemas: dict) -> Operation:
    """Return one Operation of the schema."""
    query = tuple(
        Field(
            item["name"], kind_of(item["schema"]), item.get("description", ""),
            item.get("required", False),
        )
        for item in raw.get("parameters", [])
        if item["in"] == "query"
    )  # fmt: skip
    good = next((a for status, a in raw["responses"].items() if status.startswith("2")), {})
    return Operation(
        method=method.upper(),
        path=path,
        words=raw.get("description", "").strip(),
        query=query,
        body=fields_of(raw.get("requestBody", {}), schemas),
        answer=fields_of(good, schemas),
    )


def fields_of(holder: dict, schemas: dict) -> tuple[Field, ...]:
    """Return the Fields of the body that a part of the schema describes."""
    # A file is sent as a form, and comes as it is.
    kinds = holder.get("content", {})
    content = kinds.get("application/json") or next(iter(kinds.values()), {})
    schema = resolved(content.get("schema", {}), schemas)
    # A list comes in pages: its rows are what matters.
    if "results" in schema.get("properties", {}):
        schema = resolved(schema["properties"]["results"]["items"], schemas)
    needed = schema.get("required", [])
    return tuple(
        Field(name, kind_of(resolved(raw, schemas)), raw.get("description", ""), name in needed)
        for name, raw in schema.get("properties", {}).items()
    )


def resolved(schema: dict, schemas: dict) -> dict:
    """Return what a reference in the schema stands for."""
    inner = (schema.get("allOf") or schema.get("oneOf") or [{}])[0]
    place = schema.get("$ref") or inner.get("$ref")
    return schemas[place.rsplit("/", 1)[1]] if place else schema


def kind_of(schema: dict) -> str:
    """Say what a value is: its type, its format, its bounds and its choices."""
    kinds = schema.get("type", "")
    kind = " or ".join(kinds) if isinstance(kinds, list) else kinds
    if "format" in schema:
        kind = schema["format"]
    if "enum" in schema:
        return "one of " + ", ".join(str(value) for value in schema["enum"] if value)
    low, high = schema.get("minimum"), schema.get("maximum")
    bounds = f" {low:g} to {high:g}" if low is not None and high is not None else ""
    return f"{kind}{bounds}".strip()

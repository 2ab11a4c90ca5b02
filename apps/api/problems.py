"""What a refused call is answered with: problem details for HTTP APIs (RFC 9457)."""

from collections.abc import Collection, Mapping
from http import HTTPMethod, HTTPStatus

from django.core.exceptions import RequestDataTooBig
from rest_framework import serializers
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.response import Response
from rest_framework.settings import api_settings
from rest_framework.views import exception_handler

from apps.common.programs.idempotency import HEADER as KEY_HEADER
from apps.common.programs.versions import WRITE_HEADER

MEDIA_TYPE = "application/problem+json"
# So many names of what is wrong stand in the sentence; all stand in `errors`.
NAMED_MAX = 5
TOO_LARGE = "That is too much for one call. Send it in parts, or as a file."


class ProblemSerializer(serializers.Serializer):
    """Why a call was refused (RFC 9457)."""

    type = serializers.CharField(help_text="about:blank: the status says what kind it is.")
    title = serializers.CharField(help_text="The status in words.")
    status = serializers.IntegerField()
    detail = serializers.CharField(help_text="What is wrong, in one sentence.")
    code = serializers.CharField(required=False, help_text="The cause, for a program.")
    errors = serializers.DictField(
        required=False, help_text="What is wrong at each field: sentences, or as the body nests."
    )


def problem(status: int, detail: str) -> dict:
    """Return the problem details that a status alone makes, with a sentence."""
    title = HTTPStatus(status).phrase
    return {"type": "about:blank", "title": title, "status": status, "detail": detail}


class BodyTooLarge(APIException):
    status_code = HTTPStatus.REQUEST_ENTITY_TOO_LARGE.value
    default_detail = TOO_LARGE
    default_code = "too_large"


def answer_problem(exc: Exception, context: Mapping) -> Response | None:
    """Return the Response to an exception as problem details; None for what is no refusal."""
    if isinstance(exc, RequestDataTooBig):
        exc = BodyTooLarge()
    response = exception_handler(exc, context)
    if response is None:
        return None
    response.data = problem(response.status_code, "") | contents(exc, response.data)
    response.content_type = MEDIA_TYPE
    return response


def contents(exc: Exception, data: object) -> dict:
    """Return the detail of a problem, and the errors by field where there are any."""
    if isinstance(exc, ValidationError):
        errors = data if isinstance(data, dict) else {api_settings.NON_FIELD_ERRORS_KEY: data}
        return {"detail": in_one_sentence(errors), "code": "invalid", "errors": errors}
    detail = data["detail"]
    return {"detail": str(detail), "code": getattr(detail, "code", "error")}


def in_one_sentence(errors: Mapping) -> str:
    """Name the fields that are wrong; where it is the whole that is wrong, say why."""
    names = [str(name) for name in errors if name != api_settings.NON_FIELD_ERRORS_KEY]
    if not names:
        whole = errors.get(api_settings.NON_FIELD_ERRORS_KEY) or ["This can't be read."]
        return str(whole[0]) if isinstance(whole, list) else "This can't be read."
    more = f" and {len(names) - NAMED_MAX} more" if len(names) > NAMED_MAX else ""
    return f"Not valid: {', '.join(names[:NAMED_MAX])}{more}."


# Which refusals an operation may answer with, and the sentence of an example.
ALWAYS = {400: "Not valid: length_cm.", 401: "Invalid token.", 429: "Request was throttled."}
OF_A_TANK = {403: "You do not have permission to perform this action."}
# A list, too, has no page beyond its last.
OF_A_PLACE = {404: "Not found."}
OF_A_BODY = {413: TOO_LARGE, 415: 'Unsupported media type "text/plain" in request.'}
OF_A_WRITE = {409: "Someone saved other readings since you read these. Read the survey again."}
OF_A_STATE = {412: "It was changed since you read it. Read it again."}
OF_A_POST = {422: "This Idempotency-Key came before with other content. Use a new key."}


def document_problems(result: dict, generator: object, **kwargs: object) -> dict:
    """Add to a schema which problems each operation answers with, each with an example."""
    shown = ProblemSerializer()
    properties = {
        name: {"type": schema_type(field), "description": field.help_text}
        for name, field in shown.fields.items()
    }
    required = [name for name, field in shown.fields.items() if field.required]
    components = result.setdefault("components", {})
    components.setdefault("schemas", {})["Problem"] = {
        "type": "object",
        "description": ProblemSerializer.__doc__,
        "properties": properties,
        "required": required,
    }
    every = ALWAYS | OF_A_TANK | OF_A_PLACE | OF_A_BODY | OF_A_WRITE | OF_A_STATE | OF_A_POST
    components["responses"] = {f"Problem{at}": documented(at, text) for at, text in every.items()}
    for path, operations in result["paths"].items():
        for method, operation in operations.items():
            headers = {item["name"] for item in operation.get("parameters", [])}
            for status in statuses_of(path, HTTPMethod(method.upper()), headers):
                place = {"$ref": f"#/components/responses/Problem{status}"}
                operation["responses"].setdefault(str(status), place)
    return result


def schema_type(field: serializers.Field) -> str:
    """Return the JSON type of a field of a problem."""
    kinds = {serializers.IntegerField: "integer", serializers.DictField: "object"}
    return kinds.get(type(field), "string")


def statuses_of(path: str, method: HTTPMethod, headers: Collection[str]) -> list[int]:
    """Return the statuses of the problems that an operation may answer with.

    `headers` are the names of what it is told beside its body.
    """
    reads = method in (HTTPMethod.GET, HTTPMethod.HEAD)
    # A token may be one to read alone.
    statuses = ALWAYS | (OF_A_TANK if "{" in path or not reads else {})
    if reads or "{" in path:
        statuses |= OF_A_PLACE
    if not reads:
        statuses |= OF_A_BODY | OF_A_WRITE
    if WRITE_HEADER in headers:
        statuses |= OF_A_STATE
    if KEY_HEADER in headers:
        statuses |= OF_A_POST
    return sorted(statuses)


def documented(status: int, detail: str) -> dict:
    """Return the response of a problem as a schema has it, with an example."""
    example = problem(status, detail)
    if status == HTTPStatus.BAD_REQUEST:
        sentence = "Must be at most 1000."
        example |= {"code": "invalid", "errors": {"length_cm": [sentence]}}
    schema = {"$ref": "#/components/schemas/Problem"}
    return {
        "description": HTTPStatus(status).phrase,
        "content": {MEDIA_TYPE: {"schema": schema, "example": example}},
    }

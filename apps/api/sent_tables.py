"""Tables that programs send to be imported: as text in JSON, or as a file in a form."""

import re
from collections.abc import Mapping, Sequence
from typing import ClassVar

from django import forms
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.parsers import MultiPartParser

from apps.api.parsing import ShallowJSONParser
from apps.common.numbers import shorten
from apps.common.programs.idempotency import OnceMixin
from apps.common.programs.serializers import RefusesUnknown, StorableJSONField
from apps.common.tables.reading import BadLine

# Of the lines that can't be read so many are answered, and so much of each.
REFUSED_MAX, LINE_CHARS = 100, 200
# As many as there may be names in the longest table, and more.
ANSWERS_MAX = 2_000
LOOKED_AT = "Nothing is stored. You must be allowed to add it, with a token that may write."
A_JOB = (
    "What takes longer than about a second becomes a job: the answer is "
    "202, and `Location` says where to follow it. "
)
NOT_READ = "This table is not read yet, or no longer kept. Follow its job."
# What says which rows of a choice there are; left out is as good as "".
Said = Mapping[str, object]


class RefusedLineSerializer(serializers.Serializer):
    """A line that can't be read, and why."""

    number = serializers.IntegerField()
    text = serializers.CharField()
    problem = serializers.CharField()


class TextTable(serializers.Serializer):
    """A table as text."""

    text = serializers.CharField(
        trim_whitespace=False,
        help_text="The lines of the table, with cells separated by tabs, semicolons or commas.",
    )


class FileTable(serializers.Serializer):
    """A table as a file."""

    file = serializers.FileField(allow_empty_file=True, help_text="CSV, xlsx or ods.")
    file_sheet = serializers.CharField(
        required=False,
        max_length=100,
        help_text="The sheet of a workbook, if not the first.",
    )


class SentTableSerializer(RefusesUnknown, serializers.Serializer):
    """A table with what is said of it, as the form of its page reads it."""

    form_class: ClassVar[type[forms.Form]]

    def form_data(self, attrs: Said) -> dict[str, object]:
        """Return what the form of the page is sent."""
        return {name: value for name, value in attrs.items() if name != "file"}

    def validate(self, attrs: dict) -> dict:
        files = {"file": attrs["file"]} if "file" in attrs else {}
        form = self.form_class(self.form_data(attrs), files)
        if not form.is_valid():
            errors = {name: list(texts) for name, texts in form.errors.items()}
            raise serializers.ValidationError(errors)
        return attrs | {"form": form}


class AnswersField(StorableJSONField):
    """An object of {what is asked: the answer}; in a form it comes as JSON.

    `answers` are those there are, or `pattern` what each must match; `keys` what each key must.
    """

    default_error_messages: ClassVar[dict[str, str]] = {
        "object": "Send an object of names and answers.",
        "many": f"At most {ANSWERS_MAX} answers, please.",
        "key": "There is no “{}” to answer.",
        "answer": "“{}” is not a valid answer here.",
    }

    def __init__(
        self, *, answers: Sequence[str] = (), pattern: str = "", keys: str = "", **kwargs: object
    ) -> None:
        self.answers, self.keys = answers, keys
        self.pattern = pattern or f"^({'|'.join(map(re.escape, answers))})$"
        said = {"enum": list(answers)} if answers else {"pattern": pattern}
        schema = {"type": "object", "additionalProperties": {"type": "string"} | said}
        schema |= {"maxProperties": ANSWERS_MAX}
        extend_schema_field(schema | ({"propertyNames": {"pattern": keys}} if keys else {}))(self)
        super().__init__(required=False, **kwargs)

    def to_internal_value(self, data: object) -> dict[str, str]:
        said = super().to_internal_value(data)
        if not isinstance(said, dict):
            self.fail("object")
        if len(said) > ANSWERS_MAX:
            self.fail("many")
        for key, answer in said.items():
            if self.keys and not re.fullmatch(self.keys, key):
                raise serializers.ValidationError(self.error_messages["key"].format(shorten(key)))
            if not (isinstance(answer, str) and re.fullmatch(self.pattern, answer)):
                words = self.error_messages["answer"].format(shorten(str(answer)))
                raise serializers.ValidationError(words)
        return said


class SentTableMixin(OnceMixin):
    """Before a viewset that reads tables of either kind."""

    parser_classes: ClassVar[Sequence[type]] = [ShallowJSONParser, MultiPartParser]
    text_serializer: type[SentTableSerializer]
    file_serializer: type[SentTableSerializer]

    def sent(self) -> dict:
        """Return what was sent with its `form`, or raise ValidationError."""
        is_file = (self.request.content_type or "").startswith("multipart/")
        kind = self.file_serializer if is_file else self.text_serializer
        serializer = kind(data=self.request.data, context=self.get_serializer_context())
        serializer.is_valid(raise_exception=True)
        return serializer.validated_data


def either(text: type, file: type) -> dict[str, type]:
    """Return the request of a schema that takes a table of either kind."""
    return {"application/json": text, "multipart/form-data": file}


def refused(lines: Sequence[BadLine]) -> list[dict[str, object]]:
    """Return the first lines that can't be read, as they are answered."""
    return [
        {"number": line.number, "text": line.text[:LINE_CHARS], "problem": line.problem}
        for line in lines[:REFUSED_MAX]
    ]

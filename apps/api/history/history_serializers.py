"""A tank's history as a table in JSON: what is said of it, what it holds, what became of it."""

import re

from rest_framework import serializers

from apps.api.sent_tables import (
    AnswersField,
    FileTable,
    RefusedLineSerializer,
    Said,
    SentTableSerializer,
    TextTable,
)
from apps.common.tables.date_order import DateOrder
from apps.common.units import UNIT_CHOICES
from apps.corals.history.columns import EVERY_ROLE, plain_name
from apps.corals.history.entries import OUT, WORDS
from apps.corals.history.forms import HistoryForm
from apps.corals.history.sent import SentTable
from apps.corals.history.spellings import plain_words
from apps.corals.history.table import Answers
from apps.corals.history_models import ADDED, HistoryImport
from apps.corals.models import Coral, HealthNote
from apps.photics.ground.lengths import CM

COLUMN, UNIT = r"^[0-9]{1,2}$", r"^[^\n]{0,20}$"
NEW_CORAL = f"new:({'|'.join(map(re.escape, Coral.Group.values))})?"
NAMED, OF_THE_REST = rf"^([0-9]{{1,9}}|{NEW_CORAL}|{OUT})$", rf"^({NEW_CORAL}|{OUT})$"
EARLIER_MAX = 1_000
ORDERS = [(order.value, f"{order.value} first") for order in DateOrder]


class HistoryTableSerializer(SentTableSerializer):
    """What is said of a table of history beside its lines. What is left out is guessed or asked."""

    form_class = HistoryForm

    dates = serializers.ChoiceField(
        ORDERS,
        required=False,
        help_text="What comes first in dates such as 3/4/2026, if no line makes it clear.",
    )
    unit = serializers.ChoiceField(
        UNIT_CHOICES,
        required=False,
        help_text="The unit of lengths that have none; cm if left out.",
    )
    columns = AnswersField(
        answers=["", *EVERY_ROLE],
        keys=COLUMN,
        help_text="What each column holds, by its number from 0; empty leaves the column out.",
    )
    units = AnswersField(
        pattern=UNIT,
        keys=COLUMN,
        help_text="The unit of each column of water values, by its number.",
    )
    names = AnswersField(
        pattern=NAMED,
        help_text="Which coral each name means: its `id`, `new:` with a group for a new "
        "one, or `out` to leave its lines out.",
    )
    other_names = serializers.RegexField(
        OF_THE_REST,
        required=False,
        help_text="The answer for all other unknown names: `new:` with a group, or `out`.",
    )
    signs = AnswersField(
        answers=[*HealthNote.Seen.values, WORDS, OUT],
        help_text="What each word means: a sign, `words` to keep it as words, or `out`.",
    )
    conditions = AnswersField(
        answers=[*map(str, HealthNote.Condition.values), WORDS, OUT],
        help_text="Which condition each word means, from 0 to 5 as in a note; or "
        "`words`, or `out`.",
    )
    earlier = serializers.ListField(
        child=serializers.IntegerField(min_value=1),
        required=False,
        max_length=EARLIER_MAX,
        help_text="Corals, by `id`, that were in the tank before their arrival day on record.",
    )

    def form_data(self, attrs: Said) -> dict[str, object]:
        known = {n: attrs[n] for n in ("text", "file_sheet", "dates") if n in attrs}
        return known | {"unit": attrs.get("unit", CM)}

    def validate(self, attrs: dict) -> dict:
        attrs = super().validate(attrs)
        form: HistoryForm = attrs["form"]
        answers = answers_of(attrs, form)
        table = SentTable(form.whole_text(), answers, form.source_name(), form.sheet_words())
        return {"form": form, "table": table}


def answers_of(attrs: Said, form: HistoryForm) -> Answers:
    """Return what is said of a table, as its page says it."""

    def by(name: str, key: type | object = str) -> dict:
        return {key(word): answer for word, answer in attrs.get(name, {}).items()}

    return Answers(
        roles=by("columns", int),
        units={at: unit.strip() for at, unit in by("units", int).items()},
        dates=form.cleaned_data["dates"],
        length_unit=form.cleaned_data["unit"],
        names=by("names", plain_name),
        names_rest=str(attrs.get("other_names", "")),
        signs=by("signs", plain_words),
        conditions=by("conditions", plain_words),
        earlier=frozenset(attrs.get("earlier", ())),
    )


class HistoryTextSerializer(TextTable, HistoryTableSerializer):
    """History as the text of a table."""


class HistoryFileSerializer(FileTable, HistoryTableSerializer):
    """History as a file."""


class HistoryColumnSerializer(serializers.Serializer):
    """A column of a table of history."""

    index = serializers.IntegerField(help_text="The first is 0.")
    name = serializers.CharField(help_text="Its heading, or its number.")
    samples = serializers.ListField(child=serializers.CharField())
    holds = serializers.CharField(source="role", help_text="Empty if it is left out.")
    unit = serializers.CharField(help_text="The unit of its water values.")


class NamedCoralSerializer(serializers.Serializer):
    """A coral of the tank, or a new one."""

    id = serializers.IntegerField(source="pk", allow_null=True, help_text="Null for a new one.")
    name = serializers.CharField()
    group = serializers.CharField()
    since = serializers.DateField()


class EntrySerializer(serializers.Serializer):
    """An entry that would be added."""

    day = serializers.DateField()
    words = serializers.CharField()


class KindSerializer(serializers.Serializer):
    """The entries of one kind that a table holds."""

    kind = serializers.ChoiceField([(kind, kind) for kind in ADDED])
    new = serializers.IntegerField()
    known = serializers.IntegerField(help_text="In the tank already, and left out.")
    entries = EntrySerializer(many=True, help_text="The first of the new ones.")


class NameQuestionSerializer(serializers.Serializer):
    """A name that fits no coral in the tank, or several: answer in `names`."""

    key = serializers.CharField()
    name = serializers.CharField()
    count = serializers.IntegerField(help_text="Lines.")
    since = serializers.DateField()
    likely = NamedCoralSerializer(many=True)
    answer = serializers.CharField()


class ArrivalSerializer(serializers.Serializer):
    """A coral that the table mentions before its arrival day on record: answer in `earlier`."""

    coral = NamedCoralSerializer()
    first = serializers.DateField(help_text="The first day that the table mentions it.")
    stated = serializers.DateField(help_text="Its arrival day on record.")
    count = serializers.IntegerField(help_text="Lines before that day.")
    is_earlier = serializers.BooleanField(help_text="You confirmed that it came earlier.")
    problem = serializers.CharField(help_text="Why it can’t have come earlier.")


class WordQuestionSerializer(serializers.Serializer):
    """A word whose meaning is not clear: answer in `signs` or `conditions`."""

    key = serializers.CharField()
    word = serializers.CharField()
    count = serializers.IntegerField(help_text="Lines.")
    answer = serializers.CharField()


class ReadHistorySerializer(serializers.Serializer):
    """What a table of history holds, and what it asks you."""

    problem = serializers.CharField(
        help_text="What you must answer before any line can be read. Empty if nothing."
    )
    sheet = serializers.CharField(help_text="Which sheet was read, where the file has several.")
    title = serializers.ListField(
        child=serializers.CharField(), help_text="Lines above the headings, which are not read."
    )
    columns = HistoryColumnSerializer(many=True)
    kinds = KindSerializer(many=True)
    new = serializers.IntegerField(help_text="Entries that would be added.")
    known = serializers.IntegerField(help_text="Entries the tank has already.")
    new_corals = NamedCoralSerializer(many=True, help_text="Corals that would be added.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read.")
    refused = RefusedLineSerializer(many=True, help_text="The first of them.")
    waiting = serializers.IntegerField(help_text="Lines that wait for an answer.")
    names = NameQuestionSerializer(many=True)
    arrivals = ArrivalSerializer(many=True)
    signs = WordQuestionSerializer(many=True)
    conditions = WordQuestionSerializer(many=True)


class HistoryImportSerializer(serializers.ModelSerializer):
    """An import of history. Deleting it deletes all it added."""

    by = serializers.CharField(
        source="created_by.shown_name", read_only=True, default="", help_text="Who imported it."
    )
    added = serializers.DictField(
        source="counts",
        child=serializers.IntegerField(),
        read_only=True,
        help_text="How many rows of each kind it added.",
    )

    class Meta:
        model = HistoryImport
        fields = ["id", "made_at", "source", "by", "added"]
        read_only_fields = fields


class AddedHistorySerializer(serializers.Serializer):
    """What became of a table of history."""

    added = HistoryImportSerializer(allow_null=True, help_text="Null where nothing was new.")
    known = serializers.IntegerField(help_text="Entries the tank had already.")
    bad = serializers.IntegerField(help_text="Lines that can’t be read and were left out.")
    refused = RefusedLineSerializer(many=True, help_text="The first of them.")
    waiting = serializers.IntegerField(help_text="Lines that wait for an answer.")


def read_history_row(shown: Said, sheet: str) -> dict[str, object]:
    """Return a preview of a table as it is answered."""
    kinds = [dict(kind) | {"entries": entries_of(kind)} for kind in shown["kinds"]]
    return dict(shown) | {"sheet": sheet, "kinds": kinds, "refused": shown["bad_shown"]}


def entries_of(kind: Said) -> list[dict[str, object]]:
    return [{"day": day, "words": words} for day, words in (*kind["first"], *kind["more"])]

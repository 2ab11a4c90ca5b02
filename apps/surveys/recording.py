"""Saving a survey's readings as a whole, so that no two saves mix and each can be taken back."""

import uuid
from collections import Counter
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import asdict, dataclass, field
from typing import TypedDict

from django.core.exceptions import ValidationError
from django.db import transaction
from django.db.models import Max
from django.shortcuts import get_object_or_404

from apps.accounts.models import User
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import Reading, Survey, SurveyRevision

# {index of a row: {field: [sentence]}}
ByRow = Mapping[int, Mapping[str, Sequence[str]]]
FIELDS = ("x_cm", "y_cm", "depth_cm", "value_umol", "spread_umol")


@dataclass(frozen=True)
class ReadingRow:
    """One reading as it is to stand: a point [cm], the raw value and spread [umol m-2 s-1]."""

    x_cm: float
    y_cm: float
    depth_cm: float
    value_umol: float
    spread_umol: float | None = None
    client_id: uuid.UUID = field(default_factory=uuid.uuid4)


class StoredRow(TypedDict):
    """A reading as a revision keeps it."""

    x_cm: float
    y_cm: float
    depth_cm: float
    value_umol: float
    spread_umol: float | None
    client_id: str


class StaleSurvey(Exception):
    """Someone saved other readings since these were opened; nothing was written."""

    def __init__(self, survey: Survey) -> None:
        super().__init__(f"{survey} is at save {survey.version} by now.")
        self.survey = survey


class NothingToUndo(Exception):
    """The survey was never saved before, so there is nothing to bring back."""


class InvalidRows(ValidationError):
    """Some rows break the model's contract. `by_row` is {index: {field: [sentence]}}."""

    def __init__(self, by_row: ByRow, whole: Sequence[str] = ()) -> None:
        sentences_by_row = [
            f"Row {index + 1}: {' '.join(sentences)}"
            for index, errors in by_row.items()
            for sentences in errors.values()
        ]
        super().__init__([*whole, *sentences_by_row])
        self.by_row = by_row


@transaction.atomic
def save_readings(
    *, survey: Survey, rows: Iterable[ReadingRow], expected_version: int, by: User
) -> Survey:
    """Make `rows` (of ReadingRow, in order) the survey's readings and return the survey.

    What stood before is kept as a SurveyRevision. Sending the same rows again changes
    nothing, whatever version is expected. Raises StaleSurvey when the survey was saved
    since `expected_version`, and InvalidRows (a ValidationError) when a row is unsound.
    """
    held = lock_survey(survey)
    readings = _checked(held, list(rows))
    if _facts(readings) == _facts(held.readings.all()):
        return held
    if held.version != expected_version:
        raise StaleSurvey(held)
    _replace(held, readings, by=by)
    return held


@transaction.atomic
def undo_last_save(*, survey: Survey, by: User, expected_version: int | None = None) -> Survey:
    """Bring back the readings as they stood before the last save, and return the survey.

    Undoing is a save like any other, so undoing again brings the newer readings back.
    Raises NothingToUndo, and StaleSurvey when `expected_version` is given and passed.
    """
    held = lock_survey(survey)
    if expected_version is not None and held.version != expected_version:
        raise StaleSurvey(held)
    revision = held.last_revision()
    if revision is None:
        raise NothingToUndo
    # Not checked again: what was sound when saved comes back even if the tank shrank since.
    _replace(held, [_reading(held, row, i) for i, row in _numbered(revision.rows)], by=by)
    return held


def rows_of(survey: Survey) -> list[ReadingRow]:
    """Return the survey's readings as ReadingRows, in order."""
    return [_row(reading) for reading in survey.readings.all()]


def lock_survey(survey: Survey) -> Survey:
    """Return the survey, locked until the transaction ends; raises Http404 where it is gone."""
    rows = Survey.objects.select_for_update(of=("self",), no_key=True).select_related("tank")
    held: Survey = get_object_or_404(rows, pk=survey.pk)
    return held


def _row(reading: Reading) -> ReadingRow:
    return ReadingRow(
        client_id=reading.client_id, **{name: getattr(reading, name) for name in FIELDS}
    )


def _numbered(stored: Iterable[StoredRow]) -> Iterator[tuple[int, ReadingRow]]:
    for position, row in enumerate(stored, start=1):
        yield (
            position,
            ReadingRow(
                x_cm=row["x_cm"],
                y_cm=row["y_cm"],
                depth_cm=row["depth_cm"],
                value_umol=row["value_umol"],
                spread_umol=row.get("spread_umol"),
                client_id=uuid.UUID(row["client_id"]),
            ),
        )


def _checked(survey: Survey, rows: Sequence[ReadingRow]) -> list[Reading]:
    """Return the rows as unsaved Readings of the survey, or raise InvalidRows."""
    if len(rows) > SURVEY_READINGS_MAX:
        raise InvalidRows(
            {},
            [f"A survey holds {SURVEY_READINGS_MAX:,} readings at most; this has {len(rows):,}."],
        )
    readings = [_reading(survey, row, position) for position, row in enumerate(rows, start=1)]
    by_row = {i: errors for i, r in enumerate(readings) if (errors := problems_of(r))}
    for i in _repeated(rows):
        by_row.setdefault(i, {})["client_id"] = ["This row's mark belongs to another reading."]
    if by_row:
        raise InvalidRows(by_row)
    return readings


def _reading(survey: Survey, row: ReadingRow, position: int) -> Reading:
    return Reading(survey=survey, position=position, **asdict(row))


def problems_of(reading: Reading) -> dict[str, list[str]]:
    """Return {field: [sentence]} of what the model's contract says against a reading."""
    # Uniqueness and constraints would ask the database for each row. The first is seen to for
    # all at once in _repeated; the constraints' bounds are in clean(), and the database holds
    # them besides.
    try:
        reading.full_clean(exclude=["survey"], validate_unique=False, validate_constraints=False)
    except ValidationError as problem:
        return problem.message_dict
    return {}


def _repeated(rows: Sequence[ReadingRow]) -> list[int]:
    """Return the indexes of rows whose client id stands twice."""
    counts = Counter(row.client_id for row in rows)
    return [i for i, row in enumerate(rows) if counts[row.client_id] > 1]


def _facts(readings: Iterable[Reading]) -> list[tuple[object, ...]]:
    return [(r.client_id, *(getattr(r, name) for name in FIELDS)) for r in readings]


def keep_before(survey: Survey, *, by: User, device: str = "") -> list[Reading]:
    """Store the readings as they stand as a SurveyRevision, for undo, and return them."""
    standing = list(survey.readings.all())
    before = [
        {name: getattr(r, name) for name in FIELDS} | {"client_id": str(r.client_id)}
        for r in standing
    ]
    SurveyRevision.objects.create(
        survey=survey, version=survey.version, rows=before, replaced_by=by, device=device
    )
    return standing


def _replace(survey: Survey, readings: Sequence[Reading], *, by: User) -> None:
    _count_changes(survey, readings, standing=keep_before(survey, by=by))
    kept = [reading.client_id for reading in readings]
    survey.readings.exclude(client_id__in=kept).delete()
    write_rows(readings)
    survey.version += 1
    survey.save(update_fields=["version"])


def write_rows(readings: Sequence[Reading]) -> None:
    """Insert or change Readings of a survey by their client id."""
    Reading.objects.bulk_create(
        readings,
        update_conflicts=True,
        unique_fields=["survey", "client_id"],
        update_fields=["position", *FIELDS, "revision", "device"],
    )


def _count_changes(
    survey: Survey, readings: Iterable[Reading], *, standing: Iterable[Reading]
) -> None:
    """Give each changed row a revision above all that is known of it, devices' edits included."""
    by_id = {reading.client_id: reading for reading in standing}
    edited = dict(survey.edits.values_list("point").annotate(Max("revision")).order_by())
    for reading in readings:
        old = by_id.get(reading.client_id)
        if old and _facts([old]) == _facts([reading]):
            reading.revision, reading.device = old.revision, old.device
            continue
        known = [edited.get(reading.client_id, -1), old.revision if old else -1]
        reading.revision = max(known) + 1

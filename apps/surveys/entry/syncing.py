"""Taking in what devices kept while they were on their own: each edit once, none lost.

An edit carries its own id, so sending it again changes nothing. For each point the edit with the
highest (revision, device) stands, whatever order edits arrive in; no clock has a say. A device
that changes a reading gives it one revision more than it knows of, so what was seen is followed
by what replaced it. Edits that do not stand are stored all the same.
"""

import uuid
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass

from django.db import transaction
from django.db.models import Model, QuerySet

from apps.accounts.models import User
from apps.common.devices.edits import (
    Taken,
    UnreadableEdits,
    read_batch,
    read_count,
    read_id,
    read_list,
    read_number,
    read_text,
)
from apps.photics.limits import SURVEY_READINGS_MAX
from apps.surveys.models import PlannedPoint, Reading, ReadingEdit, Survey
from apps.surveys.recording import (
    FIELDS,
    ReadingRow,
    keep_before,
    lock_survey,
    problems_of,
    write_rows,
)

# Which of two edits stands: the one of the higher (revision, device).
Rank = tuple[int, str]
# Readings by their client id.
ByMark = Mapping[uuid.UUID, Reading]
# An edit is one tap: no honest count comes near these, and a column holds them.
COUNT_MAX = 1_000_000
EDITS_A_BATCH = 500
BURST_VALUES_MAX = 100
DEVICE_CHARS_MAX = 36
NO_ID = "An edit and its point each have an id."
NO_NUMBER = "{} is no number."
NO_BURST = f"A burst is a list of at most {BURST_VALUES_MAX} values."
NO_COUNT = f"{{}} counts from 0 to {COUNT_MAX}."


@dataclass(frozen=True)
class SentEdit:
    """One edit as a device sent it; `row` is None where a reading was taken back."""

    client_id: uuid.UUID
    point: uuid.UUID
    device: str
    sequence: int
    revision: int
    row: ReadingRow | None
    burst: tuple[float, ...] = ()

    @property
    def rank(self) -> Rank:
        return self.revision, self.device


def read_edits(sent: object) -> list[SentEdit]:
    """Return the SentEdits of a decoded JSON body, or raise UnreadableEdits."""
    device = sent.get("device") if isinstance(sent, dict) else None
    edits = sent.get("edits") if isinstance(sent, dict) else None
    if not isinstance(device, str) or not 0 < len(device) <= DEVICE_CHARS_MAX:
        raise UnreadableEdits("The device has no name.")
    read_text(device, problem="The device’s name holds a character that can’t be stored.")
    batch = read_batch(edits, most=EDITS_A_BATCH, noun="edits", one="An edit")
    return [_read_edit(edit, device) for edit in batch]


def _read_edit(edit: Mapping[str, object], device: str) -> SentEdit:
    client_id, point = (read_id(edit.get(name), problem=NO_ID) for name in ("id", "point"))
    # A spread may be missing, whatever else is there must be a number.
    given = [name for name in FIELDS if name != "spread_umol" or edit.get(name) is not None]
    row = None
    if edit.get("removed") is not True:
        numbers = {
            name: read_number(edit.get(name), problem=NO_NUMBER.format(name)) for name in given
        }
        row = ReadingRow(client_id=point, **numbers)
    burst = read_list(edit.get("burst"), most=BURST_VALUES_MAX, problem=NO_BURST)
    return SentEdit(
        client_id=client_id,
        point=point,
        device=device,
        **{
            name: read_count(edit.get(name), most=COUNT_MAX, problem=NO_COUNT.format(name))
            for name in ("sequence", "revision")
        },
        row=row,
        burst=tuple(read_number(value, problem=NO_NUMBER.format("burst")) for value in burst),
    )


@transaction.atomic
def take_edits(*, survey: Survey, edits: Sequence[SentEdit], by: User) -> Taken:
    """Store SentEdits of one device, let the newest of each point stand, and return what Taken."""
    held = lock_survey(survey)
    taken = Taken()
    fresh = _not_seen(held, edits, taken)
    readings = {reading.client_id: reading for reading in held.readings.all()}
    standing = _standing(held, fresh, readings)
    stored: list[SentEdit] = []
    winners: dict[uuid.UUID, SentEdit] = {}
    room = SURVEY_READINGS_MAX - len(readings)
    for edit in fresh:
        problem = _problem(held, edit)
        # Conservative: an edit that takes a reading back in this same batch makes no room.
        is_new = edit.row and edit.point not in readings and edit.point not in winners
        if not problem and is_new and room <= 0:
            problem = f"A survey holds {SURVEY_READINGS_MAX:,} readings at most."
        if problem:
            taken.refused[edit.client_id] = problem
            continue
        stored.append(edit)
        if edit.rank > standing.get(edit.point, (-1, "")):
            room -= bool(is_new)
            standing[edit.point] = edit.rank
            winners[edit.point] = edit
    _store(held, stored, winners, readings, by=by)
    taken.accepted += [edit.client_id for edit in stored]
    return taken


def _not_seen(survey: Survey, edits: Sequence[SentEdit], taken: Taken) -> list[SentEdit]:
    """Return the edits in their device's order that were never stored; replays are accepted."""
    ids = [edit.client_id for edit in edits]
    seen = dict(by_mark(ReadingEdit, ids).values_list("client_id", "survey"))
    points = {edit.point for edit in edits}
    foreign: set[uuid.UUID] = set()
    for model in (Reading, PlannedPoint):
        others = by_mark(model, points).exclude(survey=survey)
        foreign |= set(others.values_list("client_id", flat=True))
    fresh: dict[uuid.UUID, SentEdit] = {}
    for edit in sorted(edits, key=lambda e: e.sequence):
        if seen.get(edit.client_id, survey.pk) != survey.pk or edit.point in foreign:
            taken.refused[edit.client_id] = "This reading's mark belongs to another survey."
        elif edit.client_id in seen:
            taken.accepted.append(edit.client_id)
        else:
            fresh[edit.client_id] = edit
    return list(fresh.values())


def by_mark(model: type[Model], marks: Iterable[uuid.UUID]) -> QuerySet:
    """Return the rows of a model with these client ids, of all surveys, in no order.

    All keepers' rows are searched, so it must be served by an index whatever their number.
    """
    return model.objects.filter(client_id__in=marks).order_by()


def _standing(survey: Survey, edits: Iterable[SentEdit], readings: ByMark) -> dict[uuid.UUID, Rank]:
    """Return the (revision, device) that stands at each point, taken-back readings included."""
    points = [edit.point for edit in edits]
    ranks: dict[uuid.UUID, Rank] = {}
    known = survey.edits.filter(point__in=points).values_list("point", "revision", "device")
    for point, *rank in known:
        ranks[point] = max(ranks.get(point, (-1, "")), tuple(rank))
    # A row that is there was written last, by a device's edit or by the table.
    return ranks | {point: (r.revision, r.device) for point, r in readings.items()}


def _problem(survey: Survey, edit: SentEdit) -> str:
    """Return why an edit cannot become a reading of the survey, or an empty text."""
    if edit.row is None:
        return ""
    problems = problems_of(Reading(survey=survey, position=1, **asdict(edit.row)))
    return " ".join(sentence for sentences in problems.values() for sentence in sentences)


def _store(
    survey: Survey,
    edits: Sequence[SentEdit],
    winners: Mapping[uuid.UUID, SentEdit],
    readings: ByMark,
    *,
    by: User,
) -> None:
    if not edits:
        return
    device = edits[0].device
    if winners:
        last = survey.last_revision()
        if last is None or last.device != device:
            keep_before(survey, by=by, device=device)
    ReadingEdit.objects.bulk_create(_as_stored(survey, edit, by=by) for edit in edits)
    if winners:
        _apply(survey, winners, readings)
        survey.version += 1
        survey.save(update_fields=["version"])


def _as_stored(survey: Survey, edit: SentEdit, *, by: User) -> ReadingEdit:
    return ReadingEdit(
        survey=survey,
        client_id=edit.client_id,
        point=edit.point,
        device=edit.device,
        sequence=edit.sequence,
        revision=edit.revision,
        row={name: getattr(edit.row, name) for name in FIELDS} if edit.row else None,
        burst=list(edit.burst),
        sent_by=by,
    )


def _apply(survey: Survey, winners: Mapping[uuid.UUID, SentEdit], readings: ByMark) -> None:
    last = max((reading.position for reading in readings.values()), default=0)
    rows = []
    for edit in winners.values():
        if edit.row is None:
            continue
        old = readings.get(edit.point)
        last += old is None
        rows.append(
            Reading(
                survey=survey,
                position=old.position if old else last,
                revision=edit.revision,
                device=edit.device,
                **asdict(edit.row),
            )
        )
    gone = [point for point, edit in winners.items() if edit.row is None]
    survey.readings.filter(client_id__in=gone).delete()
    write_rows(rows)


def state_of(survey: Survey) -> list[dict[str, object]]:
    """Return what a device needs to know of every point, as plain values for JSON.

    Points that were taken back by a device come too, so that no other device revives them.
    """
    points = {
        str(r.client_id): {"revision": r.revision, "device": r.device}
        | {name: getattr(r, name) for name in FIELDS}
        for r in survey.readings.all()
    }
    gone = survey.edits.filter(row__isnull=True).order_by("revision", "device")
    for point, revision, device in gone.values_list("point", "revision", "device"):
        if points.get(str(point), {"removed": True}).get("removed"):
            points[str(point)] = {"revision": revision, "device": device, "removed": True}
    return [{"point": point, **state} for point, state in points.items()]

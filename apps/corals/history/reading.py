"""Reading a keeper's history: what a table would add to a tank, what it asks, what is refused."""

import datetime as dt
from collections.abc import Sequence
from dataclasses import dataclass, replace

from apps.common.tables.date_order import is_settled
from apps.common.tables.dates import read_moment, tells_time
from apps.common.tables.reading import BadLine, UnreadableTable
from apps.corals.history.entries import Entry, LineReader
from apps.corals.history.known import with_known
from apps.corals.history.naming import Arrival, Corals, NameQuestion, Unanswered
from apps.corals.history.table import Answers, HistoryTable, Line, read_table
from apps.corals.models import Coral
from apps.later.progress import Progress, unheard
from apps.photics.limits import HISTORY_ENTRIES_MAX
from apps.tanks.models import Tank

NO_DATE = "Say which column holds the date."
WHICH_DATES = "Every date can be read with the day first and with the month first. Choose which."
TOO_MANY = (
    f"That makes more than {HISTORY_ENTRIES_MAX:,} entries, too many for one import. Nothing was "
    "read. Leave out a column, or import a part of it."
)


@dataclass(frozen=True)
class SpellingQuestion:
    """A word of the table whose meaning has to be said: as written, how often, what was said."""

    key: str
    word: str
    count: int
    answer: str


@dataclass(frozen=True)
class ReadHistory:
    table: HistoryTable
    entries: tuple[Entry, ...] = ()
    bad: tuple[BadLine, ...] = ()
    waiting: tuple[BadLine, ...] = ()  # lines that an answer above would let in
    problem: str = ""  # what has to be said before any line can be read
    new_corals: tuple[Coral, ...] = ()
    names: tuple[NameQuestion, ...] = ()
    arrivals: tuple[Arrival, ...] = ()
    signs: tuple[SpellingQuestion, ...] = ()
    conditions: tuple[SpellingQuestion, ...] = ()

    @property
    def new(self) -> list[Entry]:
        return [entry for entry in self.entries if not entry.is_known]

    @property
    def corals_to_add(self) -> list[Coral]:
        """New corals that something of the table is about."""
        about = {id(entry.coral) for entry in self.new}
        return [coral for coral in self.new_corals if id(coral) in about]


def read_history(
    text: str, *, tank: Tank, answers: Answers | None = None, progress: Progress = unheard
) -> ReadHistory:
    """Return the ReadHistory of a text for a tank: nothing is written.

    `progress` hears how many of how many lines are read.

    Raises UnreadableTable where the text is no table or too long.
    """
    answers = answers or Answers()
    corals = Corals(tank, answers)
    table = read_table(text, corals=corals.by_name, answers=answers)
    date = table.first("date")
    if date is None:
        return ReadHistory(table, problem=NO_DATE)
    if table.order is None and not is_settled(line.cell(date) for line in table.lines):
        return ReadHistory(table, problem=WHICH_DATES)
    dated, undated = _dated(table, tank.zone)
    for moment, line in dated:
        _mention(table, line, corals, moment.astimezone(tank.zone).date())
    corals.settle()
    reader = LineReader(table, tank=tank, corals=corals, answers=answers)
    entries, refused = _read_all(reader, dated, progress)
    entries, conflicts = with_known(entries, tank=tank)
    bad = [row for row, waits in refused if not waits]
    return ReadHistory(
        table=table,
        entries=tuple(entries),
        bad=tuple(sorted([*undated, *bad, *conflicts], key=lambda line: line.number)),
        waiting=tuple(row for row, waits in refused if waits),
        new_corals=tuple(corals.new.values()),
        names=tuple(corals.questions()),
        arrivals=tuple(corals.arrivals.values()),
        signs=_questions(reader.unknown_signs, answers.signs),
        conditions=_questions(reader.unknown_conditions, answers.conditions),
    )


def _dated(
    table: HistoryTable, zone: dt.tzinfo
) -> tuple[list[tuple[dt.datetime, Line]], list[BadLine]]:
    """Return (moment, line) in order of time, and the lines whose date can't be read."""
    dated, bad = [], []
    for line in table.lines:
        text = f"{table.text(line, 'date')} {table.text(line, 'time')}".strip()
        if not text:
            bad.append(BadLine(line.number, line.text, "Has no date."))
            continue
        try:
            moment = read_moment(text, order=table.order, zone=zone)
            has_time = tells_time(text, order=table.order)
            dated.append((moment, replace(line, has_time=has_time)))
        except ValueError as problem:
            bad.append(BadLine(line.number, line.text, str(problem)))
    return sorted(dated, key=lambda pair: (pair[0], pair[1].number)), bad


def _mention(table: HistoryTable, line: Line, corals: Corals, day: dt.date) -> None:
    """Tell the Corals which of them a line names."""
    says_something = any(
        table.text(line, role) for role in ("seen", "condition", "text", "size", "x", "y", "depth")
    )
    if (name := table.text(line, "coral")) and says_something:
        corals.mention(name, day, group=group_of(table.text(line, "group")))
    for role in ("coral_notes", "coral_sizes"):
        for column in table.of_role(role):
            if line.cell(column):
                corals.mention(column.name, day)


def group_of(text: str) -> str:
    """Return the group that a cell names, "" for none."""
    said = text.casefold()
    return next((group.value for group in Coral.Group if said and group.value in said), "")


def _read_all(
    reader: LineReader, dated: Sequence[tuple[dt.datetime, Line]], progress: Progress
) -> tuple[list[Entry], list[tuple[BadLine, bool]]]:
    """Return all entries, and (line with what is wrong, whether it waits for an answer)."""
    entries: list[Entry] = []
    refused: list[tuple[BadLine, bool]] = []
    for done, (moment, line) in enumerate(dated):
        progress(done, len(dated), "lines")
        for result in reader.entries(line, moment):
            if isinstance(result, Entry):
                entries.append(result)
            else:
                waits = isinstance(result, Unanswered)
                refused.append((BadLine(line.number, line.text, str(result)), waits))
        if len(entries) > HISTORY_ENTRIES_MAX:
            raise UnreadableTable(TOO_MANY)
    return entries, refused


def _questions(
    unknown: dict[str, list[str]], answers: dict[str, str]
) -> tuple[SpellingQuestion, ...]:
    """Return the SpellingQuestions, those of most lines first."""
    questions = [
        SpellingQuestion(key, written[0], len(written), answers.get(key, ""))
        for key, written in unknown.items()
    ]
    return tuple(sorted(questions, key=lambda question: (-question.count, question.key)))

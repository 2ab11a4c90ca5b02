"""Writing what an import read from a table: behind a survey's readings, or in their place."""

import uuid
from dataclasses import astuple, replace

from django.db import transaction

from apps.accounts.models import User
from apps.surveys.models import Survey
from apps.surveys.recording import ReadingRow, lock_survey, rows_of, save_readings
from apps.surveys.tables.importing import ParsedTable


@transaction.atomic
def add_table(
    *, survey: Survey, parsed: ParsedTable, batch: uuid.UUID, replaces: int | None, by: User
) -> tuple[Survey, int]:
    """Save the good lines of a table and return (the survey, how many readings it holds).

    replaces: the version whose readings they take the place of; None adds them behind those.
    Added twice by one batch, a table's readings stand once. Raises StaleSurvey and InvalidRows.
    """
    rows = _marked(parsed, batch)
    if replaces is None:
        # As it stands now: a long table takes a while to read, and others may save meanwhile.
        survey = lock_survey(survey)
        # Sent twice, the same batch makes the same marks: the second adds nothing.
        new = {row.client_id for row in rows}
        rows = [row for row in rows_of(survey) if row.client_id not in new] + rows
    expected = survey.version if replaces is None else replaces
    return save_readings(survey=survey, rows=rows, expected_version=expected, by=by), len(rows)


def _marked(parsed: ParsedTable, batch: uuid.UUID) -> list[ReadingRow]:
    """Return the good rows with client ids by the batch, their place and what they hold.

    Another table sent with the same batch, as from a page gone back to, replaces nothing.
    """
    return [
        replace(line.row, client_id=uuid.uuid5(batch, f"{place} {astuple(line.row)[:-1]}"))
        for place, line in enumerate(parsed.good)
    ]

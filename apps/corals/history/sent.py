"""A table of history as it was sent: how large it is, and as a file that a job is given."""

import json
from collections.abc import Mapping
from dataclasses import asdict, dataclass, replace

from apps.common.tables.reading import USUAL_DELIMITERS
from apps.corals.history.table import Answers

# What takes about a second, by cells, empty ones too: of 32,000 cells 18,600 entries were read
# within 1.9 s, of 2,000 cells 1,160 entries were read and added within 0.7 s.
READ_AT_ONCE_CELLS, ADDED_AT_ONCE_CELLS = 15_000, 2_500


@dataclass(frozen=True)
class SentTable:
    """A table as it was sent, with what its keeper said of it."""

    text: str
    answers: Answers
    source: str = ""
    sheet_words: str = ""
    # What `preview` made of it, once a job has read it.
    preview: Mapping[str, object] | None = None

    @property
    def cells(self) -> int:
        """How many cells it has, a few more where words hold commas."""
        return self.text.count("\n") + 1 + max(map(self.text.count, USUAL_DELIMITERS))

    @property
    def is_long_to_read(self) -> bool:
        """Whether reading it takes more than about a second."""
        return self.cells > READ_AT_ONCE_CELLS

    @property
    def is_long_to_add(self) -> bool:
        """Whether adding it takes more than about a second."""
        return self.cells > ADDED_AT_ONCE_CELLS

    def stated(self) -> bytes:
        answers = asdict(self.answers) | {"earlier": sorted(self.answers.earlier)}
        return json.dumps({**vars(self), "answers": answers}).encode()


def read_sent(stated: bytes) -> SentTable:
    """Return the SentTable that was stated."""
    document = json.loads(stated)
    answers = Answers(**document.pop("answers"))
    # JSON knows no numbers as keys, and no sets.
    answers = replace(
        answers,
        roles={int(at): role for at, role in answers.roles.items()},
        units={int(at): unit for at, unit in answers.units.items()},
        earlier=frozenset(answers.earlier),
    )
    return SentTable(answers=answers, **document)

"""The unhappy corals of a report: their cases, those of one cause and one next step together."""

from collections.abc import Sequence
from dataclasses import dataclass

from apps.corals.models import Coral
from apps.outcomes.case.gathering import CaseBook
from apps.outcomes.case.page import CasePage, case_page
from apps.outcomes.case.trouble import Trouble

# Corals given with their case, and those named after them; more are counted.
CASES_MAX, NAMED_MAX = 4, 24


@dataclass(frozen=True)
class CaseGroup:
    """Cases that come to the same sentence and the same next step."""

    pages: tuple[CasePage, ...]

    @property
    def first(self) -> CasePage:
        return self.pages[0]


@dataclass(frozen=True)
class Unhappy:
    """A tank's unhappy corals, the most urgent first."""

    number: int
    groups: tuple[CaseGroup, ...]
    named: tuple[tuple[Coral, Trouble], ...]
    unnamed: int  # beyond those

    @property
    def corals(self) -> tuple[Coral, ...]:
        """The corals given with their case, in the order of the groups."""
        return tuple(page.case.coral for group in self.groups for page in group.pages)

    @property
    def further(self) -> int:
        """How many are given without a case."""
        return len(self.named) + self.unnamed


def unhappy_of(cases: CaseBook) -> Unhappy:
    """Return the Unhappy corals of a CaseBook."""
    corals = cases.unhappy
    first, rest = corals[:CASES_MAX], corals[CASES_MAX:]
    given = [case for coral in first if (case := cases.case_of(coral))]
    return Unhappy(
        number=len(corals),
        groups=grouped([case_page(case) for case in given]),
        named=tuple((coral, cases.troubles[coral.pk]) for coral in rest[:NAMED_MAX]),
        unnamed=len(rest[NAMED_MAX:]),
    )


def grouped(pages: Sequence[CasePage]) -> tuple[CaseGroup, ...]:
    """Return CasePages as CaseGroups, in the order of the first of each."""
    groups: dict[tuple[str, str], list[CasePage]] = {}
    for page in pages:
        groups.setdefault((page.sentence, page.step.words), []).append(page)
    return tuple(CaseGroup(tuple(some)) for some in groups.values())

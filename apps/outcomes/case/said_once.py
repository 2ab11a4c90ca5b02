"""What several cases of one page have in common, said once for all of them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from apps.outcomes.case.case_rules import NextStep
from apps.outcomes.case.case_words import count
from apps.outcomes.case.page import CasePage, StepLink

# Places of cases in a list.
Places = tuple[int, ...]


@dataclass(frozen=True)
class SaidOnce:
    """A sentence, a step or both that hold for several of the cases shown."""

    each: str  # before the sentence: "Each of the three", "Each of Frag 1 and Frag 2"
    whom: str  # before a step alone: "all three", "Frag 1 and Frag 2"
    sentence: str
    sure: CasePage | None  # one of the cases, where the sentence is as sure of all of them
    step: StepLink | None


def said_once(pages: Sequence[CasePage]) -> tuple[list[SaidOnce], list[CasePage]]:
    """Return what holds for several CasePages, and the pages without it."""
    sentences = repeated([page.sentence for page in pages])
    steps = repeated([page.step.words for page in pages])
    common = {words: common_step([pages[k].step for k in some]) for words, some in steps.items()}
    sure = {text: as_sure([pages[k] for k in some]) for text, some in sentences.items()}
    sentence_at = {some: text for text, some in sentences.items()}
    step_at = {some: common[words] for words, some in steps.items()}
    once = []
    for some in dict.fromkeys([*sentence_at, *step_at]):
        text = sentence_at.get(some, "")
        once.append(SaidOnce(*names_of(some, pages), text, sure.get(text), step_at.get(some)))
    return once, [without(page, sure, common) for page in pages]


def as_sure(pages: Sequence[CasePage]) -> CasePage | None:
    """Return the first of some CasePages where all are as sure as it."""
    first = pages[0]
    return first if all(page.how_sure == first.how_sure for page in pages) else None


def repeated(texts: Sequence[str]) -> dict[str, Places]:
    """Return {text: its Places} of the texts that come more than once."""
    places = {text: tuple(k for k, one in enumerate(texts) if one == text) for text in texts}
    return {text: some for text, some in places.items() if text and len(some) > 1}


def common_step(steps: Sequence[StepLink]) -> StepLink:
    """Return the step of several cases, without its button where it leads each elsewhere."""
    first = steps[0]
    if len({step.url for step in steps}) == 1:
        return first
    if first.key == NextStep.WATER:
        # One water for all: only what to test first differs.
        return replace(first, url=first.url.partition("?")[0])
    return replace(first, button="", url="")


def names_of(some: Places, pages: Sequence[CasePage]) -> tuple[str, str]:
    """Return what SaidOnce calls the cases at some Places."""
    if len(some) == len(pages):
        number = count(len(some))
        return f"Each of the {number}", "both" if number == "two" else f"all {number}"
    *others, last = [pages[k].case.coral.name for k in some]
    names = f"{', '.join(others)} and {last}"
    return f"Each of {names}", names


def without(
    page: CasePage, sure: Mapping[str, CasePage | None], common: Mapping[str, StepLink]
) -> CasePage:
    """Return a CasePage without what is said once; a step that leads elsewhere has its button."""
    once = common.get(page.step.words)
    step = page.step
    if once is not None:
        step = replace(step, words="", button="" if once.button else step.button)
    if page.sentence not in sure:
        return replace(page, step=step)
    how_sure = "" if sure[page.sentence] else page.how_sure
    return replace(page, sentence="", how_sure=how_sure, step=step)

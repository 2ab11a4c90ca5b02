"""What a verdict comes to in words, by every verdict and ground, and where its numbers lie."""

from types import SimpleNamespace

import pytest
from django.urls import reverse

from apps.outcomes.association.answer_words import (
    comes_to,
    in_common,
    in_one_sentence,
    means,
)
from apps.outcomes.association.answers import Answer
from apps.outcomes.association.events import Direction
from apps.photics.causes.association import ELSEWHERE, ENOUGH, POINTS, UNSURE
from apps.photics.causes.judgement import Ground
from tests.factories import make_coral, make_note

VERDICTS = (ENOUGH, POINTS, ELSEWHERE, UNSURE)


def judged(
    verdict, direction=Direction.LIGHTER, *, within=None, q=0.001, grounds=(), across="unclear",
    effect=0.8,
):  # fmt: skip
    result = SimpleNamespace(verdict=within or verdict, grounds=grounds, reason="One is too few.")
    figures = not grounds or grounds[0] in (Ground.WATER_EVENTS, Ground.ONE_WEEK)
    test = SimpleNamespace(effect=effect)
    return SimpleNamespace(
        verdict=verdict,
        direction=direction,
        within=SimpleNamespace(association=result, has_figures=figures),
        within_q=q,
        across=SimpleNamespace(verdict=across, for_band=test),
    )


CASES = [
    judged(ENOUGH),
    judged(POINTS),
    judged(ELSEWHERE),
    judged(ELSEWHERE, grounds=(Ground.WATER_EVENTS,)),
    judged(UNSURE),
    judged(UNSURE, grounds=(Ground.FEW_EVENTS,)),
    judged(UNSURE, across="no_light"),
    judged(UNSURE, within=POINTS, q=0.2),
    judged(UNSURE, within=ELSEWHERE),
]


def test_each_verdict_comes_to_words_of_its_own():
    assert len({comes_to(one) for one in CASES}) == len(CASES)
    assert len({means(judged(verdict)) for verdict in VERDICTS}) == len(VERDICTS)


@pytest.mark.parametrize("ground", [Ground.FEW_EVENTS, Ground.ONE_WEEK])
def test_what_can_not_be_compared_gives_its_own_reason(ground):
    assert comes_to(judged(UNSURE, grounds=(ground,))) == "one is too few."


@pytest.mark.parametrize("first", VERDICTS)
@pytest.mark.parametrize("second", VERDICTS)
def test_all_questions_are_one_sentence(first, second):
    text = in_one_sentence([judged(first), judged(second, Direction.DARKER)])
    assert text.count(".") == 1 and text.endswith(".") and text[0].isupper()
    assert text.lower().count("paling") == text.lower().count("browning") == 1
    assert (";" in text) == (first != second or first in (ENOUGH, POINTS))


@pytest.mark.parametrize(("second", "alike"), [(UNSURE, True), (ELSEWHERE, False), (None, False)])
def test_what_questions_have_in_common_is_said_once(second, alike):
    others = [judged(second, Direction.DARKER)] if second else []
    common = in_common([judged(UNSURE), *others])
    assert bool(common.comes_to) == bool(common.means) == alike


def test_no_question_is_no_sentence():
    assert in_one_sentence([]) == ""


@pytest.mark.parametrize(
    ("direction", "pairs"), [(Direction.LIGHTER, 0.8), (Direction.DARKER, 0.2)]
)
def test_pairs_are_counted_the_way_in_question(direction, pairs):
    answer = Answer(judged(UNSURE, direction), None, None, None, None, None)
    assert answer.pairs == pytest.approx(pairs)
    assert (answer.pairs_line.mark > 50) == (pairs > 0.5)


def test_too_few_corals_make_no_number():
    answer = Answer(judged(UNSURE, across="few_events"), None, None, None, None, None)
    assert answer.pairs is None and answer.pairs_line is None


def test_each_question_is_on_the_page_once(as_user, owner, tank):
    make_note(make_coral(tank), seen="paling")
    make_note(make_coral(tank), seen="browning")
    client = as_user(owner)
    for name in ("outcome_weighing", "outcome_report"):
        answer = client.get(reverse(name, args=[tank.pk]))
        page = answer.content.decode()
        assert [page.count(f'id="question-{kind}"') for kind in Direction] == [1, 1]
        assert [one.odds for one in answer.context["answers"]] == [None, None]

"""The answers to a layout's question as JSON: what hangs where at which level, and its light."""

from dataclasses import replace

import numpy as np

from apps.photics.ground.scene import Fixture
from apps.photics.layout.advice.buying_steps import BuyingStep, buying_steps
from apps.photics.layout.advice.left_out import left_out
from apps.photics.layout.advice.recommended import LitAnswer, lit_answer, recommended
from apps.photics.layout.answers import answers
from apps.photics.layout.choice import price_of
from apps.photics.layout.question import Question, Zone
from apps.photics.layout.search import Search
from apps.photics.layout.zone_light import ZoneLight
from apps.planning.documents import Document

# PAR and shares are stated to a tenth, levels to a thousandth: far finer than they are known.
PLACES, LEVEL_PLACES = 1, 3


def find_layouts(question: Question) -> Document:
    """Return the document of the answers to a Question: the whole search, start to end."""
    search, lit = searched(question)
    number, reason = recommended(question, lit) if lit else (None, None)
    served = any(one.served for one in lit)
    return {
        "served": served,
        "recommended": number,
        "reason": reason,
        "answers": [answer_document(search, one) for one in lit],
        "left_out": [
            {"name": question.candidates[one.candidate].name, "reason": one.reason}
            for one in left_out(search, [one.layout for one in lit])
        ],
        "beyond_budget": None if served else beyond_budget(question),
    }


def searched(question: Question) -> tuple[Search, list[LitAnswer]]:
    """Return the finished Search of a Question and its LitAnswers."""
    search = Search(question)
    # What else would help is no answer to the question.
    state = search.run(stop=search.has_refined)
    every = answers(search.scorer, state.refined or state.screened)
    return search, [lit_answer(question, answer) for answer in every]


def beyond_budget(question: Question) -> Document | None:
    """Return the document of the answer to recommend if money were no limit, if it then serves.

    Its steps say what of it the budget buys first. None where there is no budget, or no such help.
    """
    budget = question.limits.budget
    if budget is None:
        return None
    free = replace(question, limits=replace(question.limits, budget=None))
    search, lit = searched(free)
    if not any(one.served for one in lit):
        return None
    number, _ = recommended(free, lit)
    return answer_document(search, lit[number], budget=budget)


def answer_document(search: Search, lit: LitAnswer, *, budget: float | None = None) -> Document:
    """Return the document of one answer; `buy_first` are the steps to it, of what is missing."""
    question, layout = search.question, lit.answer.layout
    fixtures, _ = layout.fixtures(question)
    names = [question.candidates[kind.candidate].name for kind in layout.hung
             for _ in kind.places_cm]  # fmt: skip
    watts = lit.answer.score.watts
    return {
        "fixtures": [fixture_document(*pair) for pair in zip(names, fixtures, strict=True)],
        "zones": [zone_document(zone) for zone in lit.zones],
        "best_at": list(lit.answer.best_at),
        "price": price_of(question, layout.choice),
        "watts": None if watts is None else round(watts, PLACES),
        "buy_first": [
            step_document(step, names[step.fixture])
            for step in buying_steps(search.scorer, layout, budget=budget)
        ],
    }


def step_document(step: BuyingStep, name: str) -> Document:
    """Return the document of one step: what is bought, and the shares in band with it."""
    return {
        "fixture": step.fixture,
        "name": name,
        "price": step.price,
        "total": step.total,
        "in_budget": step.in_budget,
        "share_percent": [round(100.0 * share, PLACES) for share in step.zone_shares],
    }


def fixture_document(name: str, fixture: Fixture) -> Document:
    """Return the document of one fixture hung, by the name of its kind in the question."""
    return {
        "name": name,
        "x_cm": fixture.x_cm,
        "y_cm": fixture.y_cm,
        "height_cm": fixture.height_cm,
        "turn_deg": fixture.turn_deg,
        "beam_deg": fixture.beam_deg,
        "level": round(fixture.level, LEVEL_PLACES),
    }


def zone_document(light: ZoneLight) -> Document:
    """Return the document of one zone and its light; `caution_umol` asks for care above it."""
    zone = light.zone
    return {
        "name": zone.name,
        "x_cm": list(zone.x_cm),
        "y_cm": list(zone.y_cm),
        "depth_cm": list(zone.depth_cm),
        "low_umol": zone.low_umol,
        "high_umol": finite(zone.top_umol),
        "caution_umol": caution(zone),
        "share_percent": round(light.likely_percent, PLACES),
        "surely_percent": round(light.surely_percent, PLACES),
        "perhaps_percent": round(light.perhaps_percent, PLACES),
        "mean_umol": round(light.mean_umol, PLACES),
        "mean_low_umol": round(light.low_umol, PLACES),
        "mean_high_umol": round(light.high_umol, PLACES),
    }


def caution(zone: Zone) -> float | None:
    """Return above which PAR a zone asks for care though it is in its band, None for none."""
    return finite(zone.high_umol) if zone.high_is_soft else None


def finite(value: float) -> float | None:
    """Return a number that JSON can hold, None for infinity."""
    return float(value) if np.isfinite(value) else None

"""The layout search against exhaustive search, differential evolution and chance; and its time.

Ten small cases where every place of a lattice can be tried. All judge by the same objective and
leave the level to the scorer; evolution and chance get as many layouts as the search looked at.
"""

import itertools
import time

import numpy as np
from scipy.optimize import differential_evolution

from apps.photics.layout.advice.recommended import lit_answer
from apps.photics.layout.answers import answers
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.places import snapped
from apps.photics.layout.score import Scorer
from apps.photics.layout.search import Search, State
from apps.photics.layout.shortlist import choices
from tests.photics.layouts import ask, panel, tube, zone

LPS, SPS, SOFT = (75.0, 150.0), (200.0, 350.0), (50.0, 150.0)
# Lattice of the exhaustive search: pitch [cm] and heights, finer for one fixture than for two.
PITCH_CM, HEIGHTS = {1: 2.0, 2: 6.0}, {1: 11, 2: 5}
SEED = 7


def cases():
    """Return (name, Question) of ten small cases."""
    left = ask((60, 30, 40), SPS).tank
    corner = zone(left, 200, 350, x_cm=(3, 27), y_cm=(3, 27), depth_cm=(8, 20))
    sand = zone(left, 50, 120, x_cm=(30, 57), y_cm=(3, 27), depth_cm=(32, 38))
    both = (panel(110.0, 55.0),)
    strong = (panel(90.0, ppf_umol_s=110.0),)
    return [
        ("cube 30, one, soft", ask((30, 30, 30), SOFT)),
        ("cube 45, one, SPS", ask((45, 45, 45), SPS, candidates=both)),
        ("cube 61, one, LPS", ask((61, 61, 61), LPS, candidates=both)),
        ("45 x 30, one, two zones", ask((45, 30, 40), SPS, (*LPS,))),
        ("60 x 30, one, off centre", ask((60, 30, 40), corner, sand, candidates=strong)),
        ("60 x 45, one strong, SPS", ask((60, 45, 45), SPS, candidates=strong)),
        ("60 x 30, two, SPS", ask((60, 30, 40), SPS, count=2)),
        ("60 x 30, two, off centre", ask((60, 30, 40), corner, sand, count=2)),
        ("75 x 40, two, LPS", ask((75, 40, 45), LPS, count=2)),
        ("90 x 45, two strong, SPS", ask((90, 45, 45), SPS, candidates=strong, count=2)),
    ]


def exhaustive(question):
    """Return the best objective over the lattice, and how many layouts it tried."""
    scorer, best = Scorer(question), -1.0
    for choice in choices(question):
        (x0, x1), (y0, y1) = scorer.room(choice.main)
        x = np.linspace(x0, x1, int((x1 - x0) / PITCH_CM[choice.count]) + 2)
        y = np.linspace(y0, y1, int((y1 - y0) / PITCH_CM[choice.count]) + 2)
        places = [(snapped(a), snapped(b)) for a in x for b in y]
        for height in np.linspace(*question.limits.height_cm, HEIGHTS[choice.count]):
            hung = [
                Layout((HungKind(choice.main, choice.beam_deg, chosen, float(height)),))
                for chosen in itertools.combinations(places, choice.count)
            ]
            best = max(best, max(value for _, value in scorer.best_of(hung)))
    return best, scorer.scored


class SpentError(Exception):
    """As many layouts were looked at as were allowed."""


def judged(scorer, choice, allowed):
    """Return (bounds, cost of a vector, list with the best so far) for one choice."""
    (x0, x1), (y0, y1) = scorer.room(choice.main)
    bounds = [(x0, x1), (y0, y1)] * choice.count + [scorer.question.limits.height_cm]
    best, left = [-1.0], [allowed]

    def cost(vector):
        if left[0] <= 0:
            raise SpentError
        left[0] -= 1
        places = tuple((float(a), float(b)) for a, b in vector[:-1].reshape(-1, 2))
        value = scorer.best_level(
            Layout((HungKind(choice.main, choice.beam_deg, places, float(vector[-1])),))
        )[1]
        best[0] = max(best[0], value)
        return -value

    return bounds, cost, best


def evolution(question, allowed):
    """Return the best objective scipy's differential evolution finds, budget split over choices."""
    scorer, best = Scorer(question), -1.0
    every = choices(question)
    for choice in every:
        bounds, cost, found = judged(scorer, choice, allowed // len(every))
        try:
            differential_evolution(cost, bounds, seed=SEED, polish=False, maxiter=10_000, tol=0)
        except SpentError:
            best = max(best, found[0])
    return best


def chance(question, allowed):
    """Return the best objective of layouts drawn evenly, budget split over choices."""
    scorer, best, rng = Scorer(question), -1.0, np.random.default_rng(SEED)
    every = choices(question)
    for choice in every:
        bounds, cost, found = judged(scorer, choice, allowed // len(every))
        low, high = np.array(bounds).T
        for _ in range(allowed // len(every)):
            cost(rng.uniform(low, high))
        best = max(best, found[0])
    return best


def main():
    print(f"{'case':28}{'search':>8}{'exhaustive':>12}{'gap %':>8}{'evolution':>11}{'chance':>8}"
          f"{'looked at':>11}{'of':>8}{'s':>7}")  # fmt: skip
    worst = -np.inf
    for name, question in cases():
        begun = time.perf_counter()
        search = Search(question)
        state = search.run()
        took = time.perf_counter() - begun
        ours = state.best().value
        most, tried = exhaustive(question)
        gap = 100 * (most - ours) / most
        worst = max(worst, gap)
        rivals = evolution(question, state.scored), chance(question, state.scored)
        print(f"{name:28}{ours:8.4f}{most:12.4f}{gap:8.2f}{rivals[0]:11.4f}{rivals[1]:8.4f}"
              f"{state.scored:11d}{tried:8d}{took:7.2f}")  # fmt: skip
    print(f"worst gap to exhaustive search: {worst:.2f} %")
    for name, question in timed():
        worked = time.process_time()
        search, first = Search(question), None
        state = State()
        while not search.has_refined(state):
            state = search.advance(state)
            if first is None and state.best():
                first = time.process_time() - worked
        screened = answers(search.scorer, state.refined)
        lit = [lit_answer(question, one) for one in screened]
        # On a machine shared with others the processor's own time is the steadier one.
        took = time.process_time() - worked
        print(f"{name}: first answer after {first:.2f} s of one core, all {len(lit)} with their "
              f"zones' light after {took:.2f} s, {state.scored} layouts")  # fmt: skip


def timed():
    """Return (name, Question) of the plans whose time is promised."""
    top = {"margin": 0.15, "depth": (0.2, 0.5)}
    foot = {"margin": 0.05, "depth": (0.75, 0.95)}
    kinds = (panel(110.0, 55.0), panel(90.0, 60.0, ppf_umol_s=160.0, watts=120.0))
    found = []
    for name, size, count, more in (
        ("typical: 90 x 45 x 50 cm, two kinds, up to 3", (90, 45, 50), 3, {}),
        ("180 x 60 x 60 cm, two kinds, up to 6", (180, 60, 60), 6, {}),
        ("180 x 60 x 60 cm, up to 6 and a row of tubes", (180, 60, 60), 6, {"fill_count": 1}),
        ("180 x 60 x 60 cm, up to 6 and two rows", (180, 60, 60), 6, {"fill_count": 2}),
    ):
        plain = ask(size, SPS).tank
        zones = zone(plain, *SPS, **top), zone(plain, *LPS, **foot)
        candidates = (*kinds, tube(150.0)) if more else kinds
        found.append((name, ask(size, *zones, candidates=candidates, count=count, **more)))
    return found


if __name__ == "__main__":
    main()

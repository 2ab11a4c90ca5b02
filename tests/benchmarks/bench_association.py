"""Is it the light? False alarms, power and honesty on simulated worlds with a known truth.

python -m tests.benchmarks.bench_association [worlds of each kind] [part ...]

Parts: nulls causes effects late peeking time; all of them by default.
"""

import sys
import time

import numpy as np

from apps.photics.causes.association import ENOUGH, POINTS, light_association
from tests.benchmarks.worlds import World, simulate

WORLDS = 150
PEEK_FROM = 8  # weeks
BAR_TWO, BAR_ONE = 1.959964, 1.644854
COINCIDE = {"shocks": 1, "coincide_share": 0.5}
# Name, world, whether the keeper logged the shocks.
NULLS = [
    ("no shocks", World(shocks=0), False),
    ("shocks x8", World(), False),
    ("shocks x8, two a tank", World(shocks=2), False),
    ("one tank of 8", World(tanks=1, corals=8), False),
    ("shocks meet changes, logged", World(**COINCIDE), True),
    ("shocks meet changes, unlogged", World(**COINCIDE), False),
    ("all meet changes, unlogged", World(coincide_share=1.0), False),
    ("all meet rises, unlogged", World(coincide_share=1.0, rise_share=1.0), False),
]
EFFECTS = [
    ("2 tanks, fourfold", World(ratio=4), False),
    ("2 tanks, fourfold, shocks logged", World(ratio=4), True),
    ("2 tanks, eightfold", World(ratio=8), False),
    ("2 tanks, eightfold, shocks logged", World(ratio=8), True),
    ("6 tanks, fourfold", World(ratio=4, tanks=6), False),
    ("6 tanks, fourfold, shocks logged", World(ratio=4, tanks=6), True),
    ("2 tanks, eightfold, rises only", World(ratio=8, falls_protect=False), False),
    ("2 tanks, fourfold, on visit days", World(ratio=4, on_visit_days=True), False),
]
# Causes beside the light: name, world, what is handed over of Notes by keyword, wanted [%].
HANDED = {"arrived": "arrived", "moved": "moved"}
SEASON = World(visits=52, season_factor=4, season_light_log2=1)
DRIFT = World(drift_factor=4, ramp_log2=2)
LONG = World(coincide_share=0.5, rise_share=1, shock_weeks=3)
HANDS = World(move_share=0.8, move_rise_log2=0.8, handling_factor=6)
EYES = World(second_eye_factor=2)
CAUSES = [
    ("new corals, later raised", World(arrive_share=0.6, arrival_factor=6), HANDED, "3-9"),
    ("the same, arrivals not given", World(arrive_share=0.6, arrival_factor=6), {}, ""),
    ("moved by hand", HANDS, HANDED, "3-9"),
    ("the same, moves not given", HANDS, {}, ""),
    ("noted only when wrong", World(noted_share=0.2), HANDED, "3-9"),
    ("two keepers' eyes, given", EYES, HANDED | {"keeper": "keeper"}, "3-9"),
    ("two keepers' eyes, not given", EYES, HANDED, "3-9"),
    ("dying corals", World(death_share=0.5), HANDED, "3-9"),
    ("PAR error 20 %", World(meter_error=0.2), HANDED, "3-9"),
    ("season, unlogged", SEASON, HANDED, "enough <= 2"),
    ("season, logged", SEASON, HANDED | {"rivals": "water"}, "3-9"),
    ("season, logged as a value", SEASON, HANDED | {"water": "water"}, "3-9"),
    ("drift and ramp, unlogged", DRIFT, HANDED, "enough <= 2"),
    ("drift and ramp, logged", DRIFT, HANDED | {"rivals": "water"}, "3-9"),
    ("long shocks with raises, unlogged", LONG, HANDED, "enough <= 2"),
    ("long shocks with raises, logged", LONG, HANDED | {"rivals": "shock"}, "3-9"),
]
# Fourfold effects: name, world, what is handed over.
LATE_DAYS = 21
LATES = [
    ("1 tank, prompt", World(ratio=4, tanks=1), {}),
    ("1 tank, three weeks late", World(ratio=4, tanks=1, delay_days=LATE_DAYS), {}),
    ("2 tanks, prompt", World(ratio=4), {}),
    ("2 tanks, three weeks late", World(ratio=4, delay_days=LATE_DAYS), {}),
    (
        "harmless moves and arrivals, not given",
        World(ratio=4, move_share=0.8, arrive_share=0.5),
        {},
    ),
    (
        "harmless moves and arrivals, given",
        World(ratio=4, move_share=0.8, arrive_share=0.5),
        HANDED,
    ),
]


def likelihood_root(dose, event, *others):
    """Return the signed root of the likelihood ratio of `dose` in a plain logistic regression."""
    base = np.column_stack([np.ones(len(event)), *others])
    without, _ = logistic(base, event)
    best, beta = logistic(np.column_stack([base, dose]), event)
    return np.sign(beta[-1]) * np.sqrt(max(0.0, 2 * (best - without)))


def logistic(design, event):
    """Return the log likelihood and coefficients at the maximum, by Newton's method."""
    beta = np.zeros(design.shape[1])
    share = min(max(event.mean(), 1e-3), 0.99)
    beta[0] = np.log(share / (1 - share))
    for _ in range(30):
        p = 0.5 * (1 + np.tanh(design @ beta / 2))
        information = design.T @ (design * (p * (1 - p))[:, None]) + 1e-6 * np.eye(len(beta))
        step = np.linalg.solve(information, design.T @ (event - p))
        beta += step * min(1.0, 2.0 / max(np.abs(step).max(), 1e-12))
        if np.abs(step).max() < 1e-7:
            break
    eta = design @ beta
    return float(np.sum(event * eta - np.logaddexp(0, eta))), beta


def run_kind(world, logged, n_worlds, seed):
    """Return the answers and the roots of the told test and of the pooled one, per world."""
    rng, answers, told, pooled = np.random.default_rng(seed), [], [], []
    for k in range(n_worlds):
        notes = simulate(world, rng)
        rivals = notes.shock if logged else None
        columns = (notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event)
        answer = light_association(*columns, rivals=rivals, seed=k, power=False, profile=False)
        answers.append(answer)
        told.append(likelihood_root(notes.true_dose, notes.event, notes.shock))
        pooled.append(likelihood_root(notes.true_dose, notes.event))
    return answers, np.array(told), np.array(pooled)


def percent(hits):
    """Return a share with its Monte-Carlo error, in percent."""
    share = np.mean(hits)
    return f"{100 * share:5.1f} ± {100 * np.sqrt(share * (1 - share) / len(hits)):.1f}"


def coverage(answers, ratio):
    return [a.low <= ratio <= a.high for a in answers if np.isfinite(a.low)]


def print_nulls(n_worlds):
    print(f"False alarms at 5 % [% of {n_worlds} worlds, ± Monte-Carlo error]; wanted 3 to 7")
    print(f"{'':34}{'ours':>12}{'pooled':>13}{'told LR':>13}{'covers':>13}{'wrong act':>13}")
    act = []
    for seed, (name, world, logged) in enumerate(NULLS):
        answers, told, pooled = run_kind(world, logged, n_worlds, seed)
        wrong = [a.verdict == ENOUGH for a in answers]
        act += wrong
        ours = [a.p_value < 0.05 for a in answers]
        roots = [np.abs(z) > BAR_TWO for z in (pooled, told)]
        columns = [ours, *roots, coverage(answers, 1.0), wrong]
        print(f"{name:34}" + "".join(f"{percent(c):>13}" for c in columns), flush=True)
    print(f"'Enough to act' wrong in all null worlds: {percent(act)} %; wanted at most 2")


def print_effects(n_worlds):
    print(f"\nPower [% of {n_worlds} worlds]; ours is one-sided, as the question is; the told test")
    print("knows each world's shocks and the true doublings of light. Wanted: 95 % of told LR.")
    print(
        f"{'':34}{'ours':>12}{'told LR':>13}{'of it':>7}"
        f"{'told, 1-side':>14}{'of it':>7}{'covers':>13}"
    )
    for seed, (name, world, logged) in enumerate(EFFECTS, start=100):
        answers, told, _ = run_kind(world, logged, n_worlds, seed)
        ours = np.array([a.p_value < 0.05 for a in answers])
        two, one = np.abs(told) > BAR_TWO, told > BAR_ONE
        share = [f"{100 * ours.mean() / max(v.mean(), 1e-9):.0f} %" for v in (two, one)]
        print(
            f"{name:34}{percent(ours):>12}{percent(two):>13}{share[0]:>7}{percent(one):>14}"
            f"{share[1]:>7}{percent(coverage(answers, world.ratio)):>13}",
            flush=True,
        )


def answers_given(world, given, n_worlds, seed):
    """Return the answers of worlds of one kind, with the columns of Notes `given` by keyword."""
    rng, answers = np.random.default_rng(seed), []
    for k in range(n_worlds):
        notes = simulate(world, rng)
        columns = (notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event)
        more = {name: getattr(notes, column) for name, column in given.items()}
        answers.append(light_association(*columns, **more, seed=k, power=False, profile=False))
    return answers


def print_causes(n_worlds):
    print(f"\nOther causes, no effect of light [% of {n_worlds} worlds, ± Monte-Carlo error]")
    print(f"{'':40}{'p < .05':>13}{'enough':>13}{'doubt named':>13}  wanted")
    for seed, (name, world, given, wanted) in enumerate(CAUSES, start=200):
        answers = answers_given(world, given, n_worlds, seed)
        found = [a.p_value < 0.05 for a in answers]
        enough = [a.verdict == ENOUGH for a in answers]
        named = [
            "a season, a slow drift" in a.reason.lower() for a in answers if a.verdict == POINTS
        ]
        doubt = f"{100 * np.mean(named):.0f} %" if named else "-"
        print(
            f"{name:40}{percent(found):>13}{percent(enough):>13}{doubt:>13}  {wanted}", flush=True
        )


def print_late(n_worlds):
    print(
        f"\nA fourfold effect found [% of {n_worlds} worlds]; late wanted at least half of prompt,"
    )
    print("harmless moves and arrivals given at least three quarters of not given")
    for seed, (name, world, given) in enumerate(LATES):
        answers = answers_given(world, given, n_worlds, 300 + seed // 2)
        found = [a.p_value < 0.05 for a in answers]
        enough = [a.verdict == ENOUGH for a in answers]
        print(f"{name:40}{percent(found):>13}   enough {percent(enough)}", flush=True)


def print_peeking(n_worlds):
    """Print how often chance alone finds something at any of many weekly looks at one tank."""
    rng, ever, act, last = np.random.default_rng(77), [], [], []
    for _ in range(n_worlds):
        notes, seen = simulate(World(tanks=1), rng), []
        columns = (notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event)
        for week in range(PEEK_FROM, World.visits + 1):
            so_far = [column[notes.day < 7 * week] for column in columns]
            answer = light_association(*so_far, seed=1, power=False, profile=False)
            seen.append(answer.verdict)
        ever.append(any(v in (POINTS, ENOUGH) for v in seen))
        act.append(ENOUGH in seen)
        last.append(seen[-1] in (POINTS, ENOUGH))
    print(
        f"\nOne tank without an effect, looked at weekly, weeks {PEEK_FROM} to {World.visits} [%]"
    )
    print(f"ever 'points' {percent(ever)}, at the end {percent(last)}, ever 'act' {percent(act)}")


def print_time():
    notes = simulate(World(tanks=5, visits=156, changes=(8, 12), ratio=2), np.random.default_rng(1))
    columns = (notes.coral, notes.tank, notes.day, notes.dli_mol, notes.event)
    times = []
    for _ in range(5):
        begin = time.perf_counter()
        light_association(*columns, seed=1)
        times.append(time.perf_counter() - begin)
    print(f"\n3 years x 60 corals ({len(notes.day)} visits): first {times[0]:.2f} s, ", end="")
    print(f"median of 5 {np.median(times):.2f} s; wanted at most 1.5")


PARTS = {
    "nulls": print_nulls,
    "causes": print_causes,
    "effects": print_effects,
    "late": print_late,
    "peeking": print_peeking,
    "time": lambda n_worlds: print_time(),
}


def main(n_worlds=WORLDS, *names):
    for name in names or PARTS:
        PARTS[name](n_worlds)


if __name__ == "__main__":
    main(*(int(word) for word in sys.argv[1:2]), *sys.argv[2:])

"""How often a trial of one step shows what is there, and what is not: simulated corals.

python -m tests.benchmarks.bench_trial
"""

import os

import django
import numpy as np

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "reeflog.settings")
django.setup()

from apps.outcomes.models import (  # noqa: E402  A model needs its settings.
    NOTE_EVERY_DAYS,
    NOTES,
    NOTES_BEFORE,
    START_EVERY_NOTES,
    STARTS,
)
from apps.photics.causes.start_trial import start_gains, start_score  # noqa: E402

TRIALS = 400
DAYS = NOTE_EVERY_DAYS * np.arange(NOTES)
START_DAYS = NOTE_EVERY_DAYS * (NOTES_BEFORE + START_EVERY_NOTES * np.arange(STARTS))
# Severity before the step, the keeper's error, and how long healing takes once begun [d].
SEVERITY, ERROR, HEALING_DAYS = 2.2, 0.6, (1, 10)


def notes(rng, start, waits, heals):
    """Return the severities a keeper notes on a coral that waits some days after its step."""
    done = np.clip((DAYS - start - rng.uniform(*waits)) / rng.uniform(*HEALING_DAYS), 0, 1)
    true = SEVERITY * (1 - heals * done)
    return np.clip(np.round(true + rng.normal(0, ERROR, NOTES)), 0, 6)


def found(rng, corals, waits, heals):
    """Return whether one trial gives p at or below 0.05."""
    drawn = rng.integers(STARTS, size=corals)
    gains = [
        start_gains(DAYS, notes(rng, START_DAYS[place], waits, heals), START_DAYS)
        for place in drawn
    ]
    return start_score(gains, drawn).p_better <= 0.05


def main():
    rng = np.random.default_rng(1)
    print(f"Trials of one step, {TRIALS} each: found at 5 % [%]")
    print(f"{'corals':>8}{'nothing there':>16}{'answers in 0-7 d':>18}{'in 3-14 d':>12}")
    for corals in (1, 2, 3, 4):
        shares = [
            100 * np.mean([found(rng, corals, waits, heals) for _ in range(TRIALS)])
            for waits, heals in (((0, 7), 0), ((0, 7), 1), ((3, 14), 1))
        ]
        print(f"{corals:>8}{shares[0]:>16.0f}{shares[1]:>18.0f}{shares[2]:>12.0f}")


if __name__ == "__main__":
    main()

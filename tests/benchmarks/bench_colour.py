"""Colours that compare across phones: simulated looks with known truth, with and without our card.

`python -m tests.benchmarks.bench_colour [pairs]` prints, for pairs of photos of one coral: how far
apart an unchanged colour comes out, how often the 90 % interval holds the true difference, how
often an unchanged colour is told as changed and a clearly changed one as unchanged. Then the
amounts that stand as constants in `photics/colour/looks.py` and `coral_colour.py`.
"""

import sys

import numpy as np
from scipy.optimize import nnls

from apps.photics.colour.ciede2000 import ciede2000
from apps.photics.colour.cielab import lab_of_linear
from apps.photics.colour.colour_space import DISPLAY_P3
from apps.photics.colour.coral_colour import measure
from apps.photics.colour.looks import ComparedColour, difference_between
from tests.photics.phone_looks import (
    CARD_AT,
    CORAL_AT,
    QUADS,
    Scene,
    card_region,
    drawn_look,
    photograph,
)
from tests.photics.rendered import COLD_LAMP, HOST, WHITE_LAMP, coral, planck, true_lab

PAIRS = 200
SAME_MEDIAN_MAX, CARD_MEDIAN_MAX = 1.1, 2.0
HELD_LOW, HELD_HIGH = 85.0, 95.0
# A difference that an eye sees at once [dE00].
CLEAR = 6.0
# From photo to photo: white balance [log], exposure, the coral's light over the card's [log], and
# how far a printer's inks are off [log], the same in both photos of a pair.
BALANCE_SD, EXPOSURE, UNEVEN_SD, PRINT_SD = 0.03, (0.50, 0.68), 0.02, 0.06

# Name: same look, with our card, what else is odd about the second photo.
WORLDS = {
    "same phone, white card": (True, False, {}),
    "other phone, white card": (False, False, {}),
    "same phone, printed card": (True, True, {}),
    "other phone, printed card": (False, True, {}),
    ".. card turned and tilted": (False, True, {"quads": ("turned", "tilted", "upside down")}),
    ".. printed smaller": (False, True, {"quads": ("small",)}),
    ".. partly shaded": (False, True, {"shade": 0.55}),
    ".. lit by another lamp": (False, True, {"lamps": (COLD_LAMP, planck(5000.0))}),
}


def main():
    pairs = int(sys.argv[1]) if len(sys.argv) > 1 else PAIRS
    print(f"{pairs} pairs of photos each; odd ones a quarter of that")
    print(
        f"  {'':<28}{'dE00 unchanged':>20}{'interval holds':>16}"
        f"{'false':>8}{'missed':>8}{'lost':>6}"
    )
    for name, (same, carded, odd) in WORLDS.items():
        row = outcomes(same, carded, odd, pairs // 4 if odd else pairs)
        print_row(name, same, carded, row, odd)
    print_amounts(pairs)


def print_row(name, same, carded, row, odd):
    """Print one world and whether it keeps what must hold."""
    unchanged = np.array([r["value"] for r in row if r and not r["true"]])
    told = [r for r in row if r]
    held = 100 * np.mean([r["low"] <= r["true"] <= r["high"] for r in told])
    false = 100 * np.mean([r["low"] > 0 for r in told if not r["true"]])
    missed = 100 * np.mean([r["low"] == 0 for r in told if r["true"] >= CLEAR])
    middle, most = np.median(unchanged), np.percentile(unchanged, 95)
    limit = CARD_MEDIAN_MAX if carded else SAME_MEDIAN_MAX if same else np.inf
    # The odd ones are few; too wide is no fault there.
    high = HELD_HIGH if (same or carded) and not odd else 100.0
    verdict = "holds" if middle <= limit and HELD_LOW <= held <= high else "DOES NOT HOLD"
    print(f"  {name:<28}{middle:>10.2f} (95 % {most:4.1f}){held:>14.0f} %"
          f"{false:>6.0f} %{missed:>6.0f} %{len(row) - len(told):>6}  {verdict}",
          flush=True)  # fmt: skip


def outcomes(same, carded, odd, pairs):
    """Return for each pair what was measured and what is true, None where a photo was refused."""
    rng = np.random.default_rng(20260)
    return [outcome(rng, same, carded, odd, number) for number in range(pairs)]


def outcome(rng, same, carded, odd, number):
    before, after = drawn_corals(rng, changed=number % 2 == 1)
    first, second = drawn_look(rng), drawn_look(rng)
    gains = tuple(np.exp(rng.normal(0, PRINT_SD, 4)))
    scenes = [
        drawn_scene(rng, before, carded, gains, {}),
        drawn_scene(rng, after, carded, gains, odd),
    ]
    colours = [
        measured(look, scene)
        for look, scene in zip((first, first if same else second), scenes, strict=True)
    ]
    if None in colours:
        return None
    value = difference_between(colours[1], colours[0], same_look=same)
    true = float(ciede2000(true_lab(before), true_lab(after)))
    return {"value": value.value, "low": value.low, "high": value.high, "true": true,
            "colours": colours, "truth": true_lab(before)}  # fmt: skip


def drawn_corals(rng, *, changed):
    """Return two reflectances of one coral: alike, or with other symbionts in the second."""
    host, density = rng.choice(list(HOST)), np.exp(rng.uniform(np.log(0.2), np.log(2.0)))
    other = density * np.exp(rng.choice([-1, 1]) * rng.uniform(0.2, 1.6)) if changed else density
    return coral(host, density), coral(host, other)


def drawn_scene(rng, reflectance, carded, gains, odd):
    """Return one photo's Scene."""
    balance = np.exp(rng.normal(0, BALANCE_SD, 3))
    lamps = odd.get("lamps", (WHITE_LAMP,))
    lamp = lamps[int(rng.integers(len(lamps)))]
    quads = odd.get("quads", ("straight", "turned", "tilted"))
    return Scene(
        reflectance, lamp=lamp, balance=tuple(balance / balance[1]),
        exposure=rng.uniform(*EXPOSURE), uneven=float(np.exp(rng.normal(0, UNEVEN_SD))),
        quad=QUADS[quads[int(rng.integers(len(quads)))]] if carded else None,
        print_gains=gains, shade=odd.get("shade", 1.0), seed=int(rng.integers(2**31)),
    )  # fmt: skip


def measured(look, scene):
    """Return the ComparedColour that a phone's photo of a scene gives, or None."""
    kind = "card" if scene.quad else "white"
    reference = card_region(scene) if scene.quad else CARD_AT
    result = measure(photograph(look, scene), reference=reference, regions=[CORAL_AT],
                     reference_kind=kind, light="white")  # fmt: skip
    if not result.measured:
        return None
    return ComparedColour(result.lab, result.covariance, kind, "white", result.card)


def print_amounts(pairs):
    """Print what a look adds, what is left within one, and what sRGB's edge does."""
    print("Amounts of one photo [log]: slope, distance from grey, left over")
    for name, same in (("two looks", False), ("two photos of one look", True)):
        rows = [r for r in outcomes(same, False, {}, pairs) if r and not r["true"]]
        print(f"  {name:<28}" + "  ".join(f"{sd:.3f}" for sd in amounts(rows)))
    light = DISPLAY_P3.linear_srgb(np.random.default_rng(1).random((200_000, 3)) ** 2)
    beyond = light[(light.min(1) < 0) & (light.max(1) <= 1)]
    off = lab_of_linear(beyond) - lab_of_linear(np.clip(beyond, 0, 1))
    spread = np.sqrt((off**2).mean(0))
    print("Colours of Display P3 cut off to sRGB, root mean square of L*, a*, b*: "
          + ", ".join(f"{value:.1f}" for value in spread))  # fmt: skip


def amounts(rows):
    """Return slope, distance from grey and rest [log] of unchanged pairs, by least squares."""
    left, right = [], []
    for row in rows:
        one, two = row["colours"]
        truth = ComparedColour(row["truth"], one.covariance, "white", "white").log_light
        moved, away = two.log_light - one.log_light, truth - truth.mean()
        weight = 1.0 / (0.05 + truth @ truth)
        shapes = [np.outer(truth, truth), np.outer(away, away), np.eye(3)]
        left.append(weight * np.stack([shape.ravel() for shape in shapes], axis=-1))
        right.append(weight * np.outer(moved, moved).ravel() / 2.0)
    squares, _ = nnls(np.concatenate(left), np.concatenate(right))
    return np.sqrt(squares)


if __name__ == "__main__":
    main()

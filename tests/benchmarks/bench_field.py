"""The light field on the twelve traced tanks, beside interpolators anyone could pick.

All methods see the same readings and are scored at the same 400 points per tank. Peers that give
a deviation are scored by their own normal 90 % interval.
"""

import resource
import time
import warnings
from importlib.util import find_spec

import numpy as np

from apps.photics.field.light_field import fit_light_field
from apps.photics.field.next_points import next_points
from tests.benchmarks.check_readings import surveys_anew
from tests.benchmarks.interpolators import (
    from_log,
    log_par,
    scaled,
    scipy_linear,
    scipy_rbf,
    score,
    sklearn_gp,
)
from tests.photics.traced import all_traced

GRID = (48, 48, 24)
MANY_READINGS, USUAL_READINGS = 1000, 60
# Most CPU that a fit of USUAL_READINGS may take, with fixtures known and unknown [ms].
KNOWN_MS_MAX, UNKNOWN_MS_MAX = 150.0, 300.0
# Readings that next_points starts from, adds at a time and stops at; the grids it is held against.
FIRST, EACH, LAST = 6, 2, 20
GRID_SIZES = (8, 12, 16, 20, 24, 32, 45)
READING_NOISE = 0.05
# Surveys of each tank beside the stored one, read anew at its truth points.
ANEW = 10


def main():
    warnings.filterwarnings("ignore")
    cases = all_traced()
    print_accuracy(cases, [row for row in METHODS if row[2] is None or find_spec(row[2])])
    print_read_anew(cases)
    print_robustness(cases)
    print_next_points(cases)
    print_costs(cases)


# The methods: each takes a case and returns par, low, high at its truth points (low None: none).


def ours(case, fixtures):
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank, fixtures=fixtures).at(
        case.truth_points_cm
    )
    return field.par_umol, field.low_umol, field.high_umol


def rig_known(case):
    return ours(case, case.fixtures)


def rig_unknown(case):
    return ours(case, ())


def pykrige_3d(case):
    from pykrige.ok3d import OrdinaryKriging3D

    points, at = scaled(case)
    krige = OrdinaryKriging3D(*points.T, log_par(case), variogram_model="spherical")
    mean, variance = krige.execute("points", *at.T)
    return from_log(np.asarray(mean), np.sqrt(np.maximum(np.asarray(variance), 0)))


def gstools_kriging(case):
    import gstools

    points, at = scaled(case)
    model = gstools.Exponential(dim=3, var=0.3, len_scale=[0.5, 0.5, 0.5], nugget=0.01)
    model.fit_variogram(*gstools.vario_estimate(points.T, log_par(case)), anis=False)
    mean, variance = gstools.krige.Ordinary(model, points.T, log_par(case))(at.T)
    return from_log(mean, np.sqrt(np.maximum(variance, 0)))


def verde_trend_spline(case):
    """A cubic depth trend, then a spline of what it leaves across the tank."""
    import verde

    points, at = scaled(case)
    trend = np.polynomial.Polynomial.fit(points[:, 2], log_par(case), 1)
    spline = verde.Spline(damping=1e-3).fit(points[:, :2].T, log_par(case) - trend(points[:, 2]))
    return from_log(trend(at[:, 2]) + spline.predict(at[:, :2].T))


# Name, method and the package that not every machine has.
METHODS = (
    ("light field, fixtures as given", rig_known, None),
    ("light field, no fixtures given", rig_unknown, None),
    ("scipy RBF thin plate, PAR", scipy_rbf, None),
    ("scipy LinearND, PAR", scipy_linear, None),
    ("scikit-learn GP Matern, log", sklearn_gp, None),
    ("pykrige ordinary 3-D, log", pykrige_3d, "pykrige"),
    ("gstools ordinary, log", gstools_kriging, "gstools"),
    ("verde trend + spline, log", verde_trend_spline, "verde"),
)


def timed(call):
    """Return what a call answers and its CPU time, so that other load says nothing [ms]."""
    start = time.process_time()
    answer = call()
    return answer, 1000 * (time.process_time() - start)


def print_accuracy(cases, methods):
    """Print the table of methods: means over the cases, the worst coverage and median time."""
    print("| method | MdAPE | nMAE | P90 | covers (worst) | width | CPU ms median (worst) |")
    print("|---|---|---|---|---|---|---|")
    typical = {}
    for name, method, _ in methods:
        method(cases[0])  # Imports and first-call costs are no part of a method.
        answers = [timed(lambda c=case, m=method: m(c)) for case in cases]
        rows = np.array([score(c, answer) for c, (answer, _) in zip(cases, answers, strict=True)])
        times = np.array([ms for _, ms in answers])
        mean, worst = rows.mean(axis=0), rows[:, 3].min()
        covers = "-" if np.isnan(worst) else f"{mean[3]:.0f} ({worst:.0f})"
        width = "-" if np.isnan(worst) else f"{mean[4]:.0f}"
        print(
            f"| {name} | {mean[0]:.1f} | {mean[1]:.1f} | {mean[2]:.1f} | {covers} | {width} "
            f"| {np.median(times):.0f} ({times.max():.0f}) |"
        )
        typical[name] = rows[:, 0]
    missing = [name for name, *_, package in METHODS if package and not find_spec(package)]
    if missing:
        print("not installed here, so not measured:", "; ".join(missing))
    peers = np.min([typical[name] for name, *_ in methods[2:]], axis=0)
    for name, *_ in methods[:2]:
        print(f"{name}: worse than the best peer on {int((typical[name] > peers).sum())} of 12")
    print("MdAPE by case, fixtures as given:", *(f"{v:.1f}" for v in typical[METHODS[0][0]]))
    print("MdAPE by case, none given:       ", *(f"{v:.1f}" for v in typical[METHODS[1][0]]))
    print("MdAPE by case, best peer:        ", *(f"{v:.1f}" for v in peers))


def print_read_anew(cases):
    """Print our coverage of each tank over ANEW further surveys, and the worst of each survey."""
    for title, method in (("as given", rig_known), ("none given", rig_unknown)):
        covers = np.array(
            [
                [score(again, method(again))[3] for again in surveys_anew(case, ANEW, number=k)]
                for k, case in enumerate(cases)
            ]
        )
        each = " ".join(f"{v:.0f}" for v in covers.mean(axis=1))
        print(
            f"read anew {ANEW} times, fixtures {title}: covers {covers.mean():.1f}, "
            f"by case {each}, the worst of twelve {covers.min(axis=0).mean():.0f} on average"
        )


def print_robustness(cases):
    """Print how far one wrong reading moves the map, and how often it is flagged."""
    moved, flagged = [], []
    for case in cases:
        known = {"tank": case.tank, "fixtures": case.fixtures}
        base = fit_light_field(case.points_cm, case.par_umol, **known)
        before = base.at(case.truth_points_cm).par_umol
        for k in range(len(case.par_umol)):
            for wrong in (1.0, 10.0 * case.par_umol[k]):
                if case.par_umol[k] < 5.0:
                    continue  # A reading of 1 in deep shade is not wrong when it says 1.
                par = case.par_umol.copy()
                par[k] = wrong
                field = fit_light_field(case.points_cm, par, **known)
                after = field.at(case.truth_points_cm).par_umol
                moved.append(100 * np.median(np.abs(after / before - 1)))
                flagged.append(k in [odd.index for odd in field.summary.disagreeing])
    print(
        f"\none reading replaced by 1 or tenfold, {len(moved)} trials: the map's median move is "
        f"{np.mean(moved):.1f} % on average, {max(moved):.1f} % at worst; "
        f"flagged {100 * np.mean(flagged):.1f} %"
    )


def grid_places(tank, many):
    """Return a regular grid of about `many` places in the tank, (k, 3) [cm]."""
    levels = 2 if many < 12 else 3
    along = max(1, round(np.sqrt(many // levels * tank.length_cm / tank.width_cm)))
    counts = (along, max(1, many // levels // along), levels)
    sizes = (tank.length_cm, tank.width_cm, tank.depth_cm)
    axes = [(np.arange(n) + 0.5) / n * size for n, size in zip(counts, sizes, strict=True)]
    return np.stack(np.meshgrid(*axes, indexing="ij"), axis=-1).reshape(-1, 3)


def nearest(places, wanted):
    """Return which of the places are nearest to each wanted one, none twice."""
    found = []
    for place in wanted:
        away = ((places - place) ** 2).sum(axis=1)
        away[found] = np.inf
        found.append(int(np.argmin(away)))
    return found


def learning_curves(case, fixtures):
    """Return MdAPE by number of readings, by next_points and by grids: two dicts.

    Readings are the truth at every second point with a meter's noise; the others are scored.
    """
    noise = np.random.default_rng(1).normal(0, READING_NOISE, len(case.truth_umol))
    reading, scored = slice(0, None, 2), slice(1, None, 2)
    places = case.truth_points_cm[reading]
    values = (case.truth_umol * np.exp(noise))[reading]

    def fit(chosen):
        field = fit_light_field(places[chosen], values[chosen], tank=case.tank, fixtures=fixtures)
        found = field.at(case.truth_points_cm[scored]).par_umol
        return field, 100 * np.median(np.abs(found / case.truth_umol[scored] - 1))

    chosen = nearest(places, grid_places(case.tank, FIRST)[:FIRST])
    field, error = fit(chosen)
    told = {len(chosen): error}
    while len(chosen) < LAST:
        rest = [k for k in range(len(places)) if k not in chosen]
        chosen += [
            rest[k]
            for k in nearest(places[rest], next_points(field, EACH, candidates=places[rest]))
        ]
        field, error = fit(chosen)
        told[len(chosen)] = error
    grids = {}
    for many in GRID_SIZES:
        chosen = nearest(places, grid_places(case.tank, many))
        grids[len(chosen)] = fit(chosen)[1]
    return told, grids


def print_next_points(cases):
    """Print the mean error by number of readings, told by next_points and on grids."""
    for title, some in (
        ("fixtures as given", [(c, c.fixtures) for c in cases if c.fixtures]),
        ("no fixtures given", [(c, ()) for c in cases]),
    ):
        curves = [learning_curves(case, fixtures) for case, fixtures in some]
        for name, which, sizes in (("next_points", 0, (8, 12, 16, 20)), ("grid", 1, GRID_SIZES)):
            means = []
            for size in sizes:
                at = [
                    np.interp(size, *zip(*sorted(curve[which].items()), strict=True))
                    for curve in curves
                ]
                means.append(f"{size}: {np.mean(at):.1f}")
            print(f"{title}, MdAPE by readings, {name}: " + ", ".join(means))


def fit_cpu(case, fixtures):
    """Return the CPU time of a fit of USUAL_READINGS readings of a case [ms]."""
    rng = np.random.default_rng(0)
    some = rng.choice(len(case.truth_umol), USUAL_READINGS, replace=False)
    par = case.truth_umol[some] * np.exp(rng.normal(0, READING_NOISE, USUAL_READINGS))
    places = case.truth_points_cm[some]
    return timed(lambda: fit_light_field(places, par, tank=case.tank, fixtures=fixtures))[1]


def print_fit_times(cases):
    """Print the CPU time of a fit of USUAL_READINGS readings, fixtures known and unknown."""
    known = [fit_cpu(case, case.fixtures) for case in cases if case.fixtures]
    unknown = [fit_cpu(case, ()) for case in cases]
    print()
    for title, times, most in (
        ("known", known, KNOWN_MS_MAX),
        ("unknown", unknown, UNKNOWN_MS_MAX),
    ):
        verdict = "within" if max(times) <= most else "OVER"
        print(
            f"fit of {USUAL_READINGS} readings, fixtures {title}: CPU ms median (worst) "
            f"{np.median(times):.0f} ({max(times):.0f}), {verdict} {most:g}"
        )


def print_costs(cases):
    """Print the time of a full grid with intervals, of many readings, and the peak memory."""
    print_fit_times(cases)
    times = []
    for case in cases:
        field = fit_light_field(
            case.points_cm, case.par_umol, tank=case.tank, fixtures=case.fixtures
        )
        sizes = (case.tank.length_cm, case.tank.width_cm, case.tank.depth_cm)
        axes = [np.linspace(0, size, n) for size, n in zip(sizes, GRID, strict=True)]
        times.append(timed(lambda f=field, a=axes: f.cut(*a))[1])
    print(f"\n48 x 48 x 24 grid with intervals: CPU ms {np.median(times):.0f} ({max(times):.0f})")
    case = cases[6]
    rng = np.random.default_rng(0)
    field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank, fixtures=case.fixtures)
    sizes = np.array([case.tank.length_cm, case.tank.width_cm, case.tank.depth_cm])
    points = rng.uniform(2, sizes - 2, (MANY_READINGS, 3))
    par = field.at(points).par_umol * np.exp(rng.normal(0, READING_NOISE, MANY_READINGS))
    for title, fixtures in (("given", case.fixtures), ("not given", ())):
        _, ms = timed(lambda f=fixtures: fit_light_field(points, par, tank=case.tank, fixtures=f))
        print(f"{MANY_READINGS} readings, fixtures {title}: {ms / 1000:.1f} s of CPU")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory of this whole run, peers included: {peak:.0f} MB")


if __name__ == "__main__":
    main()

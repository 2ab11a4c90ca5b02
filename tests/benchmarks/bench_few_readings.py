"""Light before the meter, and with one to eight readings, against the traced tanks' truth.

Outputs are those a whole survey shows, off at random as a rated output or watts alone may be, by
the deviation of their stated intervals. Readings are a survey's own, drawn at random. With four
spots or more the map is that of its readings alone, as the app takes it. All in percent.
"""

import numpy as np

from apps.photics.field.light_field import fit_light_field
from apps.photics.field.readings import MIN_READINGS, SurveyReadings
from apps.photics.layout.measured_rig import measured_output
from apps.photics.layout.planned_light import output_deviation
from apps.photics.layout.unread_light import field_of_few, unread_field
from apps.photics.rig.fixture_light import output_estimate
from tests.photics.traced import all_traced

DRAWS = 5
COUNTS = (0, 1, 2, 3, 4, 6, 8)
STATED = {
    "rated output": lambda umol: output_estimate(ppf_umol_s=umol),
    "watts alone": lambda umol: output_estimate(watts=umol / 1.35),
}


def known_cases():
    """Yield each traced tank whose fixtures are told, with their outputs by its whole survey."""
    for case in all_traced():
        lit = [fixture for fixture in case.fixtures if fixture.level > 0]
        if lit:
            field = fit_light_field(case.points_cm, case.par_umol, tank=case.tank, fixtures=lit)
            if field.calibrated is not None:
                numbers = range(len(lit))
                yield (
                    case,
                    lit,
                    [measured_output(field.calibrated, [k]).ppf_umol_s for k in numbers],
                )


def light_of(case, lit, outputs, chosen):
    """Return the light field of some of a case's readings."""
    scene = {"tank": case.tank, "fixtures": lit}
    if not len(chosen):
        return unread_field(case.tank, lit, outputs)
    points, par = case.points_cm[chosen], case.par_umol[chosen]
    if len(chosen) < MIN_READINGS:
        return field_of_few([SurveyReadings(points, par)], outputs=outputs, **scene)
    return fit_light_field(points, par, **scene)


def scored(case, field):
    """Return median error, coverage and median width of a field at the truth's points [%]."""
    light, truth = field.at(case.truth_points_cm), case.truth_umol
    inside = (light.low_umol <= truth) & (truth <= light.high_umol)
    width = (light.high_umol - light.low_umol) / light.par_umol
    error = np.abs(light.par_umol / truth - 1)
    return 100 * np.median(error), 100 * inside.mean(), 100 * np.median(width)


def main():
    cases = list(known_cases())
    print(f"{len(cases)} traced tanks, {DRAWS} draws of each: error, coverage, width [%]")
    for name, stated in STATED.items():
        rng = np.random.default_rng(16)
        for count in COUNTS:
            rows = []
            for case, lit, true_outputs in cases:
                for _ in range(DRAWS):
                    off = np.exp(rng.normal(0.0, output_deviation(stated(100.0))))
                    outputs = tuple(stated(output * off) for output in true_outputs)
                    chosen = rng.permutation(len(case.par_umol))[:count]
                    rows.append(scored(case, light_of(case, lit, outputs, chosen)))
            error, inside, width = np.mean(rows, axis=0)
            print(f"{name:>13} {count:>2} readings {error:6.1f} {inside:5.0f} {width:5.0f}")


if __name__ == "__main__":
    main()

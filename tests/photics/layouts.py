"""Questions for the layout search: an invented mid-power panel over boxes of water."""

from apps.photics.ground.scene import Tank
from apps.photics.layout.hanging import HungKind, Layout
from apps.photics.layout.question import Candidate, Limits, Question, Zone
from apps.photics.rig.fixture_light import output_estimate

FOOT_CM = 30.48
# What a mid-power fixture gives [umol/s]: common practice, no published source.
MID_POWER_UMOL_S = 60.0


def panel(*beams_deg, ppf_umol_s=MID_POWER_UMOL_S, **overrides):
    output = output_estimate(ppf_umol_s=ppf_umol_s)
    fields = {"watts": 50.0} | overrides
    return Candidate("Panel", "panel", 20.0, 20.0, beams_deg or (110.0,), output, **fields)


def tube(length_cm=50.0, **overrides):
    output = output_estimate(kind="tube", ppf_umol_s=0.7 * length_cm)
    return Candidate("Tubes", "tube", length_cm, 6.0, (120.0,), output, **overrides)


def zone(tank, low_umol, high_umol, *, margin=0.08, depth=(0.3, 0.7), **overrides):
    """Return a zone that leaves a margin at every pane, between two shares of the depth."""
    fields = {
        "name": "zone",
        "x_cm": (margin * tank.length_cm, (1 - margin) * tank.length_cm),
        "y_cm": (margin * tank.width_cm, (1 - margin) * tank.width_cm),
        "depth_cm": (depth[0] * tank.depth_cm, depth[1] * tank.depth_cm),
        "low_umol": low_umol,
        "high_umol": high_umol,
    } | overrides
    return Zone(**fields)


def ask(size_cm, *bands, candidates=None, count=1, heights=(15.0, 35.0), **limits):
    """Return a Question of one tank with a zone for each (low, high) band."""
    tank = Tank(*size_cm)
    zones = tuple(b if isinstance(b, Zone) else zone(tank, *b) for b in bands)
    hung = Limits(heights, (0.0, tank.length_cm), (0.0, tank.width_cm), count, **limits)
    return Question(tank, zones, candidates or (panel(),), hung)


def hung(beam_deg, places_cm, height_cm, level=1.0):
    """Return a Layout of the first candidate alone."""
    return Layout((HungKind(0, beam_deg, tuple(places_cm), height_cm, level),))

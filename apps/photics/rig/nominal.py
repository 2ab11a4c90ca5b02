"""What a rig is taken for before any reading: shared parameters, and what is usual for a beam."""

import numpy as np

from apps.photics.ground.scene import Fixture

# How many parameters all fixtures share, by definition in the list of `rig.py`, and their places.
SHARED = 8
BEAM, EDGE, SPILL, ATTENUATION, PANE, BOTTOM, FACE_X, FACE_Y = range(SHARED)
# What a rig is taken for before any reading. Edge between a bare diode (1) and a reflector (2),
# spill an eighth of the core, K and returns of a clear, sparsely sanded tank: our own choice.
NOMINAL_SHARED = np.array([0.0, 1.6, np.log(0.12), np.log(0.003), -0.03, np.log(0.2), 0.0, 0.0])

# A diode without an optic shines by Lambert's law: 120 degrees wide, with an edge of 1. A beam as
# wide may be one or a wide reflector's, so its edge is taken near that; from LENS_DEG down it is
# shaped by an optic [degrees, 1]. Our own choice.
LENS_DEG, BARE_DEG, BARE_EDGE = 90.0, 120.0, 1.2
# Edge and spill by what shapes a beam [1]. A diode or a diffusing plate shines as a power of the
# cosine, whose edge is 1; a lens throws a flat top with a soft shoulder, whose edge is fitted best
# by 2.8, taken a little softer; a reflector throws a bell, whose edge is about 1 too, and what its
# rim lets out. Chosen, because these shapes give them; makes differ.
EMITTER_EDGE = {"bare": 1.0, "diffuser": 1.0, "lens": 2.6, "reflector": 1.0}
EMITTER_SPILL = {"bare": 0.03, "diffuser": 0.1, "lens": 0.1, "reflector": 0.1}


def usual_spill(fixture: Fixture) -> float:
    """Return the log spill a fixture's beam is taken to have before any reading [log]."""
    if fixture.optic is not None or not fixture.emitter:
        return float(NOMINAL_SHARED[SPILL])
    return float(np.log(EMITTER_SPILL[fixture.emitter]))


def usual_edge(fixture: Fixture) -> float:
    """Return the edge a fixture's beam is taken to have before any reading [1]."""
    shaped = float(NOMINAL_SHARED[EDGE])
    if fixture.optic is not None:
        # What it was measured to send is held against the shaped intensity.
        return shaped
    if fixture.emitter:
        return EMITTER_EDGE[fixture.emitter]
    return float(np.interp(fixture.beam_deg, (LENS_DEG, BARE_DEG), (shaped, BARE_EDGE)))

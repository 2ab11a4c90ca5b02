"""How much of a fixture's light misses the water: what falls past the rim or into the room."""

import numpy as np

from apps.photics.ground.scene import Fixture
from apps.photics.optics.beam import half_logcos, intensity, lay_emitters
from apps.photics.rig.rig import EDGE, NOMINAL_SHARED, SPILL

# Cells along each side of the surface the light is counted on.
CELLS = 24


def spill_share(fixture: Fixture, tank, shared=NOMINAL_SHARED):
    """Return the share of a fixture's light that does not fall on the open water surface [1].

    Straight light of a fixture that hangs level, by its measured optic or the nominal lobe of its
    beam; a lid or a reflecting canopy is not counted.
    """
    offsets = lay_emitters(fixture).offset
    half = float(half_logcos(fixture.beam_deg))
    shape = {
        "half": half,
        "edge": shared[EDGE],
        "spill": 2.0 * (1.0 - np.exp(-half)) * np.exp(shared[SPILL]),
    }
    x = (np.arange(CELLS) + 0.5) / CELLS * tank.length_cm
    y = (np.arange(CELLS) + 0.5) / CELLS * tank.width_cm
    height = max(fixture.height_cm, 1.0)
    dx = x[None, :, None] - (fixture.x_cm + offsets[:, 0])[:, None, None]
    dy = y[None, None, :] - (fixture.y_cm + offsets[:, 1])[:, None, None]
    far2 = dx * dx + dy * dy + height * height
    cos = height / np.sqrt(far2)
    cell = tank.length_cm * tank.width_cm / CELLS**2
    sends = intensity(cos, **shape)
    cosines = (np.arange(2000) + 0.5) / 2000
    sent = intensity(cosines, **shape)
    if fixture.optic is not None:
        turns = np.degrees(np.arctan2(dy, dx)) - fixture.turn_deg
        sends = sends * fixture.optic.look_up(np.degrees(np.arccos(cos)), turn_deg=turns)[0]
        sent = sent * fixture.optic.mean_ratio(np.arccos(cosines))
    caught = (sends * cos / far2).sum() * cell / len(offsets)
    sent = 2.0 * np.pi * sent.mean()
    return float(np.clip(1.0 - caught / sent, 0.0, 1.0))

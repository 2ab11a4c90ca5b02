"""How much of a fixture's light misses the water: what falls past the rim or into the room."""

import numpy as np

from apps.photics.ground.arrays import FloatArray
from apps.photics.ground.scene import Fixture, Tank
from apps.photics.optics.beam import half_logcos, intensity, lay_emitters
from apps.photics.rig.nominal import EDGE, NOMINAL_SHARED, SPILL

# Cells along each side of the surface the light is counted on: chosen, because from 10 cm up four
# times as many change the share by less than a hundredth; a narrow beam at 5 cm needs more.
CELLS = 24
# Bands of equal cosine that all light is counted in: chosen, because it is counted fast.
BANDS = 2000
# No fixture is taken to hang lower [cm]: chosen, because light close to a point has no bound.
HEIGHT_LEAST_CM = 1.0


def light_lost(fixture: Fixture, tank: Tank, *, shared: FloatArray = NOMINAL_SHARED) -> float:
    """Return the share of a fixture's light that does not fall on the open water surface [1].

    `shared` (8,) a rig's shared parameters [log]. Straight light of a fixture that hangs level, by
    its measured optic or the nominal intensity distribution of its beam, by geometry and the
    inverse-square law; a lid or a reflecting canopy is not counted.
    """
    half = float(half_logcos(fixture.beam_deg))
    edge = float(shared[EDGE])
    spill = float(2.0 * (1.0 - np.exp(-half)) * np.exp(shared[SPILL]))
    offsets = lay_emitters(fixture).offset
    x = (np.arange(CELLS) + 0.5) / CELLS * tank.length_cm
    y = (np.arange(CELLS) + 0.5) / CELLS * tank.width_cm
    height = max(fixture.height_cm, HEIGHT_LEAST_CM)
    dx = x[None, :, None] - (fixture.x_cm + offsets[:, 0])[:, None, None]
    dy = y[None, None, :] - (fixture.y_cm + offsets[:, 1])[:, None, None]
    far2 = dx * dx + dy * dy + height * height
    cos = height / np.sqrt(far2)
    cell = tank.length_cm * tank.width_cm / CELLS**2
    open_to = ~tank.outside(x[:, None], y[None, :])[None]
    sends = intensity(cos, half=half, edge=edge, spill=spill)
    cosines = (np.arange(BANDS) + 0.5) / BANDS
    sent = intensity(cosines, half=half, edge=edge, spill=spill)
    if fixture.optic is not None:
        turns = np.degrees(np.arctan2(dy, dx)) - fixture.turn_deg
        sends = sends * fixture.optic.look_up(np.degrees(np.arccos(cos)), turn_deg=turns)[0]
        sent = sent * fixture.optic.mean_ratio(np.arccos(cosines))
    caught = (sends * cos / far2 * open_to).sum() * cell / len(offsets)
    return float(np.clip(1.0 - caught / (2.0 * np.pi * sent.mean()), 0.0, 1.0))

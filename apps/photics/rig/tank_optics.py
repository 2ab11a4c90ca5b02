"""Water, panes and bottom of a tank, as usual before any reading or as a survey measured them."""

from dataclasses import dataclass

from apps.photics.ground.arrays import FloatArray
from apps.photics.rig.nominal import ATTENUATION, BOTTOM, NOMINAL_SHARED, PANE
from apps.photics.rig.prior import PriorDeviations

OF_TANK = (ATTENUATION, PANE, BOTTOM)


@dataclass(frozen=True)
class TankLaw:
    """Water, panes and bottom as a rig knows them: means and deviations of their logs, (3,) each.

    In order: K [1/cm], reflectance of a pane [1], share the bottom returns [1].
    """

    means: tuple[float, float, float]
    deviations: tuple[float, float, float]

    def shared(self) -> FloatArray:
        """Return the rig's shared parameters (8,) [log] with these in their places."""
        shared = NOMINAL_SHARED.copy()
        shared[list(OF_TANK)] = self.means
        return shared


# Before any reading: chosen as a clear tank, sparsely sanded.
USUAL_LAW = TankLaw(
    (
        float(NOMINAL_SHARED[ATTENUATION]),
        float(NOMINAL_SHARED[PANE]),
        float(NOMINAL_SHARED[BOTTOM]),
    ),
    (PriorDeviations.attenuation, PriorDeviations.pane, PriorDeviations.bottom),
)

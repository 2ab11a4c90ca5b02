"""The points that a form of the plan would lay out, drawn before they are planned."""

from dataclasses import dataclass

from apps.drawing.section import section_frame
from apps.surveys.plan.drawing import PointDrawing, draw_points
from apps.surveys.plan.forms import PlanForm
from apps.tanks.models import Tank

# In which order the points of each pattern are read.
ORDERS = {
    PlanForm.GRID: "back and forth so that each is beside the last",
    PlanForm.FRONT: "back and forth so that each is beside the last",
    PlanForm.RING: "once round at each depth",
    PlanForm.CORALS: "coral by coral",
    PlanForm.SUGGESTED: "the most telling first",
}


@dataclass(frozen=True)
class ProposedPoint:
    """A point that is not planned yet, by the number it would get."""

    number: int
    x_cm: float
    y_cm: float
    depth_cm: float
    reading: None = None


@dataclass(frozen=True)
class DepthLine:
    """A depth of the plan [cm], and where its line lies on the view from the front."""

    depth_cm: float
    y: float


@dataclass(frozen=True)
class Proposal:
    """How many points a form gives, in which order and where, and a sentence on what it lacks."""

    count: int
    order: str
    sentence: str
    plan: PointDrawing
    side: PointDrawing
    depths: tuple[DepthLine, ...]

    @property
    def depth_count(self) -> int:
        return len(self.depths)


def proposal_of(form: PlanForm, tank: Tank, unit: str) -> Proposal:
    """Return the Proposal of a valid form."""
    places, sentence = form.places()
    points = [
        ProposedPoint(number, place.x_cm, place.y_cm, place.depth_cm)
        for number, place in enumerate(places, start=1)
    ]
    plan, side = draw_points(tank, points, unit=unit)
    asks_depths = "depths" in PlanForm.NEEDS[form.cleaned_data["pattern"]]
    frame, depths_cm = section_frame(tank), form.cleaned_data["depths"] if asks_depths else []
    lines = tuple(DepthLine(depth, round(float(frame.y(depth)), 1)) for depth in depths_cm)
    return Proposal(len(points), ORDERS[form.cleaned_data["pattern"]], sentence, plan, side, lines)

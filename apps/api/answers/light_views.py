"""The light of a tank over REST: at points and on planes, at any date, with its interval."""

import datetime as dt
from collections.abc import Mapping, Sequence

import numpy as np
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework.exceptions import ValidationError
from rest_framework.generics import GenericAPIView
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.answers.light_serializers import (
    ADDRESS_POINTS_MAX,
    PLANE_NODES_MAX,
    PlaneAskedSerializer,
    PlaneSerializer,
    PointsAskedSerializer,
    TankLightSerializer,
)
from apps.api.filtering import refuse_unknown
from apps.api.views import FixedParentMixin
from apps.lightmap.lightmap import tank_light
from apps.lightmap.spot_light import LightColumns, Provenance
from apps.photics.ground.arrays import FloatArray
from apps.tanks.access import readable_tank
from apps.tanks.models import Tank

# A plane where no step is named has this many nodes along the longer side.
USUAL_NODES = 40
AXES = ("x_cm", "y_cm", "depth_cm")
POINT = "A point is three numbers: x,y,depth in cm."


class OfTankLight(FixedParentMixin, GenericAPIView):
    """An answer about the light of one tank, for all who may read it, whatever the method."""

    pagination_class = None
    # A token to read may ask by POST too.
    only_reads = True

    def find_parent(self) -> Tank:
        return readable_tank(self.request.user, self.kwargs["tank_pk"])

    def checked(self, serializer_class: type, data: Mapping) -> dict:
        """Return the query as the tank's own clock reads it; raise ValidationError."""
        with timezone.override(self.tank.zone):
            query = serializer_class(data=data)
            query.is_valid(raise_exception=True)
        return query.validated_data

    def answer(self, serializer_class: type, data: Mapping) -> Response:
        with timezone.override(self.tank.zone):
            return Response(serializer_class(data).data)


class LightAtPointsView(OfTankLight):
    """The light at spots of a tank [umol m-2 s-1] with its 90 % interval, and its daily light.

    GET takes some spots in the address, POST many in its body; neither writes anything.
    """

    serializer_class = TankLightSerializer

    @extend_schema(
        parameters=[
            OpenApiParameter(
                "point", {"type": "array", "items": {"type": "string"}},
                description=f"x,y,depth in cm; up to {ADDRESS_POINTS_MAX} of them.",
            ),
            OpenApiParameter("at", dt.datetime, description="Now where it is left out."),
        ]
    )  # fmt: skip
    def get(self, request: Request, tank_pk: int) -> Response:
        refuse_unknown(request, {"point", "at"})
        named = request.query_params.getlist("point")
        if len(named) > ADDRESS_POINTS_MAX:
            raise ValidationError({"point": [f"At most {ADDRESS_POINTS_MAX}; POST takes more."]})
        data = {"points": [point_of(text) for text in named]}
        if "at" in request.query_params:
            data["at"] = request.query_params["at"]
        return self.lit(data)

    @extend_schema(request=PointsAskedSerializer)
    def post(self, request: Request, tank_pk: int) -> Response:
        return self.lit(request.data)

    def lit(self, data: Mapping) -> Response:
        """Answer with the light of the spots of a body."""
        query = self.checked(PointsAskedSerializer, data)
        at, points = query.get("at") or timezone.now(), query["points"]
        rows = [(p["x_cm"], p["y_cm"], p["depth_cm"]) for p in points]
        columns, rests_on = light_of(self.tank, rows, at)
        return self.answer(
            TankLightSerializer,
            {"at": at, "rests_on": rests_on, "points": lit_points(points, columns)},
        )


class LightPlaneView(OfTankLight):
    """The light on one level or upright plane of a tank, on a grid of nodes, with its interval.

    The cut is at `depth_cm` (seen from above), `y_cm` (from the front) or `x_cm` (from the
    side); where none is named, at half the depth of the water.
    """

    serializer_class = PlaneSerializer

    @extend_schema(parameters=[PlaneAskedSerializer])
    def get(self, request: Request, tank_pk: int) -> Response:
        refuse_unknown(request, {"at", "step_cm", *AXES})
        query = self.checked(PlaneAskedSerializer, request.query_params.dict())
        at = query.get("at") or timezone.now()
        cut = next((axis for axis in AXES if axis in query), "depth_cm")
        sides = dict(
            zip(AXES, (self.tank.length_cm, self.tank.width_cm, self.tank.depth_cm), strict=True)
        )
        cut_at = query.get(cut, sides[cut] / 2)
        if not 0 <= cut_at <= sides[cut]:
            raise ValidationError({cut: [f"The tank reaches from 0 to {sides[cut]:g}."]})
        across, down = (axis for axis in AXES if axis != cut)
        columns, rows = axes_of_plane(sides[across], sides[down], query.get("step_cm"))
        points = plane_points({cut: cut_at, across: columns, down: rows}, across, down)
        lit, rests_on = light_of(self.tank, points, at)
        shape = len(rows), len(columns)
        names = ("par_umol", "low_umol", "high_umol")
        return self.answer(
            PlaneSerializer,
            {
                "at": at, "rests_on": rests_on, "across": across, "down": down,
                "cut": cut, "cut_at_cm": cut_at,
                "columns_cm": columns.tolist(), "rows_cm": rows.tolist(),
            } | {name: rows_of(lit, name, shape) for name in names},
        )  # fmt: skip


def point_of(text: str) -> dict[str, str]:
    """Return the point that an address names; raise ValidationError."""
    parts = text.split(",")
    if len(parts) != len(AXES):
        raise ValidationError({"point": [POINT]})
    return dict(zip(AXES, parts, strict=True))


def light_of(
    tank: Tank, points_cm: Sequence[tuple[float, float, float]] | FloatArray, at: dt.datetime
) -> tuple[LightColumns | None, dict | None]:
    """Return the light at points (m, 3) [cm] of a moment, and what it rests on; None, None if dark.

    Without a point what it rests on is still said.
    """
    light = tank_light(tank)
    serving = light.map_for(at)
    if serving is None:
        return None, None
    return light.columns_at(points_cm, at), shown_provenance(light.provenance(serving, at))


def shown_provenance(rests_on: Provenance) -> dict:
    """Return a Provenance by the names of the answer; no survey where none carries a map."""
    measured = rests_on["measured"]
    return {
        **rests_on,
        "survey_id": rests_on["survey_pk"] if measured else None,
        "surveyed_at": rests_on["surveyed_at"] if measured else None,
    }


def lit_points(points: Sequence[dict], columns: LightColumns | None) -> list[dict]:
    """Return points with their light; every number is None where there is none."""
    dark = dict.fromkeys(("par_umol", "low_umol", "high_umol", "dli_mol", "beyond_readings"))
    if columns is None:
        return [point | dark for point in points]
    rows = columns.rows()
    return [
        point | dark
        if row is None
        else point | {
            "par_umol": row.par_umol, "low_umol": row.low_umol, "high_umol": row.high_umol,
            "dli_mol": row.dli_mol, "beyond_readings": row.extrapolated,
        }
        for point, row in zip(points, rows, strict=True)
    ]  # fmt: skip


def axes_of_plane(
    across_cm: float, down_cm: float, step_cm: float | None
) -> tuple[FloatArray, FloatArray]:
    """Return the nodes along both sides of a plane [cm], edges included; raise ValidationError."""
    step = step_cm or max(across_cm, down_cm) / USUAL_NODES
    counts = [max(2, round(side / step) + 1) for side in (across_cm, down_cm)]
    if counts[0] * counts[1] > PLANE_NODES_MAX:
        enough = (across_cm * down_cm / PLANE_NODES_MAX) ** 0.5 * 1.05
        raise ValidationError(
            {"step_cm": [f"More than {PLANE_NODES_MAX} nodes. Take {enough:.1f} cm or more."]}
        )
    return np.linspace(0, across_cm, counts[0]), np.linspace(0, down_cm, counts[1])


def plane_points(held: Mapping[str, float | FloatArray], across: str, down: str) -> FloatArray:
    """Return the nodes of a plane as points (m, 3) [cm], row by row."""
    columns, rows = np.meshgrid(held[across], held[down])
    grids = {across: columns, down: rows}
    return np.stack(
        [np.broadcast_to(grids.get(axis, held[axis]), columns.shape).ravel() for axis in AXES], 1
    )


def rows_of(
    columns: LightColumns | None, name: str, shape: tuple[int, int]
) -> list[list[float | None]]:
    """Return one quantity of a plane's nodes as rows, None where there is no light to tell."""
    if columns is None:
        return [[None] * shape[1]] * shape[0]
    values = np.where(columns.inside, np.nan, getattr(columns, name)).reshape(shape)
    return [[None if value != value else value for value in row] for row in values.tolist()]

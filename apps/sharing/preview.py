"""The picture that a chat shows beside a shared link: the light from the front, and its scale."""

import hashlib
import io

import numpy as np
from django.utils import timezone
from PIL import Image, ImageColor, ImageDraw, ImageFont

from apps.common.kept import kept
from apps.drawing.legend import PAR_SCALE
from apps.lightmap.lightmap import tank_light
from apps.tanks.models import Tank

# What chats cut a preview to [pixels]; the drawing keeps clear of the edges.
SIZE = (1200, 630)
EDGE, LEGEND_HEIGHT, WORDS_SIZE, NUMBERS_SIZE = 40, 34, 34, 20
PAPER, INK, OUTSIDE = "#f7f3ea", "#22302a", (214, 205, 188)
POINTS_ACROSS = 150


def preview_png(tank: Tank) -> bytes | None:
    """Return the picture of a tank's light now, None where nothing is known of it."""
    cut_cm = tank.width_cm / 2.0
    count = POINTS_ACROSS, max(1, round(POINTS_ACROSS * tank.depth_cm / tank.length_cm))
    x, depth = (
        (np.arange(n) + 0.5) * side / n
        for n, side in zip(count, (tank.length_cm, tank.depth_cm), strict=True)
    )
    at_depth, at_x = np.meshgrid(depth, x, indexing="ij")
    points = np.column_stack([at_x.ravel(), np.full(at_x.size, cut_cm), at_depth.ravel()])
    light = tank_light(tank).columns_at(points, timezone.now())
    if light is None:
        return None
    par = np.where(light.inside, np.nan, light.par_umol).reshape(at_x.shape).round(1)
    key = hashlib.sha256(par.tobytes() + repr(par.shape).encode()).hexdigest()
    return kept(f"preview-{key}", lambda: drawn(par, "PAR from the front, cut in the middle"))


def drawn(par, words: str) -> bytes:
    """Return the PNG of PAR (rows, columns) [umol m-2 s-1]; nan is no water."""
    palette = np.array([ImageColor.getrgb(c) for c in PAR_SCALE.colours], np.uint8)
    bands = np.searchsorted(PAR_SCALE.levels, np.nan_to_num(par), side="right")
    pixels = np.where(np.isnan(par)[..., None], np.uint8(OUTSIDE), palette[bands])
    picture = Image.new("RGB", SIZE, PAPER)
    pen = ImageDraw.Draw(picture)
    pen.text((EDGE, EDGE - 12), words, INK, font=ImageFont.load_default(WORDS_SIZE))
    top, foot = EDGE + 44, SIZE[1] - EDGE - LEGEND_HEIGHT - 44
    room = SIZE[0] - 2 * EDGE, foot - top
    scale = min(room[0] / par.shape[1], room[1] / par.shape[0])
    size = round(par.shape[1] * scale), round(par.shape[0] * scale)
    plan = Image.fromarray(pixels).resize(size, Image.Resampling.NEAREST)
    picture.paste(plan, ((SIZE[0] - size[0]) // 2, top + (room[1] - size[1]) // 2))
    _draw_legend(pen, SIZE[1] - EDGE - LEGEND_HEIGHT)
    out = io.BytesIO()
    picture.quantize(64).save(out, "PNG", optimize=True)
    return out.getvalue()


def _draw_legend(pen: ImageDraw.ImageDraw, top: int) -> None:
    width = (SIZE[0] - 2 * EDGE) / len(PAR_SCALE.colours)
    font = ImageFont.load_default(NUMBERS_SIZE)
    for at, colour in enumerate(PAR_SCALE.colours):
        left = EDGE + at * width
        pen.rectangle((left, top, left + width, top + LEGEND_HEIGHT), colour)
    for at, level in enumerate(PAR_SCALE.levels, start=1):
        place = EDGE + at * width, top + LEGEND_HEIGHT + 4
        pen.text(place, f"{level:g}", INK, font=font, anchor="ma")

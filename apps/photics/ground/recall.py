"""Geometry kept for a moment: several rigs ask for the same of the same points, one after another.

Only a memory: the answer is the same with it or without.
"""

from collections.abc import Callable, Hashable
from functools import lru_cache
from typing import TypeVar, cast

import numpy as np

from apps.photics.ground.arrays import RealArray

# Chunks of points remembered: chosen, because a dozen are a few MB in all.
CHUNKS = 12


Answer = TypeVar("Answer")


def recall(work: Callable[..., Answer], points_cm: RealArray, *scene: Hashable) -> Answer:
    """Return work(points_cm, *scene), from memory where the same was just worked out.

    `work` depends on nothing else; `points_cm` (n, 3) [cm]; `scene` what else it takes, hashable.
    The answer is shared: nobody writes into it.
    """
    points = np.ascontiguousarray(points_cm)
    raw = points.tobytes()
    # The memory keeps answers of any kind; this one is what `work` gives.
    return cast(Answer, _recalled(work, raw, points.shape, points.dtype.str, scene))


@lru_cache(maxsize=CHUNKS)
def _recalled(
    work: Callable[..., object],
    raw: bytes,
    shape: tuple[int, ...],
    dtype: str,
    scene: tuple[Hashable, ...],
) -> object:
    return work(np.frombuffer(raw, dtype).reshape(shape), *scene)

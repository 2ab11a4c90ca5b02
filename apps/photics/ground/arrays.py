"""The arrays of the light field, named by what they hold; units and shapes are said where used."""

from typing import TypeVar

import numpy as np
from numpy.typing import ArrayLike, NDArray

__all__ = [
    "ArrayLike",
    "BoolArray",
    "FloatArray",
    "FloatOrArray",
    "IntArray",
    "LabelArray",
    "RealArray",
]

FloatArray = NDArray[np.float64]
# In the precision of what it was made from, single or double.
RealArray = NDArray[np.floating]
IntArray = NDArray[np.integer]
BoolArray = NDArray[np.bool_]
# Whole numbers or words that only tell which of several things a row is of.
LabelArray = NDArray[np.generic]
# What comes as one number goes as one, what comes as an array goes as an array of its shape.
FloatOrArray = TypeVar("FloatOrArray", float, FloatArray)

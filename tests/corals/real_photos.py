"""Real photographs that packages of the tests ship, none of a person, with a white card laid in.

coffee and chelsea (a cat) of scikit-image are CC0 by their photographers; flower of scikit-learn is
CC BY 2.0 (its images/README.txt names whom to thank).
"""

import numpy as np
from skimage import data
from sklearn.datasets import load_sample_image

from apps.photics.ground.regions import BOX, ELLIPSE, Region

# The photo and where something of one colour lies in it: the saucer's rim, fur, a petal.
REAL = {
    "coffee": (data.coffee, Region(ELLIPSE, ((0.30, 0.30), (0.50, 0.50)))),
    "chelsea": (data.chelsea, Region(ELLIPSE, ((0.55, 0.62), (0.75, 0.85)))),
    "flower": (
        lambda: load_sample_image("flower.jpg"),
        Region(ELLIPSE, ((0.40, 0.35), (0.55, 0.60))),
    ),
}
CARD_AT = Region(BOX, ((0.04, 0.06), (0.16, 0.26)))
CARD_CODE = 215


def photographed(name):
    """The codes (h, w, 3) of a real photo with a card in its corner, and the Region to measure."""
    load, region = REAL[name]
    codes = np.array(load())
    height, width = codes.shape[:2]
    codes[int(0.03 * height) : int(0.30 * height), int(0.02 * width) : int(0.19 * width)] = (
        CARD_CODE
    )
    return codes, region

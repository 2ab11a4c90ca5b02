"""What a tube still gives as it ages: a like share lost in each 1,000 hours of light."""

from apps.photics.ground.arrays import FloatOrArray

# Hours a loss is stated for [h]: chosen, because makers of tubes state it so.
HOURS = 1000.0


def aged_proportion(lit_hours: FloatOrArray, *, loss_percent: float) -> FloatOrArray:
    """Return the share of its first light a source still gives, of the shape of the hours [1].

    `lit_hours` scalar or array, since it was new [h]; `loss_percent` what is lost in 1,000 h
    [%], 0 to below 100. The loss compounds, so any stretch of hours can be reckoned on its own.
    Our own choice: makers state the output after so many hours, not the way there.

    >>> round(aged_proportion(2000.0, loss_percent=10.0), 4)
    0.81
    """
    left: FloatOrArray = (1.0 - loss_percent / 100.0) ** (lit_hours / HOURS)
    return left

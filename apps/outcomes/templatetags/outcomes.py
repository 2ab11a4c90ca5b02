"""Words for what the outcomes say: p-values, factors, differences."""

import math

from django import template

from apps.corals.models import Coral

register = template.Library()

# A difference below this is shown as none [umol m-2 s-1]: meters show whole numbers.
NO_DIFFERENCE_UMOL = 0.5
# Below this share a decimal counts [1].
PERCENT_WHOLE = 0.095
# An interval that reaches further has no end worth telling [1].
FACTOR_SHOWN_MAX = 1000


@register.filter
def p_value(value):
    """Show a p-value with two digits that count, never as zero."""
    if value < 0.001:
        return "below 0.001"
    return f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


@register.filter
def factor(value):
    """Show a factor [1] with two decimals, fewer when it is large."""
    if value < 10:
        return f"{value:.2f}"
    return f"{value:.0f}" if value < FACTOR_SHOWN_MAX else f"over {FACTOR_SHOWN_MAX}"


@register.filter
def per_hundred(share):
    """Show a share [1] as a whole number of a hundred."""
    return f"{100 * share:.0f}"


@register.filter
def percent(share):
    """Show a share [1] in percent, with a decimal where it is small."""
    return f"{100 * share:.0f}" if share >= PERCENT_WHOLE else f"{100 * share:.1f}"


@register.filter
def more_than(difference_umol):
    """Tell a difference of PAR [umol m-2 s-1]: "55 more than", "the same as"."""
    if abs(difference_umol) < NO_DIFFERENCE_UMOL:
        return "the same as"
    word = "more" if difference_umol > 0 else "less"
    return f"{abs(difference_umol):.0f} {word} than"


@register.filter
def is_number(value):
    """Tell whether a figure exists: those that do not are nan."""
    return not math.isnan(value)


@register.filter
def doublings(log2):
    """Turn doublings into a factor [1]."""
    return 2**log2


@register.filter
def bin_words(low, high):
    """Name a bin of ratios: "below 0.5", "0.93 to 1.07", "2 and more"."""
    if low == 0:
        return f"below {high:g}"
    return f"{low:g} and more" if math.isinf(high) else f"{low:g} to {high:g}"


@register.filter
def group_words(group):
    """Name a coral group as keepers say it."""
    return Coral(group=group).group_short()

"""Words for what the outcomes say: p-values, factors, differences."""

from django import template

register = template.Library()

# A difference below this is told as none [umol m-2 s-1]: meters show whole numbers.
NO_DIFFERENCE_UMOL = 0.5


@register.filter
def p_value(value):
    """Show a p-value with two digits that count, never as zero."""
    if value < 0.001:
        return "below 0.001"
    return f"{value:.3f}" if value < 0.1 else f"{value:.2f}"


@register.filter
def factor(value):
    """Show a factor [1] with two decimals, fewer when it is large."""
    return f"{value:.2f}" if value < 10 else f"{value:.0f}"


@register.filter
def per_hundred(share):
    """Show a share [1] as a whole number of a hundred."""
    return f"{100 * share:.0f}"


@register.filter
def more_than(difference_umol):
    """Tell a difference of PAR [umol m-2 s-1]: "55 more than", "the same as"."""
    if abs(difference_umol) < NO_DIFFERENCE_UMOL:
        return "the same as"
    word = "more" if difference_umol > 0 else "less"
    return f"{abs(difference_umol):.0f} {word} than"

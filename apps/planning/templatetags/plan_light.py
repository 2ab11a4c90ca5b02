"""A band of light said both ways: as PAR, and as the daily light it makes in a tank's hours."""

from django import template

from apps.photics.ground.dose import dli_mol

register = template.Library()


@register.simple_tag
def band_words(low_umol: float, high_umol: float, full_hours: float | None) -> str:
    """Return a band [umol m-2 s-1] in words, with its daily light where the hours are known [h]."""
    par = f"PAR {low_umol:.0f}–{high_umol:.0f}"
    if not full_hours:
        return par
    low, high = (dli_mol(end, full_hours=full_hours) for end in (low_umol, high_umol))
    return f"{par} ({low:.1f}–{high:.1f} mol a day)"

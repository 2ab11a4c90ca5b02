"""Template words every page may use: lengths in the keeper's unit, PAR, DLI, undo."""

import datetime as dt

from django import template
from django.conf import settings
from django.contrib.messages.storage.base import Message
from django.template import Context
from django.template.defaultfilters import floatformat
from django.urls import reverse
from django.utils.html import format_html

from apps.common.idempotency import FIELD, MARK, new_mark
from apps.common.moments import day_text
from apps.common.pages_above import page_above
from apps.common.removal import UNDO_TAG
from apps.common.templatetags.icons import drawn_icon
from apps.common.units import (
    GAP,
    JOINER,
    UNSURE_WORDS,
    format_length,
    hours_words,
    is_unsure,
    percent_words,
)
from apps.photics.ground.lengths import CM, from_cm
from apps.photics.ground.usual_bands import band_dli_mol

register = template.Library()
register.simple_tag(page_above, name="above")
register.filter("hours", hours_words)


@register.simple_tag(takes_context=True)
def length(context: Context, value_cm: float | None, *, bare: bool = False) -> str:
    """Show a length [cm] in the reader's unit, with the unit unless bare."""
    unit = reader_unit(context)
    text = format_length(value_cm, unit)
    return text if bare or not text else f"{text} {unit}".replace(" ", GAP)


@register.simple_tag(takes_context=True)
def length_number(context: Context, value_cm: float | None) -> str:
    """Show a length [cm] in the reader's unit as a slider takes it: with decimals, no fraction."""
    return format_length(value_cm, reader_unit(context), places=1)


@register.simple_tag(takes_context=True)
def length_unit(context: Context) -> str:
    """Name the reader's unit of length."""
    return reader_unit(context)


@register.simple_tag(takes_context=True)
def length_word(context: Context) -> str:
    """Name the reader's unit in a sentence: "in inches" reads better than "in in"."""
    return CM if reader_unit(context) == CM else "inches"


@register.simple_tag(takes_context=True)
def measure(context: Context, value: float, unit: str) -> str:
    """Show a fitted number with its unit; a length [cm] in the reader's."""
    own = reader_unit(context)
    return f"{from_cm(value, own):.3g}{GAP}{own}" if unit == CM else f"{value:.3g}{GAP}{unit}"


@register.simple_tag
def band_words(
    low_umol: float, high_umol: float, full_hours: float | None, *, over: bool = True
) -> str:
    """Say a band [umol m-2 s-1] as PAR, and as daily light where the hours are known [h].

    Without `over` the page says the hours elsewhere.
    """
    par = f"PAR {low_umol:.0f}–{high_umol:.0f}"
    if not full_hours:
        return par
    low, high = band_dli_mol((low_umol, high_umol), full_hours=full_hours)
    hours = f" for {hours_words(full_hours)}" if over else ""
    return f"{par}{hours} ({low:.1f}–{JOINER}{high:.1f}{GAP}mol a{GAP}day)"


def reader_unit(context: Context) -> str:
    """Return the unit lengths are shown in: the page's own choice, then the reader's, then cm."""
    if context.get("unit"):
        return context["unit"]
    request = context.get("request")
    user = getattr(request, "user", None)
    return getattr(user, "units", CM) if user and user.is_authenticated else CM


@register.simple_tag(takes_context=True)
def form_mark(context: Context) -> str:
    """Give a form that makes a row its mark, so that sent twice it makes one (`idempotency.py`)."""
    request = context.get("request")
    sent = request.POST.get(FIELD, "") if request else ""
    mark = sent if MARK.fullmatch(sent) else new_mark()
    # Off: a browser that fills a page again after a reload would bring the old mark back.
    return format_html(
        '<input type="hidden" name="{}" value="{}" autocomplete="off" data-keep-hidden>',
        FIELD,
        mark,
    )


@register.filter
def par(value_umol: float | None) -> str:
    """Show PAR [umol m-2 s-1] as a whole number; one decimal below 10."""
    if value_umol is None:
        return "–"
    return f"{value_umol:.0f}" if value_umol >= 10 else f"{value_umol:.1f}"


@register.filter
def dli(value_mol: float | None) -> str:
    """Show a daily light integral [mol m-2 d-1] with one decimal."""
    return "–" if value_mol is None else f"{value_mol:.1f}"


@register.filter
def with_percent(percent: float | str | None, digits: int | str = 0) -> str:
    """Show a percentage [%] with its sign on one line; `digits` as of floatformat."""
    return f"{floatformat(percent, digits)}{GAP}%"


@register.filter(name="plus_minus")
def plus_minus_shown(half_percent: float, digits: int | str = 0) -> str:
    """Show half an interval [% of the value], "± 18 %"; of an absurd one, that it is one."""
    if is_unsure(half_percent):
        return UNSURE_WORDS
    return f"±{GAP}{with_percent(half_percent, digits)}"


@register.filter(name="is_unsure")
def is_unsure_shown(half_percent: float) -> bool:
    """Tell whether half an interval [% of the value] is too wide to be a figure."""
    return is_unsure(half_percent)


@register.filter
def day_words(day: str) -> str:
    """Show a day in ISO form as pages do, "3 Mar 2026"; any other text as it is."""
    try:
        return day_text(dt.date.fromisoformat(day))
    except ValueError:
        # Left by a job that began before days were kept in ISO form.
        return day


@register.filter
def by_percent(ratio: float, words: str = "brighter,dimmer") -> str:
    """Say a ratio of two lights [1] in words: "11 % brighter", "the same"."""
    more, less = words.split(",")
    percent = round(100 * (ratio - 1))
    if percent == 0:
        return "the same"
    return f"{percent_words(abs(percent), ',')} {more if percent > 0 else less}"


@register.filter
def signed_percent(ratio: float) -> str:
    """Show a ratio [1] as what it adds or takes: "+8 %", "−17 %", "0 %"."""
    percent = round(100 * (ratio - 1))
    sign = "+" if percent > 0 else "−" if percent < 0 else ""
    return f"{sign}{percent_words(abs(percent), ',')}"


@register.filter
def undo_url(message: Message) -> str:
    """Return the address that takes back what a message tells, or an empty text."""
    tags = message.extra_tags or ""
    return tags.removeprefix(UNDO_TAG) if tags.startswith(UNDO_TAG) else ""


@register.simple_tag
def term(key: str, words: str) -> str:
    """Link a word of the trade, where a page uses it first, to what the glossary says of `key`."""
    return format_html('<a class="term" href="{}#{}">{}</a>', reverse("glossary"), key, words)


@register.simple_tag
def icon(name: str, size: int = 20) -> str:
    """Draw an icon beside a word that says the same; screen readers pass it over."""
    return drawn_icon(name, size)


@register.simple_tag
def where_mails_end() -> str:
    """Return where mails end: "sent" to mailboxes, "printed" in a terminal, or "dropped"."""
    return settings.MAILS

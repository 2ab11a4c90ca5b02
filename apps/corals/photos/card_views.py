"""The colour card to print."""

from django.contrib.auth.decorators import login_required
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.corals.photos.card_drawing import card_drawing


@login_required
@require_GET
def colour_card(request):
    """Show the card at its true size, with how to print and check it."""
    return render(request, "corals/photos/colour_card.html", {"card": card_drawing()})

"""The front door."""

from django.shortcuts import redirect, render


def home(request):
    """Show what reeflog is to a visitor; take a keeper to their tanks."""
    if request.user.is_authenticated:
        return redirect("tank_list")
    return render(request, "home.html")

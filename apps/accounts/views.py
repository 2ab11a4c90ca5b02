"""The keeper's settings page, and where they are signed in."""

from allauth.account.decorators import reauthentication_required
from allauth.usersessions.views import list_usersessions
from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render
from django.views.decorators.http import require_http_methods

from apps.accounts.forms import SettingsForm
from apps.accounts.time_zones import time_zone_names


@login_required
@require_http_methods(["GET", "POST"])
def settings_edit(request):
    form = SettingsForm(request.POST or None, instance=request.user)
    if request.method == "POST" and form.is_valid():
        form.save()
        messages.success(request, "Settings saved.")
        return redirect("settings_edit")
    if form.errors:
        # A refused value must not colour the page it is shown on.
        request.user.refresh_from_db()
    context = {"form": form, "time_zones": time_zone_names()}
    return render(
        request, "accounts/settings_edit.html", context, status=422 if form.errors else 200
    )


@login_required
@reauthentication_required(allow_get=True)
def session_list(request):
    """Show where a keeper is signed in; others are ended by whoever knows the password."""
    return list_usersessions(request)

"""A keeper's way out of the site: all of the account goes, after a week."""

from django.contrib.auth import logout
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_http_methods

from apps.transfer.account.forms import LeavingForm
from apps.transfer.account.leaving import WAIT, begin_leaving, leaving_of

PAGE, DONE = "transfer/account/account_delete.html", "transfer/account/account_leaving.html"


@login_required
@require_http_methods(["GET", "POST"])
def account_delete(request: HttpRequest) -> HttpResponse:
    user = request.user
    is_sent = request.method == "POST"
    form = LeavingForm(request.POST, user=user) if is_sent else LeavingForm(user=user)
    if is_sent and form.is_valid():
        begin_leaving(user)
        context = {"leaves_at": user.leaves_at, "zone": user.time_zone, "email": user.email}
        logout(request)
        return render(request, DONE, context)
    context = {"form": form, "leaving": leaving_of(user), "wait_days": WAIT.days}
    return render(request, PAGE, context, status=422 if form.errors else 200)

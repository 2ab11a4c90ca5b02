"""A keeper's requests about their data, and the host's answers to them."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.views.decorators.http import require_http_methods

from apps.common.idempotency import once
from apps.hosting.data_requests.asking import TooManyWait, answer, ask
from apps.hosting.data_requests.forms import AnswerForm, DataRequestForm
from apps.hosting.models import WAITING_MOST, DataRequest
from apps.hosting.site.views import require_host


@login_required
@require_http_methods(["GET", "POST"])
@once()
def data_requests(request: HttpRequest) -> HttpResponse:
    """Show a keeper's requests with what became of them, and take a new one."""
    form = DataRequestForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        try:
            ask(
                keeper=request.user,
                kind=form.cleaned_data["kind"],
                words=form.cleaned_data["words"],
                site=request.build_absolute_uri(reverse("site_overview")),
            )
        except TooManyWait:
            waiting = f"You have {WAITING_MOST} requests waiting."
            form.add_error(None, f"{waiting} Send another when one is answered.")
        else:
            messages.success(request, "Request sent. The answer will appear here.")
            return redirect("data_requests")
    context = {"form": form, "requests": request.user.data_requests.all()}
    status = 422 if form.errors else 200
    return render(request, "hosting/data_requests.html", context, status=status)


@login_required
@require_http_methods(["GET", "POST"])
def site_request(request: HttpRequest, request_pk: int) -> HttpResponse:
    """Show the host one request, and take the answer."""
    require_host(request.user)
    row = get_object_or_404(DataRequest.objects.select_related("keeper"), pk=request_pk)
    initial = {"state": row.state, "words": row.answer}
    form = AnswerForm(request.POST if request.method == "POST" else None, initial=initial)
    if request.method == "POST" and form.is_valid():
        site = request.build_absolute_uri(reverse("data_requests"))
        answer(request=row, site=site, **form.cleaned_data)
        messages.success(request, "Answer saved.")
        return redirect("site_overview")
    status = 422 if form.errors else 200
    return render(request, "hosting/site_request.html", {"row": row, "form": form}, status=status)

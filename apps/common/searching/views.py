"""One search over all that a keeper may see."""

from django import forms
from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponse
from django.shortcuts import render
from django.views.decorators.http import require_GET

from apps.common.searching.hits import QUERY_CHARS_MAX, SEARCHED, HitGroup


class SearchForm(forms.Form):
    """What to look for; blank asks for nothing yet."""

    q = forms.CharField(
        label="A name, or words from a note or a plan",
        required=False,
        min_length=2,
        max_length=QUERY_CHARS_MAX,
        widget=forms.TextInput(attrs={"type": "search", "autocomplete": "off"}),
        error_messages={"min_length": "Type at least two letters."},
    )


@login_required
@require_GET
def search(request: HttpRequest) -> HttpResponse:
    form = SearchForm(request.GET if "q" in request.GET else None)
    query = form.cleaned_data["q"] if form.is_valid() else ""
    groups: list[HitGroup] = SEARCHED.collect(request.user, query) if query else []
    context = {"form": form, "query": query, "groups": groups}
    return render(request, "search.html", context, status=422 if form.errors else 200)

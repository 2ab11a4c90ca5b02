"""Adding many corals at once: bad lines are named, nothing typed is lost."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.shortcuts import redirect, render

from apps.common.idempotency import once
from apps.common.tables.reading import UnreadableTable
from apps.corals.coral.many_importing import CORALS_MAX, parse_corals
from apps.corals.coral.placing import add_corals
from apps.corals.forms import ManyCoralsForm
from apps.tanks.access import writable_tank


@login_required
@once()
def coral_many(request, tank_pk):
    tank = writable_tank(request.user, tank_pk)
    if request.method != "POST":
        first = {"added_on": tank.today(), "unit": request.user.units}
        return many_page(request, tank, ManyCoralsForm(initial=first), status=200)
    form = ManyCoralsForm(request.POST, request.FILES)
    if not form.is_valid():
        return many_page(request, tank, form)
    # The text of a file stands in the box from now on: a page can't put a chosen file back.
    data = form.cleaned_data | {"text": form.whole_text(), "file": None}
    names = tank.corals.present().living().values_list("name", flat=True)
    try:
        parsed = parse_corals(
            data["text"], tank=tank, added_on=data["added_on"], unit=data["unit"], names=names
        )
    except UnreadableTable as problem:
        form.add_error(form.table_field(), str(problem))
        return many_page(request, tank, form)
    # With bad lines among them nothing is added before the keeper says so.
    if parsed.good and (not parsed.bad or "good_only" in request.POST):
        add_corals([(new.coral, new.spot) for new in parsed.good])
        count = len(parsed.good)
        messages.success(request, f"Added {count} coral{'' if count == 1 else 's'}.")
        if not parsed.bad:
            return redirect("coral_list", tank.pk)
        form = ManyCoralsForm(initial={**data, "text": parsed.bad_text()})
        return many_page(request, tank, form, status=200, bad=parsed.bad)
    form = ManyCoralsForm(initial=data)
    return many_page(request, tank, form, bad=parsed.bad, good_count=len(parsed.good))


def many_page(request, tank, form, *, status=422, bad=(), good_count=0):
    context = {
        "tank": tank,
        "form": form,
        "bad": bad,
        "good_count": good_count,
        "most": CORALS_MAX,
        "sent_back": request.method == "POST",
    }
    return render(request, "corals/coral/coral_many.html", context, status=status)

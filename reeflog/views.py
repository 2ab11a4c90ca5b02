"""The front door, and the way out: all of a tank as one file."""

import tempfile

from django.contrib.auth.decorators import login_required
from django.http import FileResponse
from django.shortcuts import redirect, render
from django.utils.text import slugify
from django.views.decorators.http import require_GET

from apps.tanks.access import owned_tank
from reeflog.exporting import write_export

EXPORT_MEMORY_BYTES = 8_000_000


def home(request):
    """Show what reeflog is to a visitor; take a keeper to their tanks."""
    if request.user.is_authenticated:
        return redirect("tank_list")
    return render(request, "home.html")


@login_required
@require_GET
def tank_export(request, pk):
    """Hand its owner all that a tank holds."""
    tank = owned_tank(request.user, pk)
    # Small ones stay in memory; photos of years go to a file that deletes itself. The answer closes
    # it once it is sent.
    out = tempfile.SpooledTemporaryFile(max_size=EXPORT_MEMORY_BYTES)  # noqa: SIM115
    write_export(tank, out)
    out.seek(0)
    name = f"{slugify(tank.name) or 'tank'}.zip"
    return FileResponse(out, as_attachment=True, filename=name, content_type="application/zip")

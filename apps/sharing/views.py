"""The owner's side of share links: see them, make one, revoke one."""

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.db.models import Count
from django.shortcuts import get_object_or_404, redirect, render
from django.urls import reverse
from django.utils import timezone
from django.views.decorators.http import require_POST

from apps.common.links.forms import ProlongForm
from apps.common.links.qr_code import qr_svg
from apps.common.links.shown_once import render_once
from apps.common.moments import day_text
from apps.sharing.forms import ShareLinkForm
from apps.sharing.models import Comment, ShareLink
from apps.tanks.access import owned_tank, readable_tank

PAGE = "sharing/share_link_list.html"


@login_required
def share_link_list(request, tank_pk):
    """Show a tank's links and what was said of them, which its owner has read then."""
    tank = readable_tank(request.user, tank_pk)
    context = {"tank": tank, "is_owner": tank.owner_id == request.user.pk}
    if context["is_owner"]:
        context |= links_of(tank) | {"form": ShareLinkForm()}
        comments = list(owners_comments(tank))
        # Of those it shows: one that comes meanwhile stays unread.
        new = {comment.pk for comment in comments if comment.is_new_to(tank.owner_id)}
        context |= {"prolong": ProlongForm(), "comments": comments, "new_comments": new}
        if new and request.method == "GET":
            tank_comments(tank).filter(pk__in=new).update(read_at=timezone.now())
    return render(request, PAGE, context)


def links_of(tank):
    """Return a tank's links as its page shows them: those that open, the most used first."""
    links = list(tank.share_links.all())
    is_open = [link for link in links if link.is_open()]
    return {
        "links": links,
        "open_links": sorted(is_open, key=lambda link: link.openings, reverse=True),
        "closed_links": [link for link in links if not link.is_open()],
    }


def tank_comments(tank):
    return Comment.objects.filter(link__tank=tank)


def owners_comments(tank):
    """Return all comments on a tank's shared maps, the newest first, with how often reported."""
    comments = tank_comments(tank).select_related("author", "link")
    return comments.annotate(report_count=Count("reports")).order_by("-created_at", "-pk")


@login_required
@require_POST
def share_link_new(request, tank_pk):
    """Make a link and show its address: in this one answer and never again."""
    tank = owned_tank(request.user, tank_pk)
    link = ShareLink(tank=tank, created_by=request.user)
    token = link.renew_token()
    form = ShareLinkForm(request.POST, instance=link)
    context = {"tank": tank, "is_owner": True, "form": form} | links_of(tank)
    if not form.is_valid():
        return render(request, PAGE, context, status=422)
    form.save()
    return show_made(request, PAGE, context, link, reverse("shared_map", args=[token]))


def show_made(request, page, context, link, path):
    """Render the page that tells a new link's address: in this one answer and never again."""
    address = request.build_absolute_uri(path)
    context |= {"made": link, "address": address, "qr": qr_svg(address)}
    context["only_here"] = request.get_host().partition(":")[0] in ("127.0.0.1", "localhost")
    return render_once(request, page, context)


@login_required
@require_POST
def share_link_revoke(request, link_pk):
    link = get_object_or_404(ShareLink, pk=link_pk)
    tank = owned_tank(request.user, link.tank_id)
    link.revoke()
    messages.success(request, f"“{link}” no longer works.")
    return redirect("share_link_list", tank.pk)


@login_required
@require_POST
def share_link_prolong(request, link_pk):
    """Let a link open for some days from now on, also one that ran out; none that was revoked."""
    link = get_object_or_404(ShareLink, pk=link_pk)
    tank = owned_tank(request.user, link.tank_id)
    form = ProlongForm(request.POST)
    if form.is_valid() and link.prolong(days=form.cleaned_data["days"]):
        day = day_text(link.expires_at.astimezone(tank.zone))
        messages.success(request, f"“{link}” opens until {day}.")
    else:
        messages.error(request, "Choose how long. A revoked link opens no more: make a new one.")
    return redirect("share_link_list", tank.pk)

"""Comments on a shared map: made and reported by whoever opens it signed in, ruled by its owner."""

from functools import wraps

from django.contrib import messages
from django.contrib.auth.decorators import login_required
from django.http import Http404
from django.shortcuts import get_object_or_404, redirect
from django.views.decorators.http import require_POST

from apps.lightmap.page.query import unit_of
from apps.sharing.commenting import add_comment, comment_form
from apps.sharing.models import Comment, CommentReport, ShareLink
from apps.sharing.open_views import map_response
from apps.sharing.opening import opened_by_token
from apps.tanks.access import owned_tank


def commenting(view):
    """Call view(request, link, ...) of a signed-in keeper, for a link that takes comments."""

    @login_required
    @opened_by_token(ShareLink, by=require_POST)
    @wraps(view)
    def checked(request, link, **kwargs):
        if not link.may_comment:
            raise Http404
        return view(request, link, **kwargs)

    return checked


def back_to(request):
    return redirect("shared_map", request.resolver_match.kwargs["token"])


@commenting
def shared_comment_new(request, link):
    unit = unit_of(request.POST, request.user.units)
    form = comment_form(link, request.user, unit, request.POST)
    if not add_comment(form=form):
        return map_response(request, link, comment_form=form)
    messages.success(request, "Your comment is on the map.")
    return back_to(request)


@commenting
def shared_comment_report(request, link, comment_pk):
    comment = get_object_or_404(link.comments.filter(hidden_at__isnull=True), pk=comment_pk)
    CommentReport.objects.get_or_create(comment=comment, reporter=request.user)
    messages.success(request, "Reported. The keeper who shared this map will see it.")
    return back_to(request)


@commenting
def shared_comment_remove(request, link, comment_pk):
    get_object_or_404(link.comments.filter(author=request.user), pk=comment_pk).delete()
    messages.success(request, "Your comment is deleted.")
    return back_to(request)


def ruled_comment(request, comment_pk):
    """Return a comment on a map of a tank of the user's own."""
    comment = get_object_or_404(Comment.objects.select_related("link"), pk=comment_pk)
    owned_tank(request.user, comment.link.tank_id)
    return comment


@login_required
@require_POST
def comment_hide(request, comment_pk):
    """Hide a comment from all but the owner, or show it again."""
    comment = ruled_comment(request, comment_pk)
    comment.hide(not comment.is_hidden)
    done = "Nobody else sees it now." if comment.hidden_at else "Visitors see it again."
    messages.success(request, done)
    return redirect("share_link_list", comment.link.tank_id)


@login_required
@require_POST
def comment_remove(request, comment_pk):
    comment = ruled_comment(request, comment_pk)
    comment.delete()
    messages.success(request, f"The comment of {comment.author} is deleted.")
    return redirect("share_link_list", comment.link.tank_id)

"""Comments on points of a shared map: which are shown, under which letters, and who may add one."""

import string
from dataclasses import dataclass

from django import forms
from django.db import transaction

from apps.common.model_forms import WholeModelForm
from apps.common.serving.row_locks import hold_row
from apps.corals.forms import PlaceFields
from apps.sharing.models import COMMENTS_EACH, COMMENTS_MOST, Comment, ShareLink

LETTERS = string.ascii_uppercase + string.ascii_lowercase
TOO_MANY = f"You made {COMMENTS_EACH} comments here, which is as many as fit. Delete one first."
FULL = "As many comments as fit stand here. Tell the keeper who shared this map."


@dataclass(frozen=True)
class LetteredComment:
    """A comment with its mark on the drawings: corals have the numbers."""

    letter: str
    comment: Comment

    @property
    def x_cm(self):
        return self.comment.x_cm

    @property
    def y_cm(self):
        return self.comment.y_cm

    @property
    def depth_cm(self):
        return self.comment.depth_cm


def lettered(link):
    """Return the comments that a link shows, the oldest first; none where it takes none."""
    if not link.may_comment:
        return ()
    return tuple(map(LetteredComment, LETTERS, link.comments.shown()))


class CommentForm(WholeModelForm, PlaceFields, forms.ModelForm):
    """Needs an instance that carries its link and its author."""

    class Meta:
        model = Comment
        fields = ["x_cm", "y_cm", "depth_cm", "text"]
        widgets = {"text": forms.Textarea(attrs={"rows": 3})}

    def clean(self):
        cleaned = super().clean()
        others = self.instance.link.comments
        if others.filter(author=self.instance.author).count() >= COMMENTS_EACH:
            raise forms.ValidationError(TOO_MANY)
        if others.count() >= COMMENTS_MOST:
            raise forms.ValidationError(FULL)
        return cleaned


def comment_form(link, author, unit, data=None):
    instance = Comment(link=link, author=author)
    return CommentForm(data, instance=instance, tank=link.tank, unit=unit, prefix="comment")


@transaction.atomic
def add_comment(*, form):
    """Save the comment of a form that was not checked yet; return whether it is sound.

    Sent twice it stands once. No note of the form is kept, for its address is secret.
    """
    comment = form.instance
    # One at a time for a link, so that the counts of the form's check hold.
    hold_row(ShareLink.objects, comment.link_id)
    if not form.is_valid():
        return False
    said = {name: form.cleaned_data[name] for name in form.fields}
    own = Comment.objects.filter(link=comment.link_id, author=comment.author_id)
    # One that the tank's owner hid does not stand.
    if not own.filter(hidden_at__isnull=True, **said).exists():
        form.save()
    return True


def comment_context(request, link, comments, form, unit):
    """Return what the page of a link shows of comments, with a form for whoever is signed in."""
    if form is None and request.user.is_authenticated:
        form = comment_form(link, request.user, unit)
    return {"comments": comments, "comment_form": form, "comment_name": str(request.user)}

"""What others said of a tank's shared map, for its owner's page of today."""

from django.urls import reverse
from django.utils.text import Truncator

from apps.sharing.models import Comment
from apps.tanks.overview import Line

# So much of a comment is shown beside the link to all of it.
LETTERS = 90


def comment_lines(tank, now):
    """Return the Line of the comments that a tank's owner has not read; none where all are."""
    new = Comment.objects.filter(link__tank=tank).new_to_owner().select_related("author")
    comments = list(new)
    if not comments:
        return []
    last = comments[-1]
    count = len(comments)
    return [
        Line(
            "comments",
            f"{'A new comment' if count == 1 else f'{count} new comments'} on your shared map",
            f"{reverse('share_link_list', args=[tank.pk])}#comment-{last.pk}",
            words=f"{last.author}: “{Truncator(last.text).chars(LETTERS)}”",
            is_due=True,
            for_owner=True,
        )
    ]

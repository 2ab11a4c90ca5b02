"""Comments on a tank's shared maps for programs: read, hidden and deleted by its owner."""

from django.db.models import Count
from rest_framework import mixins, serializers, viewsets

from apps.common.programs.serializers import RefusesUnknown
from apps.sharing.models import Comment
from apps.tanks.access import owned_tank


class CommentSerializer(RefusesUnknown, serializers.ModelSerializer):
    """What somebody said of a point of a shared map [cm]; only whether it is hidden may change."""

    is_hidden = serializers.BooleanField(help_text="From all but the owner of the tank.")
    author = serializers.CharField(
        source="author.shown_name", read_only=True, help_text="The name they show to others."
    )
    reports = serializers.IntegerField(
        source="report_count", read_only=True, help_text="How many asked that it be looked at."
    )

    class Meta:
        model = Comment
        fields = [
            "id", "link", "author", "x_cm", "y_cm", "depth_cm", "text", "created_at", "is_hidden",
            "reports",
        ]  # fmt: skip
        read_only_fields = ["link", "x_cm", "y_cm", "depth_cm", "text", "created_at"]

    def update(self, comment: Comment, validated_data: dict) -> Comment:
        if "is_hidden" in validated_data:
            comment.hide(validated_data["is_hidden"])
        return comment


class CommentViewSet(
    mixins.RetrieveModelMixin,
    mixins.ListModelMixin,
    mixins.UpdateModelMixin,
    mixins.DestroyModelMixin,
    viewsets.GenericViewSet,
):
    """Comments on the shared maps of a tank, hidden ones too, for its owner alone."""

    # What a token of scope "share" may write.
    scope = "share"
    queryset = Comment.objects.none()
    serializer_class = CommentSerializer

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.tank = owned_tank(request.user, self.kwargs["tank_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        comments = Comment.objects.filter(link__tank=self.tank).select_related("author")
        # A count drops the model's own order.
        return comments.annotate(report_count=Count("reports")).order_by("created_at", "pk")

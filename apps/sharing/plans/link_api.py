"""Links that open a plan, for programs of its owner: made, listed and revoked."""

from apps.planning.access import owned_plan
from apps.sharing.link_api import LockedLinkSerializer, LockedLinkViewSet
from apps.sharing.models import PlanLink


class PlanLinkSerializer(LockedLinkSerializer):
    """A link that shows a plan to whoever has its address."""

    opens = "shared_plan"

    class Meta:
        model = PlanLink
        fields = [
            "id", "label", "days", "passphrase", "has_passphrase", "address", "created_at",
            "expires_at", "revoked_at",
        ]  # fmt: skip
        read_only_fields = ["created_at", "expires_at", "revoked_at"]


class PlanLinkViewSet(LockedLinkViewSet):
    """The share links of a plan, for its owner alone. DELETE revokes a link; it stays listed."""

    queryset = PlanLink.objects.none()
    serializer_class = PlanLinkSerializer
    fixed_names = ("plan", "created_by", "token_hash")

    def initial(self, request, *args, **kwargs):
        super().initial(request, *args, **kwargs)
        self.plan = owned_plan(request.user, self.kwargs["plan_pk"])

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        return PlanLink.objects.filter(plan=self.plan).select_related("plan")

    def new_row(self):
        return PlanLink(plan=self.plan, created_by=self.request.user)

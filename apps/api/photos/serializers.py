"""Photos of a coral's notes in JSON: what is known of each, and where its files are."""

from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.reverse import reverse

from apps.common.programs.serializers import RefusesUnknown
from apps.corals.models import HealthNote, Photo
from apps.corals.photo_cleaning import FORMAT_WORDS, SIZES_WORDS


class PhotoSerializer(RefusesUnknown, serializers.ModelSerializer):
    """A photo of a note, kept without its place and camera."""

    noted_on = serializers.DateField(
        source="note.noted_on", read_only=True, help_text="The day of its note."
    )
    image = serializers.SerializerMethodField(help_text="Where its file is, a JPEG.")
    thumbnail = serializers.SerializerMethodField(help_text="Where its small file is, a JPEG.")
    file = serializers.FileField(
        write_only=True, help_text=f"The photo: {FORMAT_WORDS}. {SIZES_WORDS}"
    )

    class Meta:
        model = Photo
        fields = [
            "id", "key", "note", "noted_on", "width_px", "height_px", "image", "thumbnail", "file",
            "created_at",
        ]  # fmt: skip
        read_only_fields = ["key", "width_px", "height_px", "created_at"]
        extra_kwargs = {
            "id": {"help_text": "The number that `changes` use for it; its address has the `key`."},
            "note": {"help_text": "One of this coral's."},
            "width_px": {"help_text": "Null for a photo kept before it was counted."},
        }

    def get_fields(self) -> dict[str, serializers.Field]:
        fields = super().get_fields()
        coral = self.context.get("fixed", {}).get("coral")
        here = HealthNote.objects.present().filter(coral=coral)
        fields["note"].queryset = here if coral else HealthNote.objects.none()
        return fields

    @extend_schema_field(OpenApiTypes.URI)
    def get_image(self, photo: Photo) -> str:
        return self.address(photo, "image")

    @extend_schema_field(OpenApiTypes.URI)
    def get_thumbnail(self, photo: Photo) -> str:
        return self.address(photo, "thumbnail")

    def address(self, photo: Photo, size: str) -> str:
        """Return where a file of a photo is handed out."""
        coral = self.context["fixed"]["coral"]
        words = [coral.tank_id, coral.pk, photo.key]
        return str(reverse(f"api-photo-{size}", args=words, request=self.context["request"]))

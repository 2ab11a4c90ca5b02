"""Photos of a coral's notes for programs: read, sent to a note and deleted as on its page."""

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.db import transaction
from django.http import FileResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiExample, OpenApiResponse, extend_schema
from rest_framework import status
from rest_framework.decorators import action
from rest_framework.exceptions import APIException, ValidationError
from rest_framework.parsers import MultiPartParser
from rest_framework.request import Request
from rest_framework.response import Response

from apps.api.parsing import ShallowJSONParser
from apps.api.photos import marking
from apps.api.photos.serializers import PhotoSerializer
from apps.api.serializers import PhotoColourSerializer
from apps.api.views import OfCoralMixin
from apps.common.programs.idempotency import ModelViewSet
from apps.common.serving.row_locks import hold_row
from apps.corals.models import HealthNote, Photo, PhotoColour
from apps.corals.notes.noting import add_photo, stored_photo
from apps.corals.notes.quota import note_photo_problem
from apps.corals.photo_cleaning import CleanPhoto, UnusablePhoto, clean_photo
from apps.corals.photos.colouring import answer_colour
from apps.corals.pictures.decoder_lock import DecoderBusy
from apps.corals.pictures.handing_out import kept_photo_file
from apps.tanks.access import may_write

# As long as the queue before the decoder may take to get shorter [s].
RETRY_AFTER_S = 30
JPEG = {(200, "image/jpeg"): OpenApiTypes.BINARY}
MADE = {
    "id": 5, "key": "0b6f5b0e-6d1c-4a54-9b43-6a1a52f1f0c5", "note": 41, "noted_on": "2026-05-02",
    "width_px": 2000, "height_px": 1500,
    "image": "https://reef.example/api/v1/tanks/3/corals/7/photos/"
    "0b6f5b0e-6d1c-4a54-9b43-6a1a52f1f0c5/image/",
    "thumbnail": "https://reef.example/api/v1/tanks/3/corals/7/photos/"
    "0b6f5b0e-6d1c-4a54-9b43-6a1a52f1f0c5/thumbnail/",
    "created_at": "2026-05-02T10:00:00Z",
}  # fmt: skip


class OthersFirst(APIException):
    status_code = status.HTTP_503_SERVICE_UNAVAILABLE
    default_detail = "Other photos are being worked on. Send again."
    default_code = "decoder_busy"
    # Answered as Retry-After.
    wait = RETRY_AFTER_S


class PhotoViewSet(OfCoralMixin, ModelViewSet):
    """The photos of a coral's notes, the oldest first.

    Each was made anew here: turned upright, without its place and camera. DELETE is for good.
    """

    http_method_names = ["get", "post", "delete", "head", "options"]
    queryset = Photo.objects.none()
    serializer_class = PhotoSerializer
    lookup_field = "key"
    lookup_value_converter = "uuid"
    filterset_fields = {"note": ["exact"], "note__noted_on": ["gte", "lte"]}
    parser_classes = [MultiPartParser]

    def get_queryset(self):
        if getattr(self, "swagger_fake_view", False):
            return self.queryset
        notes = HealthNote.objects.present().filter(coral=self.parent)
        return Photo.objects.filter(note__in=notes).select_related("note")

    @extend_schema(
        summary="Send one photo",
        description="Send a photo to a note. What is kept is made anew: turned upright, at most "
        "2000 pixels wide or high, without its place and camera. Where other photos are being "
        "worked on, the answer is 503: send it again.",
        examples=[OpenApiExample("Kept", MADE, response_only=True)],
        responses={
            201: PhotoSerializer,
            (503, "application/problem+json"): OpenApiResponse(
                OpenApiTypes.OBJECT, description=OthersFirst.default_detail
            ),
        },
    )
    def create(self, request: Request, *args: object, **kwargs: object) -> Response:
        before = self.answered_before(request)
        if before is not None:
            return self.located(before)
        serializer = self.get_serializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        note = serializer.validated_data["note"]
        refuse_full(note)
        # Before any transaction: a large picture takes a second, and others may wait to write.
        photo = stored_photo(cleaned(serializer.validated_data["file"]))
        return self.located(self.made_once(request, lambda: self.keep(note, photo)))

    @transaction.atomic
    def keep(self, note: HealthNote, photo: Photo) -> Response:
        """Add a photo to a note that still has room for it, and answer it."""
        note = hold_row(HealthNote.objects.present(), note.pk)
        refuse_full(note)
        made = self.get_serializer(add_photo(note, photo)).data
        return Response(made, status=status.HTTP_201_CREATED)

    def located(self, response: Response) -> Response:
        row = {**self.kwargs, "key": response.data["key"]}
        response["Location"] = self.reverse_action("detail", kwargs=row)
        return response

    @extend_schema(summary="Fetch a photo", responses=JPEG)
    @action(detail=True)
    def image(self, request: Request, **kwargs: object) -> FileResponse:
        """Fetch the file of a photo."""
        return kept_photo_file(self.get_object().image)

    @extend_schema(summary="Fetch a small photo", responses=JPEG)
    @action(detail=True)
    def thumbnail(self, request: Request, **kwargs: object) -> FileResponse:
        """Fetch the small file of a photo."""
        return kept_photo_file(self.get_object().thumbnail)

    @extend_schema(
        summary="Read a photo’s marks",
        description="Read what is marked on a photo, and the colour and size measured "
        "there. If it is not marked yet and you may mark it, you get a "
        "proposal: the marks of the photo nearest in time, carried over.",
        responses=marking.PhotoMarksSerializer,
    )
    @action(detail=True, parser_classes=[ShallowJSONParser])
    def marks(self, request: Request, **kwargs: object) -> Response:
        photo = self.get_object()
        proposes = may_write(request.user, self.tank)
        return Response(marking.marks_of_photo(photo, proposes=proposes))

    @extend_schema(
        summary="Mark a photo",
        description="Mark the reference and parts of the coral to measure its colour, its "
        "outline and a known length to measure its size, or both. Marking "
        "again replaces the earlier marks.",
        request=marking.MarksSerializer,
        responses=marking.PhotoMarksSerializer,
        examples=[OpenApiExample("A white card", marking.CARD, request_only=True)],
    )
    @marks.mapping.post
    def mark(self, request: Request, **kwargs: object) -> Response:
        photo = self.get_object()
        serializer = marking.MarksSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        marking.keep_marks(serializer.validated_data["form"], photo)
        return Response(marking.marks_of_photo(photo, proposes=False))

    @extend_schema(
        summary="Delete a photo’s colour",
        description="Delete the colour measured in a photo, with its marks. A size stays.",
        responses={204: None},
    )
    @marks.mapping.delete
    def unmark(self, request: Request, **kwargs: object) -> Response:
        self.colour_of(self.get_object()).remove()
        return Response(status=status.HTTP_204_NO_CONTENT)

    @extend_schema(
        summary="Say whether a change of colour is real",
        description="Say whether you saw the change of colour that a photo shows. No note "
        "is written: add one yourself.",
        request=marking.ColourAnswerSerializer,
        responses=PhotoColourSerializer,
        examples=[OpenApiExample("No change", {"answer": "not_so"}, request_only=True)],
    )
    @action(
        detail=True,
        methods=["post"],
        url_path="colour-answer",
        url_name="colour-answer",
        parser_classes=[ShallowJSONParser],
    )
    def colour_answer(self, request: Request, **kwargs: object) -> Response:
        photo = self.get_object()
        serializer = marking.ColourAnswerSerializer(data=request.data)
        serializer.is_valid(raise_exception=True)
        colour = self.colour_of(photo)
        answer_colour(photo=photo, answer=serializer.validated_data["answer"])
        colour.refresh_from_db()
        return Response(PhotoColourSerializer(colour).data)

    def colour_of(self, photo: Photo) -> PhotoColour:
        """Return the colour kept of a photo, or raise Http404."""
        return get_object_or_404(PhotoColour.objects.present(), photo=photo)


def refuse_full(note: HealthNote) -> None:
    """Raise ValidationError where one more photo finds no room with a note or its owner."""
    if problem := note_photo_problem(note, 1):
        raise ValidationError({"file": [problem]})


def cleaned(file: UploadedFile) -> CleanPhoto:
    """Return a sent file as the photo that is kept, or refuse it as the page does."""
    try:
        return clean_photo(file, bytes_max=settings.PHOTO_BYTES_MAX)
    except UnusablePhoto as problem:
        raise ValidationError({"file": [str(problem)]}) from None
    except DecoderBusy:
        raise OthersFirst from None

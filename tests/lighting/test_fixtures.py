"""Fixtures told by optic, output, channels and photometric file."""

import numpy as np
import pytest
from django.core.exceptions import ValidationError
from django.core.files.uploadedfile import SimpleUploadedFile
from django.urls import reverse

from apps.lighting.models import Fixture
from apps.photics.limits import PHOTOMETRY_CHARS_MAX
from apps.photics.photometry.ies import read_ies
from tests.factories import make_fixture
from tests.lighting.test_rig import FIXTURE
from tests.photics.photometric_files import LAMBERTIAN, ies_text, ldt_text, lobe, oblong

CHANNELS = [("Blue", "450", "60"), ("White", "10000 K", "35 %"), ("Red", "660 nm", "5")]


def typed(channels=(), **fields):
    """Return the POST of a fixture with rows of channels (name, colour, share)."""
    data = FIXTURE | {"channel-TOTAL_FORMS": str(len(channels)), "channel-INITIAL_FORMS": "0"}
    for i, row in enumerate(channels):
        for name, value in zip(("name", "colour", "share_percent"), row, strict=True):
            data[f"channel-{i}-{name}"] = value
    return data | fields


def url(name, fixture):
    return reverse(name, args=[fixture.pk])


def new(client, data):
    return client.post(reverse("fixture_new"), data)


@pytest.mark.parametrize(("optic", "beam"), [("wide", 120), ("medium", 90), ("narrow", 55)])
def test_named_optic_brings_its_degrees(as_user, owner, optic, beam):
    new(as_user(owner), typed(optic=optic, beam_deg=""))
    assert Fixture.objects.get().beam_deg == beam


def test_angle_must_be_told_where_the_optic_is_one(as_user, owner):
    response = new(as_user(owner), typed(beam_deg=""))
    assert response.status_code == 422 and "Say the angle" in response.content.decode()


def test_output_comes_from_watts_and_efficacy(as_user, owner):
    new(as_user(owner), typed(efficacy_umol_j="2,1 µmol/J"))
    fixture = Fixture.objects.get()
    assert fixture.output().ppf_umol_s == pytest.approx(199.5)
    page = as_user(owner).get(url("fixture_detail", fixture)).content.decode()
    assert "watts and efficacy" in page


def test_channels_are_kept_and_shown_again(as_user, owner):
    client = as_user(owner)
    assert new(client, typed(CHANNELS)).status_code == 302
    fixture = Fixture.objects.get()
    assert fixture.channels == [
        {"name": "Blue", "peak_nm": 450, "share_percent": 60},
        {"name": "White", "white_kelvin": 10000, "share_percent": 35},
        {"name": "Red", "peak_nm": 660, "share_percent": 5},
    ]
    form = client.get(url("fixture_edit", fixture)).content.decode()
    assert 'value="10000 K"' in form and 'value="450 nm"' in form


@pytest.mark.parametrize(
    ("channels", "said"),
    [
        ([("Blue", "450", "60")], "sum to 100 %, not 60 %"),
        ([("Blue", "450", "50"), ("blue", "470", "50")], "a name of its own"),
        ([("Blue", "200 nm", "100")], "A peak is 390 to 710 nm"),
        ([("White", "900 K", "100")], "A white is 2000 to 30000 K"),
        ([("Blue", "navy", "100")], "is not a number"),
        ([("Blue", "", "100")], "This field is required"),
    ],
)
def test_wrong_channel_is_told_and_all_typed_is_kept(as_user, owner, channels, said):
    response = new(as_user(owner), typed(channels))
    page = response.content.decode()
    assert response.status_code == 422 and said in page and not Fixture.objects.exists()
    assert f'value="{channels[0][0]}"' in page and 'value="Blue panel"' in page
    # The rows lie far down a phone's page: its head says where to look.
    assert page.index('href="#channels-title"') < page.index("What you call it")


def test_more_rows_saves_nothing(as_user, owner):
    response = new(as_user(owner), typed(CHANNELS, more="1", beam_deg="x"))
    page = response.content.decode()
    assert response.status_code == 200 and not Fixture.objects.exists()
    assert 'value="10000 K"' in page and 'name="channel-4-name"' in page and 'value="x"' in page


def test_model_refuses_channels_that_make_no_whole(owner):
    fixture = make_fixture(owner)
    fixture.channels = [{"name": "Blue", "peak_nm": 450, "share_percent": 50}]
    with pytest.raises(ValidationError, match="sum to 100"):
        fixture.full_clean()
    fixture.channels = [{"peak_nm": 450}]
    with pytest.raises(ValidationError, match="needs a name"):
        fixture.full_clean()


# --- Photometric files -----------------------------------------------------------------------


def test_uploaded_file_becomes_the_optic(as_user, owner):
    fixture, client = make_fixture(owner, beam_deg=30), as_user(owner)
    file = SimpleUploadedFile("lamp.ies", LAMBERTIAN.read_bytes())
    assert client.post(url("fixture_optic", fixture), {"file": file}).status_code == 302
    fixture.refresh_from_db()
    assert fixture.optic == "file"
    # A plain cosine lobe falls to half at 60 degrees; the light field's own shape has a sharper
    # edge and a skirt, so the beam that is nearest to it is a little wider.
    assert 120 < fixture.beam_deg < 140 and fixture.measured.misplaced < 0.05
    page = client.get(url("fixture_detail", fixture)).content.decode()
    assert "1,000 <small>lm" in page and "318 <small>cd" in page


@pytest.mark.parametrize("symmetry", range(5))
def test_pasted_eulumdat_of_every_symmetry(as_user, owner, symmetry):
    fixture = make_fixture(owner)
    text = ldt_text(lobe, symmetry=symmetry, planes=24)
    client = as_user(owner)
    assert client.post(url("fixture_optic", fixture), {"text": text}).status_code == 302
    fixture.refresh_from_db()
    assert fixture.measured.told_as == "EULUMDAT"
    # The file lists 0 to 90 degrees in steps of 5; a cosine lobe gives pi x its axis.
    assert fixture.measured.photometry().flux_lm == pytest.approx(1000 * np.pi, rel=1e-9)


def test_export_reads_back_as_the_same_light(as_user, owner):
    fixture, client = make_fixture(owner, name="Sun & bar"), as_user(owner)
    text = ies_text(oblong, horizontal=tuple(range(0, 91, 15)))
    client.post(url("fixture_optic", fixture), {"text": text})
    response = client.get(url("fixture_optic_file", fixture))
    assert response["Content-Disposition"] == 'attachment; filename="sun-bar.ies"'
    np.testing.assert_array_equal(
        read_ies(response.content.decode()).candela, read_ies(text).candela
    )


def test_named_tilt_file_comes_along(as_user, owner):
    fixture, client = make_fixture(owner), as_user(owner)
    text = ies_text(lobe, tilt="TILT=lamp.tlt")
    refused = client.post(url("fixture_optic", fixture), {"text": text})
    assert refused.status_code == 422 and "bring that one too" in refused.content.decode()
    tilt = "1\n3\n0 45 90\n1 0.95 0.9"
    client.post(url("fixture_optic", fixture), {"text": text, "tilt": tilt})
    fixture.refresh_from_db()
    assert fixture.measured.photometry().tilt.factors == (1, 0.95, 0.9)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("hello", "neither an LM-63"),
        (LAMBERTIAN.read_text()[:250], "the file ends"),
        (ies_text(lobe).replace("TILT=NONE", "TILT=NONE\n<script>"), "is not a number"),
        ("", "Choose a file or paste its text"),
    ],
)
def test_broken_file_gets_one_line_and_what_was_pasted_stays(as_user, owner, text, said):
    fixture = make_fixture(owner)
    response = as_user(owner).post(url("fixture_optic", fixture), {"text": text})
    page = response.content.decode()
    assert response.status_code == 422 and page.count(said) == 1
    assert text[:20].strip() in page
    fixture.refresh_from_db()
    assert fixture.optic == "angle" and fixture.measured is None


@pytest.mark.parametrize("raw", [b"\x00\xff" * 500, b"IES" + b"9" * 3000, b"\n" * 4000])
def test_hostile_upload_is_refused(as_user, owner, raw):
    fixture = make_fixture(owner)
    file = SimpleUploadedFile("lamp.ies", raw)
    assert as_user(owner).post(url("fixture_optic", fixture), {"file": file}).status_code == 422


def test_upload_beyond_the_bound_is_refused_unread(as_user, owner):
    file = SimpleUploadedFile("lamp.ies", b"1" * (PHOTOMETRY_CHARS_MAX + 1))
    response = as_user(owner).post(url("fixture_optic", make_fixture(owner)), {"file": file})
    assert response.status_code == 422 and "larger than 2 MB" in response.content.decode()


def test_file_stays_when_another_optic_is_chosen(as_user, owner):
    fixture, client = make_fixture(owner), as_user(owner)
    client.post(url("fixture_optic", fixture), {"text": LAMBERTIAN.read_text()})
    client.post(url("fixture_edit", fixture), typed(optic="narrow", beam_deg=""))
    fixture.refresh_from_db()
    assert (fixture.optic, fixture.beam_deg) == ("narrow", 55)
    client.post(url("fixture_edit", fixture), typed(optic="file", beam_deg="10"))
    fixture.refresh_from_db()
    assert fixture.optic == "file" and fixture.beam_deg > 120


@pytest.mark.parametrize("name", ["fixture_detail", "fixture_optic", "fixture_optic_file"])
@pytest.mark.parametrize("who", ["co_keeper", "viewer", "stranger"])
def test_library_is_its_owners_alone(request, as_user, owner, name, who):
    fixture = make_fixture(owner)
    as_user(owner).post(url("fixture_optic", fixture), {"text": LAMBERTIAN.read_text()})
    client = as_user(request.getfixturevalue(who))
    assert client.get(url(name, fixture)).status_code == 404
    assert client.post(url(name, fixture), {"text": "x"}).status_code == 404

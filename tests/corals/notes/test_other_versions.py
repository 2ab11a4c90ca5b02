"""A note that a device and a page change without knowing of each other: no text is lost."""

import json
import random
import uuid

import pytest
from django.http import Http404
from django.urls import reverse

from apps.corals.models import HealthNote, OtherVersion, Photo
from apps.corals.notes.noting import keep_beside, use_other
from apps.corals.notes.round_taking import BROUGHT_BACK, TAKEN_AWAY
from tests.corals.notes.test_round import note_of, send
from tests.corals.pictures import encoded, sent
from tests.factories import make_coral, make_note


@pytest.fixture
def coral(tank):
    return make_coral(tank)


def desk_save(client, note, *, knows=None, **changed):
    """Save the form of a note as a page does that was opened at version `knows`."""
    note.refresh_from_db()
    said = {name: "" if value is None else value for name, value in note.said().items()}
    fields = said | {"knows": note.version} | changed
    if knows is not None:
        fields["knows"] = knows
    return client.post(reverse("note_edit", args=[note.pk]), fields)


def test_note_sent_again_leaves_what_a_page_changed_meanwhile(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    row = HealthNote.objects.get()
    desk_save(client, row, text="It fell over", strength=3)
    before = row.version
    answer = send(client, tank, owner, [note]).json()
    row.refresh_from_db()
    assert answer["accepted"] == [note["id"]] and (row.text, row.strength) == ("It fell over", 3)
    assert answer["standing"][note["id"]]["text"] == "It fell over"
    assert answer["told"][note["id"]].startswith("Changed on a page since: “poor, strong paling")
    assert not row.others.exists() and row.version == before + 1


def test_newer_change_of_a_device_is_kept_beside_what_a_page_saved(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    row = HealthNote.objects.get()
    desk_save(client, row, text="It fell over")
    newer = note | {"edition": 2, "text": "since Sunday", "condition": 2}
    for _ in range(2):
        answer = send(client, tank, owner, [newer]).json()
        assert "kept beside it" in answer["told"][note["id"]]
    row.refresh_from_db()
    other = row.others.get()
    assert row.text == "It fell over" and other.said["text"] == "since Sunday"
    assert other.sent_by == owner and other.as_note().in_words().startswith("bad, strong paling")


def test_change_that_knew_what_the_page_saved_takes_its_place(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    row = HealthNote.objects.get()
    desk_save(client, row, text="It fell over", strength=3)
    heard = send(client, tank, owner, [note]).json()["standing"][note["id"]]
    newer = note | {"edition": 2, "knows": heard["knows"], "text": "It stands again"}
    answer = send(client, tank, owner, [newer]).json()
    row.refresh_from_db()
    # Its strength, which no device asks for, is still what the page said.
    assert (row.text, row.strength) == ("It stands again", 3)
    assert answer["told"] == {} and not row.others.exists()


def test_own_change_whose_reply_was_lost_is_no_one_elses(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    answer = send(client, tank, owner, [note | {"edition": 2, "text": "better"}]).json()
    assert HealthNote.objects.get().text == "better" and answer["told"] == {}
    send(client, tank, owner, [note])
    assert HealthNote.objects.get().text == "better"


def test_further_change_takes_the_place_of_the_one_kept_beside(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    desk_save(client, HealthNote.objects.get(), text="It fell over")
    for edition, text in ((2, "since Sunday"), (3, "since Saturday")):
        send(client, tank, owner, [note | {"edition": edition, "text": text}])
    assert OtherVersion.objects.get().said["text"] == "since Saturday"


def test_photo_of_a_change_kept_beside_stays_with_the_note(as_user, owner, tank, coral):
    client, note, key = as_user(owner), note_of(coral), str(uuid.uuid4())
    send(client, tank, owner, [note])
    desk_save(client, HealthNote.objects.get(), text="It fell over")
    newer = note | {"edition": 2, "text": "since Sunday", "photo": key}
    send(client, tank, owner, [newer], **{key: sent(encoded())})
    assert str(Photo.objects.get().key) == key


def test_photo_deleted_on_a_page_does_not_come_back(as_user, owner, tank, coral):
    client, key = as_user(owner), str(uuid.uuid4())
    note = note_of(coral, photo=key)
    send(client, tank, owner, [note], **{key: sent(encoded())})
    desk_save(client, HealthNote.objects.get(), photos_gone=[Photo.objects.get().pk])
    assert not Photo.objects.exists()
    send(client, tank, owner, [note], **{key: sent(encoded())})
    assert not Photo.objects.exists()


def test_taken_away_stays_away_until_it_is_changed_anew(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    HealthNote.objects.get().remove()
    answer = send(client, tank, owner, [note]).json()
    assert answer["told"][note["id"]] == TAKEN_AWAY
    assert answer["standing"][note["id"]]["removed"] and not HealthNote.objects.present().exists()
    answer = send(client, tank, owner, [note | {"edition": 2, "text": "no, it is"}]).json()
    assert answer["told"][note["id"]] == BROUGHT_BACK
    assert HealthNote.objects.present().get().text == "no, it is"


def test_change_after_one_that_brought_it_back_unheard_is_the_devices_own(
    as_user, owner, tank, coral
):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    row = HealthNote.objects.get()
    desk_save(client, row, text="It fell over")
    row.remove()
    for edition, text in ((2, "no, it is"), (3, "no, it is well")):
        send(client, tank, owner, [note | {"edition": edition, "text": text}])
    row.refresh_from_db()
    assert row.text == "no, it is well" and not row.others.open().exists()


def test_stored_note_of_a_coral_that_left_need_not_be_sent_again(as_user, owner, tank, coral):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    coral.remove()
    assert send(client, tank, owner, [note]).json()["accepted"] == [note["id"]]
    later = note | {"edition": 2}
    assert note["id"] in send(client, tank, owner, [later]).json()["refused"]


@pytest.mark.parametrize("changed", [{"edition": None}, {"edition": -1}, {"knows": "x"}])
def test_change_without_a_count_is_a_bad_request(as_user, owner, tank, coral, changed):
    assert send(as_user(owner), tank, owner, [note_of(coral) | changed]).status_code == 400


def test_page_that_was_opened_before_a_device_wrote_keeps_its_text_beside(
    as_user, owner, tank, coral
):
    client, note = as_user(owner), note_of(coral)
    send(client, tank, owner, [note])
    row = HealthNote.objects.get()
    send(client, tank, owner, [note | {"edition": 2, "text": "since Sunday"}])
    page = client.get(desk_save(client, row, knows=1, text="It fell over").url)
    row.refresh_from_db()
    assert row.text == "It fell over" and row.others.get().said["text"] == "since Sunday"
    (message,) = page.context["messages"]
    assert message.level_tag == "warning"
    assert row.others.get().get_source_display() in page.content.decode()


def test_same_form_twice_keeps_nothing_beside(as_user, owner, coral):
    client, row = as_user(owner), make_note(coral)
    for _ in range(2):
        desk_save(client, row, knows=0, text="It fell over")
    assert not row.others.exists()


def test_interface_keeps_what_it_did_not_read(owner, tank, coral, as_user):
    client, row = as_user(owner), make_note(coral, text="first")
    desk_save(client, row, text="second")
    url = f"/api/v1/tanks/{tank.pk}/corals/{coral.pk}/notes/{row.pk}/"
    body = json.dumps({"text": "third", "version": 0})
    assert client.patch(url, body, content_type="application/json").json()["version"] == 2
    row.refresh_from_db()
    assert row.text == "third" and row.others.get().said["text"] == "second"


def act(client, other, what, **asked):
    url = reverse(f"note_other_{what}", args=[other.note_id, other.pk])
    knows = f"?knows={asked['knows']}" if asked else ""
    return client.post(url + knows)


@pytest.mark.parametrize("knows", ["9" * 5000, "²", "", "-1"])
def test_version_that_is_none_lets_nothing_stand(as_user, owner, coral, knows):
    row = make_note(coral, text="first")
    other = keep_beside(row, source="round")
    assert act(as_user(owner), other, "use", knows=knows).status_code == 302
    row.refresh_from_db()
    assert row.text == "first" and row.version == 0


def test_other_version_may_stand_and_a_second_tap_does_not_swap_them_back(as_user, owner, coral):
    row = make_note(coral, text="first")
    other = keep_beside(row, source="round")
    OtherVersion.objects.update(said=row.said() | {"text": "second"})
    client = as_user(owner)
    for _ in range(2):
        act(client, other, "use", knows=0)
    row.refresh_from_db(), other.refresh_from_db()
    assert (row.text, other.said["text"]) == ("second", "first") and other.settled_at
    act(client, other, "use", knows=row.version)
    row.refresh_from_db()
    assert row.text == "first"


@pytest.mark.parametrize("gone", [HealthNote, OtherVersion])
def test_what_is_gone_meanwhile_is_not_let_stand(coral, gone):
    row = make_note(coral, text="first")
    other = keep_beside(row, source="round")
    gone.objects.all().delete()
    with pytest.raises(Http404):
        use_other(other=other, knows=0)
    assert not OtherVersion.objects.exists()


def test_other_version_that_fits_no_more_is_not_let_stand(as_user, owner, coral):
    row = make_note(coral)
    other = keep_beside(row, source="round")
    OtherVersion.objects.update(said=row.said() | {"noted_on": "2001-01-01"})
    client = as_user(owner)
    before = row.said()
    page = client.get(act(client, other, "use", knows=0).url)
    (message,) = page.context["messages"]
    row.refresh_from_db()
    assert message.level_tag == "error" and row.said() == before and row.others.open().exists()


def test_settled_version_leaves_the_corals_page_for_the_notes_own(as_user, owner, coral):
    row = make_note(coral)
    other = keep_beside(row, source="round")
    OtherVersion.objects.update(said=row.said() | {"text": "since Sunday"})
    client = as_user(owner)
    coral_page, note_page = reverse("coral_detail", args=[coral.pk]), f"/notes/{row.pk}/edit/"
    assert "since Sunday" in client.get(coral_page).content.decode()
    act(client, other, "settle")
    assert "since Sunday" not in client.get(coral_page).content.decode()
    assert "since Sunday" in client.get(note_page).content.decode()


class Keeper:
    """One keeper with a phone in a bad network, and pages that stay open for long."""

    def __init__(self, seed, client, coral):
        self.chance, self.client, self.coral = random.Random(seed), client, coral
        self.owner, self.tank = coral.tank.owner, coral.tank
        self.note = note_of(coral, edition=0)
        self.knew = {}  # {text: texts its writer had seen, and what their writers had}
        self.seen_by_phone, self.unsent, self.sent, self.opened = set(), False, [], []

    def write(self, seen):
        text = f"text {len(self.knew)}"
        self.knew[text] = seen.union(*(self.knew[t] for t in seen))
        return text

    def row(self):
        return HealthNote.objects.filter(client_id=self.note["id"]).first()

    def visible(self):
        row = self.row()
        return {row.text} | {other.said["text"] for other in row.others.all()} if row else set()

    def kept(self):
        row = self.row()
        return row and (row.said(), row.version, row.edition, row.removed_at, self.visible())

    def change_on_phone(self):
        text = self.write(self.seen_by_phone)
        self.note |= {"text": text, "edition": self.note["edition"] + 1}
        self.seen_by_phone, self.unsent = self.seen_by_phone | {text}, True

    def send(self, *, luck=None):
        luck = self.chance.random() if luck is None else luck
        if not self.unsent or luck < 0.25:
            return
        body = dict(self.note)
        answer = send(self.client, self.tank, self.owner, [body]).json()
        assert answer["accepted"] == [body["id"]]
        self.sent.append(body)
        if luck > 0.6:
            standing = answer["standing"][body["id"]]
            self.note |= {"knows": standing["knows"], "text": standing["text"]}
            self.seen_by_phone, self.unsent = self.seen_by_phone | {standing["text"]}, False

    def replay(self):
        if self.sent:
            before = self.kept()
            send(self.client, self.tank, self.owner, [self.chance.choice(self.sent)])
            assert self.kept() == before

    def open_page(self):
        if self.row():
            self.opened.append((self.row().version, self.visible()))

    def save_page(self):
        row = self.row()
        if self.opened and row and row.removed_at is None:
            version, seen = self.opened.pop(self.chance.randrange(len(self.opened)))
            desk_save(self.client, row, knows=version, text=self.write(seen))

    def take_away(self):
        if self.row() and self.chance.random() < 0.2:
            self.row().remove()


@pytest.mark.parametrize("seed", range(40))
def test_whatever_gets_lost_or_comes_again_no_unread_text_goes(as_user, owner, coral, seed):
    keeper = Keeper(seed, as_user(owner), coral)
    acts = [
        keeper.change_on_phone, keeper.send, keeper.send, keeper.replay, keeper.open_page,
        keeper.save_page, keeper.take_away,
    ]  # fmt: skip
    keeper.change_on_phone()
    for _ in range(25):
        keeper.chance.choice(acts)()
    keeper.send(luck=1)
    keeper.replay()
    followed = set().union(*keeper.knew.values())
    assert set(keeper.knew) - followed <= keeper.visible()
    assert keeper.row().text not in followed and HealthNote.objects.count() == 1

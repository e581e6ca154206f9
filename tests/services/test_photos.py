import hashlib
import json
import threading
import tracemalloc
import zipfile

import pytest
from sqlalchemy import text

from stash.db.models import Photo
from stash.db.store import open_store
from stash.errors import Conflict, InvalidInput, NotFound, StashError
from stash.services import archive, arrivals, history, photos, pictures
from stash.services.rows import delete_row, get_row, save_row
from stash.services.verify import verify
from tests.services.camera import bomb, photo, unpack_here
from tests.services.test_archive import NOW
from tests.services.workshop import BIN_A, BIN_B, CARBS, PROJECT, RUNNER, SHELF

THINGS = [("machine", RUNNER), ("lot", CARBS), ("place", BIN_A), ("design", "carb-0")]


@pytest.fixture
def quick(monkeypatch):
    unpack_here(monkeypatch)


def added(store, what="machine", name=RUNNER, data=None, **more):
    return photos.add_photo(store, what, name, data or photo(), who="Ann", **more).photo


@pytest.mark.parametrize(("what", "name"), THINGS)
def test_a_photo_of_anything_is_kept_and_told(workshop, quick, what, name):
    shown = added(workshop, what, name, caption="  the  fins\n<b>")
    assert photos.photos_of(workshop, what, name) == (shown,)
    assert photos.photo(workshop, shown.id) == shown
    assert (shown.what, shown.name, shown.caption, shown.added_by) == (what, name, "the fins <b>", "Ann")
    assert (str(shown.taken_on), shown.width, shown.height) == ("2024-05-06", 640, 480)
    assert verify(workshop).ok


def test_what_is_no_photo_leaves_nothing_behind(workshop):
    with pytest.raises(InvalidInput, match="not a photo"):
        added(workshop, data=b"<svg xmlns='http://www.w3.org/2000/svg'/>")
    assert photos.photos_of(workshop, "machine", RUNNER) == ()
    assert not workshop.photos.exists()


def test_codes_are_read_in_any_spelling(workshop, quick):
    assert added(workshop, "machine", f"{RUNNER[:3].lower()}-{RUNNER[3:]}").name == RUNNER


@pytest.mark.parametrize(
    ("what", "name"), [("machine", CARBS), ("lot", "nothing"), ("design", "no-such"), ("kind", "carb")]
)
def test_a_thing_that_is_not_there_gets_no_photo(workshop, quick, what, name):
    with pytest.raises(NotFound):
        added(workshop, what, name)
    assert not workshop.photos.exists()


def test_the_same_photo_is_one_file_and_is_on_a_thing_once(workshop, quick):
    first = photos.add_photo(workshop, "machine", RUNNER, photo(), who="Ann")
    again = photos.add_photo(workshop, "machine", RUNNER, photo(), who="Bea", caption="again")
    elsewhere = photos.add_photo(workshop, "design", "carb-0", photo(), who="Bea")
    assert (first.fresh, again.fresh, elsewhere.fresh) == (True, False, True)
    assert again.photo == first.photo
    assert [each.name for each in workshop.photos.iterdir() if each.is_file()] == [first.photo.sha256]


def test_a_file_goes_when_nothing_names_it_any_more(workshop, quick):
    one, two = added(workshop), added(workshop, "lot", CARBS)
    assert photos.remove_photo(workshop, one.id, who="Ann") == one
    assert pictures.small_file(workshop, two.sha256) is not None
    assert verify(workshop).ok
    photos.remove_photo(workshop, two.id, who="Ann")
    assert [each for each in workshop.photos.rglob("*") if each.is_file()] == []
    with pytest.raises(NotFound, match="not there any more"):
        photos.remove_photo(workshop, two.id, who="Ann")


def test_a_file_named_again_while_it_goes_is_put_back(workshop, quick, monkeypatch):
    shown = added(workshop)
    answers = iter([False, True])
    monkeypatch.setattr(pictures, "_named", lambda *_: next(answers))
    pictures.forget_unnamed(workshop, [shown.sha256])
    assert verify(workshop).ok


def test_a_file_that_went_while_it_was_named_is_written_again(workshop, quick, monkeypatch):
    shown_file = []
    keep = pictures.keep

    def removed_in_between(store, picture):
        keep(store, picture)
        if not shown_file:
            shown_file.append(store.photos / picture.sha256)
            shown_file[0].unlink()

    monkeypatch.setattr(pictures, "keep", removed_in_between)
    added(workshop)
    assert verify(workshop).ok


def test_photos_are_put_in_order_and_the_first_stands_for_the_thing(workshop, quick):
    a, b, c = (added(workshop, data=photo(colour=colour)) for colour in ("red", "tan", "navy"))

    def order():
        return [each.id for each in photos.photos_of(workshop, "machine", RUNNER)]

    photos.put(workshop, c.id, "first", who="Ann")
    assert order() == [c.id, a.id, b.id]
    assert photos.first_photos(workshop) == {RUNNER: c.sha256}
    photos.put(workshop, b.id, "earlier", who="Ann")
    assert order() == [c.id, b.id, a.id]
    photos.put(workshop, c.id, "later", who="Ann")
    photos.put(workshop, a.id, "later", who="Ann")
    assert order() == [b.id, c.id, a.id]
    with pytest.raises(InvalidInput):
        photos.put(workshop, a.id, "sideways", who="Ann")


def test_words_written_meanwhile_by_another_are_not_lost(workshop, quick):
    shown = added(workshop, caption="old")
    photos.say(workshop, shown.id, "hers", who="Bea", seen="old")
    with pytest.raises(Conflict, match="hers"):
        photos.say(workshop, shown.id, "his", who="Ann", seen="old")
    photos.say(workshop, shown.id, "", who="Ann")
    assert photos.photo(workshop, shown.id).caption == ""
    with pytest.raises(InvalidInput, match="at most 500"):
        photos.say(workshop, shown.id, "x" * 501, who="Ann")


def test_a_thing_has_not_endlessly_many(workshop, quick, monkeypatch):
    monkeypatch.setattr(photos, "MOST", 1)
    added(workshop)
    with pytest.raises(InvalidInput, match="1 photos"):
        added(workshop, data=photo(colour="navy"))
    assert verify(workshop).ok


def test_several_people_at_once_lose_nothing_and_add_nothing_twice(workshop, quick):
    sent = [photo(colour=colour) for colour in ("red", "navy", "red", "tan", "red", "navy")]
    faults: list[StashError] = []
    start = threading.Barrier(len(sent))

    def send(data):
        start.wait()
        try:
            added(workshop, data=data)
        except StashError as error:
            faults.append(error)

    people = [threading.Thread(target=send, args=(data,)) for data in sent]
    for each in people:
        each.start()
    for each in people:
        each.join()
    assert faults == []
    assert len(photos.photos_of(workshop, "machine", RUNNER)) == 3
    assert verify(workshop).ok


def test_a_renamed_design_keeps_its_photos_and_none_with_photos_is_deleted(workshop, quick):
    added(workshop, "design", "module-85")
    row = get_row(workshop, "designs", {"key": "module-85"})
    save_row(workshop, "designs", {**row.cells, "key": "module-86"}, {"key": "module-85"}, row.version, "Ann")
    assert len(photos.photos_of(workshop, "design", "module-86")) == 1
    with pytest.raises(Conflict, match="has photos"):
        delete_row(workshop, "designs", {"key": "module-86"}, None, "Ann")


def test_an_act_whose_thing_has_photos_since_is_not_undone(workshop, quick):
    done = arrivals.arrive(workshop, "places", {"name": "Bin C", "inside": SHELF}, who="Ann")
    shown = added(workshop, "place", done.codes[0])
    with pytest.raises(Conflict, match="has photos"):
        history.undo(workshop, done.batch, who="Ann")
    photos.remove_photo(workshop, shown.id, who="Ann")
    history.undo(workshop, done.batch, who="Ann")
    assert done.codes[0] not in workshop.stock().places
    assert verify(workshop).ok


def test_verify_tells_what_is_gone_damaged_and_nobodys(workshop, quick):
    gone, damaged = added(workshop), added(workshop, "design", "carb-0", photo(colour="navy"))
    (workshop.photos / gone.sha256).unlink()
    (workshop.photos / damaged.sha256).write_bytes(b"x")
    (workshop.photos / ("0" * 64)).write_bytes(b"y")
    told = " / ".join(verify(workshop).problems)
    assert f"{gone.sha256[:12]}… of {RUNNER} is gone" in told
    assert f"{damaged.sha256[:12]}… of carb-0 is damaged" in told
    assert f"{'0' * 64} in the photo folder belongs to nothing" in told
    assert len(verify(workshop).problems) == 3
    assert pictures.small(workshop, gone.sha256) is None


def test_a_damaged_photo_has_no_small_one_and_stops_nothing(workshop, quick):
    shown = added(workshop)
    (workshop.photos / "small" / f"{shown.sha256}.jpg").unlink()
    (workshop.photos / shown.sha256).write_bytes(bomb(10, 10))
    assert pictures.small_file(workshop, shown.sha256) is None
    assert pictures.small(workshop, "../../etc/passwd") is None


@pytest.mark.parametrize("engine", ["sqlite", pytest.param("postgresql", marks=pytest.mark.postgres)])
def test_photos_travel_in_the_archive_from_either_engine_to_either(workshop, quick, tmp_path, make_url_of, engine):
    for what, name in THINGS:
        added(workshop, what, name, photo(colour="navy" if what == "lot" else "tan"), caption=f"a {what}")
    last = added(workshop, data=photo(colour="red"))
    photos.put(workshop, last.id, "first", who="Ann")
    made = archive.archive(workshop, tmp_path / "all.zip", now=NOW)
    other = open_store(make_url_of(engine), photos=tmp_path / "other photos")
    assert archive.restore(other, tmp_path / "all.zip") == made
    assert made.photos == 3
    assert verify(other).ok
    for what, name in THINGS:
        assert photos.photos_of(other, what, name) == photos.photos_of(workshop, what, name)
    assert pictures.small(other, last.sha256) == pictures.small(workshop, last.sha256)
    added(other, "place", BIN_B)  # numbering goes on
    other.close()


def test_an_archive_holds_one_photo_at_a_time_in_memory(workshop, other_store, tmp_path):
    big = 8 * 1024**2
    for each in range(6):
        data = bytes([each]) * big
        digest = hashlib.sha256(data).hexdigest()
        workshop.photos.mkdir(exist_ok=True)
        (workshop.photos / digest).write_bytes(data)
        row = {"sha256": digest, "media_type": "image/jpeg", "width": 1, "height": 1, "added_at": NOW}
        with workshop.writing("ann", "photo") as work:
            work.session.add(Photo(code=RUNNER, **row))
    tracemalloc.start()
    try:
        archive.archive(workshop, tmp_path / "all.zip", now=NOW)
        archive.restore(other_store, tmp_path / "all.zip")
        assert tracemalloc.get_traced_memory()[1] < 3 * big
    finally:
        tracemalloc.stop()
    assert verify(other_store).ok


def rewritten(source, target, change):
    """An archive with other members and a manifest that agrees, as an attacker would make one."""
    with zipfile.ZipFile(source) as old:
        members = {name: old.read(name) for name in old.namelist()}
    manifest = json.loads(members.pop("manifest.json"))
    change(members)
    manifest["members"] = {name: hashlib.sha256(data).hexdigest() for name, data in members.items()}
    with zipfile.ZipFile(target, "w") as new:
        new.writestr("manifest.json", json.dumps(manifest))
        for name, data in members.items():
            new.writestr(name, data)


@pytest.mark.parametrize("name", ["photos/../../outside", "photos//tmp/outside", "photos/" + "a" * 64])
def test_an_archive_can_not_write_outside_the_photo_folder(workshop, other_store, tmp_path, name):
    archive.archive(workshop, tmp_path / "all.zip", now=NOW)
    rewritten(tmp_path / "all.zip", tmp_path / "bad.zip", lambda members: members.update({name: b"evil"}))
    with pytest.raises(InvalidInput, match="not named as its content"):
        archive.restore(other_store, tmp_path / "bad.zip")
    assert not other_store.stock().lots
    assert not other_store.photos.exists()


def test_an_older_archive_without_an_order_of_photos_is_restored(workshop, other_store, quick, tmp_path):
    added(workshop)
    archive.archive(workshop, tmp_path / "all.zip", now=NOW)

    def older(members):
        rows = [json.loads(line) for line in members["ledger/photos.jsonl"].splitlines()]
        new = {"ordinal", "design", "added_by"}
        kept = [{name: value for name, value in row.items() if name not in new} for row in rows]
        members["ledger/photos.jsonl"] = b"".join(json.dumps(row).encode() + b"\n" for row in kept)

    rewritten(tmp_path / "all.zip", tmp_path / "old.zip", older)
    archive.restore(other_store, tmp_path / "old.zip")
    assert len(photos.photos_of(other_store, "machine", RUNNER)) == 1


def test_the_database_itself_refuses_a_photo_of_nothing_and_of_two_things(workshop):
    row = {"sha256": "0" * 64, "media_type": "image/jpeg", "width": 1, "height": 1, "added_at": NOW}
    for things in ({}, {"code": PROJECT, "design": "carb-0"}):
        with pytest.raises(Conflict), workshop.writing("ann", "photo") as work:
            work.session.add(Photo(**row, **things))
    with workshop.reading() as session:
        assert session.execute(text("SELECT count(*) FROM photos")).scalar_one() == 0

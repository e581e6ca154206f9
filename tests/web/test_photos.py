"""Photos on pages and by their addresses, with no script running."""

import io
import zipfile

import pytest

from stash.services.photos import photos_of
from stash.web import create_app
from tests.services.camera import drawn, photo, saved, unpack_here
from tests.services.workshop import BIN_A, CARBS, RUNNER
from tests.web.conftest import came_in

PAGES = {
    f"/machines/{RUNNER}": ("machine", RUNNER),
    f"/lots/{CARBS}": ("lot", CARBS),
    "/designs/carb-0": ("design", "carb-0"),
    f"/places/{BIN_A}": ("place", BIN_A),
}


@pytest.fixture(autouse=True)
def quick(monkeypatch):
    unpack_here(monkeypatch)


def sent(visitor, home, *files, **more):
    """Fill in the form of a thing's page and send it."""
    what, name = PAGES[home]
    fields = {"csrf_token": visitor.open(home).fields()["csrf_token"], **more}
    chosen = [(io.BytesIO(data), filename) for filename, data in files]
    address = f"/photos/of/{what}/{name}"
    answer = visitor.client.post(address, data={**fields, "photo": chosen}, follow_redirects=True)
    return type(visitor.open("/nowhere"))(answer)


@pytest.mark.parametrize("home", PAGES)
def test_a_photo_is_added_on_the_page_of_a_thing_and_shown_there(visitor, shop, home):
    page = sent(visitor, home, ("IMG_1.HEIC", photo("HEIF")), ("", b""))
    assert page.status == 200
    assert "1 photo added." in page.text
    (shown,) = photos_of(shop, *PAGES[home])
    assert f"/photos/{shown.id}" in page.links
    assert f"/photos/small/{shown.sha256}.jpg" in page.body
    assert page.reader.stack == []
    assert len(page.data) < 100_000


def test_a_file_is_served_small_and_large_for_good_and_as_what_it_is(visitor, shop):
    sent(visitor, f"/lots/{CARBS}", ("a.jpg", photo()))
    (shown,) = photos_of(shop, "lot", CARBS)
    for size in ("small", "large"):
        address = f"/photos/{size}/{shown.sha256}.jpg"
        answer = visitor.client.get(address, buffered=True)
        assert answer.data.startswith(b"\xff\xd8\xff")
        assert answer.headers["Content-Type"] == "image/jpeg"
        assert answer.headers["X-Content-Type-Options"] == "nosniff"
        assert answer.headers["Cache-Control"] == "private, max-age=31536000, immutable"
        again = visitor.client.get(address, headers={"If-None-Match": answer.headers["ETag"]}, buffered=True)
        assert (again.status_code, again.data) == (304, b"")
    small = visitor.client.get(f"/photos/small/{shown.sha256}.jpg", buffered=True)
    assert len(small.data) < 20_000


@pytest.mark.parametrize("name", ["0" * 64, "..%2F..%2Fstash.sqlite", "a", "small"])
def test_no_file_that_no_photo_names_is_served(visitor, shop, name):
    shop.photos.mkdir(exist_ok=True)
    (shop.photos / ("0" * 64)).write_bytes(saved(drawn()))
    for size in ("small", "large"):
        assert visitor.open(f"/photos/{size}/{name}.jpg").status == 404


@pytest.mark.parametrize("filename", ["../../evil.jpg", "C:\\evil.jpg", "a\x00b.jpg", "<b>x</b>.jpg", "photo.svg"])
def test_what_a_file_is_called_plays_no_part(visitor, shop, filename):
    assert "1 photo added." in sent(visitor, f"/lots/{CARBS}", (filename, saved(drawn(), "PNG"))).text
    (shown,) = photos_of(shop, "lot", CARBS)
    assert {each.name for each in shop.photos.iterdir()} == {shown.sha256, "small"}


def test_what_is_no_photo_is_refused_and_the_good_ones_are_kept(visitor, shop):
    svg = b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>"
    page = sent(visitor, f"/lots/{CARBS}", ("x.jpg", svg))
    assert page.status == 400
    assert "not a photo that can be read" in page.text
    page = sent(visitor, f"/lots/{CARBS}", ("good.jpg", photo()), ("<i>bad</i>.png", svg), ("again.jpg", photo()))
    assert "1 photo added." in page.text
    assert "1 photo was there already." in page.text
    assert "was not added: This is not a photo that can be read." in page.text
    assert "<i>" not in page.body
    assert len(photos_of(shop, "lot", CARBS)) == 1


def test_the_list_of_machines_to_print_shows_the_first_photo_of_each(visitor, shop):
    assert '<th scope="col">photo' not in visitor.open("/machines/papers").body
    sent(visitor, f"/machines/{RUNNER}", ("a.jpg", photo()), ("b.jpg", photo(colour="navy")))
    page = visitor.open("/machines/papers")
    assert page.body.count("/photos/small/") == 1
    assert photos_of(shop, "machine", RUNNER)[0].sha256 in page.body


def test_nothing_chosen_and_far_too_many_are_told(visitor):
    assert "No photo was chosen" in sent(visitor, f"/lots/{CARBS}").text
    assert "at most 20" in sent(visitor, f"/lots/{CARBS}", *[("a.jpg", b"x")] * 21).text


def test_a_photo_is_looked_at_told_put_first_and_removed(visitor, shop):
    home = f"/machines/{RUNNER}"
    sent(visitor, home, ("a.jpg", photo()), ("b.jpg", photo(colour="navy")))
    first, second = photos_of(shop, "machine", RUNNER)
    page = visitor.open(f"/photos/{second.id}")
    assert "photo 2 of 2" in page.text
    assert "taken 2024-05-06" in page.text
    assert f"/photos/{first.id}" in page.links
    page = visitor.send(f"/photos/{second.id}/caption", open_at=f"/photos/{second.id}", caption="<b>cracked fin</b>")
    assert "<h1>&lt;b&gt;cracked fin&lt;/b&gt;</h1>" in page.body
    assert visitor.send(f"/photos/{second.id}/put", open_at=f"/photos/{second.id}", where="first").status == 200
    assert [each.id for each in photos_of(shop, "machine", RUNNER)] == [second.id, first.id]
    assert "Remove this photo?" in visitor.open(f"/photos/{second.id}/remove").text
    assert "Photo removed." in visitor.send(f"/photos/{second.id}/remove").text
    assert [each.id for each in photos_of(shop, "machine", RUNNER)] == [first.id]
    assert visitor.open(f"/photos/{second.id}").status == 404


def test_words_over_words_of_another_are_a_conflict_that_shows_both(visitor, shop):
    sent(visitor, f"/lots/{CARBS}", ("a.jpg", photo()))
    (shown,) = photos_of(shop, "lot", CARBS)
    fields = visitor.open(f"/photos/{shown.id}").fields()
    visitor.send(f"/photos/{shown.id}/caption", open_at=f"/photos/{shown.id}", caption="hers")
    answer = visitor.client.post(f"/photos/{shown.id}/caption", data={**fields, "caption": "his"})
    assert answer.status_code == 409
    assert "hers" in answer.text
    assert "his" in answer.text


def test_a_page_with_many_photos_stays_light_and_leads_to_all_of_them(visitor, shop):
    colours = [f"rgb({10 * each},90,90)" for each in range(14)]
    files = [("a.jpg", saved(drawn(64, 48, colour))) for colour in colours]
    page = sent(visitor, f"/lots/{CARBS}", *files)
    assert "14 photos added." in page.text
    assert page.body.count("/photos/small/") == 12
    assert len(page.data) < 100_000
    assert visitor.open(f"/photos/of/lot/{CARBS}").body.count("/photos/small/") == 14
    assert visitor.open("/photos/of/lot/nothing").status == 404


def test_a_thing_that_is_not_there_gets_none(visitor):
    token = visitor.open("/").fields().get("csrf_token") or visitor.open("/lots/add").fields()["csrf_token"]
    data = {"csrf_token": token, "photo": [(io.BytesIO(photo()), "a.jpg")]}
    assert visitor.client.post("/photos/of/lot/nothing", data=data).status_code == 404


def test_a_form_without_its_seal_adds_nothing(visitor, shop):
    data = {"photo": [(io.BytesIO(photo()), "a.jpg")]}
    assert visitor.client.post(f"/photos/of/lot/{CARBS}", data=data).status_code == 400
    assert photos_of(shop, "lot", CARBS) == ()


def test_a_guest_looks_and_a_helper_adds_and_a_stranger_sees_nothing(club):
    app = create_app(club, secret_key="for tests only", served_as=["stash.local"])
    helper, guest = came_in(app, "helper"), came_in(app, "guest")
    assert "1 photo added." in sent(helper, f"/lots/{CARBS}", ("a.jpg", photo())).text
    (shown,) = photos_of(club, "lot", CARBS)
    assert shown.added_by == "helper"
    page = guest.open(f"/lots/{CARBS}")
    assert f"/photos/{shown.id}" in page.links
    assert "Take a photo" not in page.text
    assert "Remove" not in guest.open(f"/photos/{shown.id}").text
    assert sent(guest, f"/lots/{CARBS}", ("b.jpg", photo(colour="navy"))).status == 403
    for address in (f"/photos/{shown.id}/remove", f"/photos/{shown.id}/put", f"/photos/{shown.id}/caption"):
        token = page.fields()["csrf_token"]
        assert guest.client.post(address, data={"csrf_token": token, "where": "first"}).status_code == 403
    stranger = app.test_client()
    assert stranger.get(f"/photos/small/{shown.sha256}.jpg").status_code == 302
    assert photos_of(club, "lot", CARBS) == (shown,)


def test_photos_come_home_in_the_archive_and_nothing_of_it_stays_on_the_server(visitor, shop, tmp_path, monkeypatch):
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path / "waiting"))
    (tmp_path / "waiting").mkdir()
    sent(visitor, f"/lots/{CARBS}", ("a.jpg", photo()))
    page = visitor.open("/sheets/archive.zip")
    assert f"photos/{photos_of(shop, 'lot', CARBS)[0].sha256}" in zipfile.ZipFile(io.BytesIO(page.data)).namelist()
    assert list((tmp_path / "waiting").iterdir()) == []

"""What to mind stands where parts are picked and handled, and what somebody took on themselves stays to be read."""

from stash.services.demo import load_demo
from stash.web import create_app
from tests.services.workshop import FAST, RUNNER
from tests.web.conftest import Visitor


def test_a_pick_list_says_once_what_to_mind_and_for_which_parts(empty):
    load_demo(empty, who="Ann")
    demo = Visitor(create_app(empty, secret_key="for tests only").test_client())
    texts = [demo.open(link).text for link in set(demo.open("/gaps/").links) if link.startswith("/gaps/of")]
    minded = [text for text in texts if "Mind this with them" in text]
    assert minded
    assert any("carburettor: Petrol vapour is heavier than air" in text for text in minded)
    assert all(text.count("the switch stops it") <= 1 for text in minded)


def test_fitting_a_module_says_what_to_mind_and_an_acknowledged_danger_stays_on_the_sheet(visitor):
    page = visitor.open(f"/machines/{RUNNER}/fit?position=module&lot={FAST}")
    assert "Check that the switch stops it." in page.text
    refused = visitor.send(f"/machines/{RUNNER}/fit?position=module&lot={FAST}")
    assert refused.status == 409
    assert "above the machine's rated 5500 rpm" in refused.text
    done = visitor.send(f"/machines/{RUNNER}/fit?position=module&lot={FAST}", acknowledged="yes")
    assert "Fitted although: module: its limit of 8500 rpm is above" in done.text
    assert "Fitted although" in visitor.open(f"/machines/{RUNNER}").text


def test_stripping_says_what_to_mind_about_fuel_and_old_linings(visitor):
    page = visitor.open(f"/machines/{RUNNER}/strip")
    assert "lights far away" in page.text
    assert "No blowing, no sanding" in page.text

from stash.services.health import health, health_dict
from stash.services.tables import save_row


def test_a_sound_catalogue_has_nothing_wrong(workshop):
    told = health_dict(health(workshop))
    assert told["ok"]
    assert all({"level", "table", "key", "text", "do"} == set(each) for each in told["findings"])


def test_stock_that_a_mate_contradicts_is_told_with_what_to_do(workshop):
    cells = {"design": "boot-90", "position": "boot", "model": "early"}
    save_row(workshop, "came_on", cells, None, None, "Ann")
    told = health_dict(health(workshop))
    assert not told["ok"]
    wrong = [each for each in told["findings"] if each["level"] == "wrong"]
    assert wrong
    assert all(each["do"] for each in wrong)

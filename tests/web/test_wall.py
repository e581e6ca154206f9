"""The charts for the wall and the muster, as pages."""

from stash.services import rows
from tests.services.workshop import DONOR, PROJECT, RUNNER


def test_the_chart_leads_to_a_pdf(visitor):
    assert any("/wall-charts/a" in link for link in visitor.open("/charts/a/carb").links)
    page = visitor.open("/wall-charts/a?kind=carb")
    assert 'value="carb" checked' in page.body
    sent = visitor.client.get("/wall-charts/a/sheets.pdf?sheet=a3&kind=carb")
    assert sent.mimetype == "application/pdf"
    assert sent.data.startswith(b"%PDF")
    assert sent.data == visitor.client.get("/wall-charts/a/sheets.pdf?sheet=a3&kind=carb").data
    for wrong in ("/wall-charts/none", "/wall-charts/a/sheets.pdf?sheet=a9", "/wall-charts/none/sheets.pdf"):
        assert visitor.open(wrong).status == 404


def test_a_tile_leads_to_the_machine_the_model_or_the_gap(visitor, shop):
    page = visitor.open("/muster/")
    assert "Fennaby Early" in page.text
    assert f"/machines/{PROJECT}" in page.links
    assert f"/machines/{RUNNER}" in page.links
    for code in (RUNNER, DONOR):
        rows.save_row(shop, "machines", {"state": "gone"}, {"code": code}, None, "owner")
    assert "/models/early" in visitor.open("/muster/").links
    rows.save_row(shop, "wanted", {"model": "early"}, None, None, "owner")
    page = visitor.open("/muster/")
    assert any(link.startswith("/gaps/of?gap=wanted") for link in page.links)
    assert "wanted" in page.text

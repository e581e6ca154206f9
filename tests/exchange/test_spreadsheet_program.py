"""Workbooks opened and saved again by a real spreadsheet program come back cell for cell.

Against: LibreOffice Calc, run without a window; skipped where it is not installed.
"""

import shutil
import subprocess

import pytest

from stash.exchange import read_tables, write_tables
from stash.kernel.tables import TABLE_BY_NAME
from tests.services.random_tables import AWKWARD

SOFFICE = shutil.which("soffice")
TEXTS = [text for text in AWKWARD if text != "\ufeffbom"]  # the program drops a mark that stands in no text file
TABLES_OUT = {
    "kinds": [[f"k{number}", "x", "intake", "no", "", text, ""] for number, text in enumerate(TEXTS)],
    "design_measures": [
        ["c14", f"m{number}", value, "0.000001", ""]
        for number, value in enumerate(["14.05", "007", "1e5", "yes", "7000", "-0.5", "left", "=1"])
    ],
    "places": [
        [f"p{number}", "shelf", "", "", day]
        for number, day in enumerate(["1974-05-31", "1899-12-31", "1900-02-28", "1900-03-01", "2024-02-29"])
    ],
}


@pytest.mark.skipif(SOFFICE is None, reason="no LibreOffice")
@pytest.mark.parametrize(("written", "saved"), [("xlsx", "ods"), ("ods", "xlsx"), ("xlsx", "xlsx"), ("ods", "ods")])
def test_a_workbook_survives_a_spreadsheet_program(tmp_path, written, saved):
    file = tmp_path / f"tables.{written}"
    write_tables(file, TABLES_OUT)
    profile = f"-env:UserInstallation=file://{tmp_path}/profile"
    convert = [SOFFICE, profile, "--headless", "--convert-to", saved, "--outdir", tmp_path / "saved", file]
    subprocess.run(convert, check=True, capture_output=True, timeout=200)
    read = read_tables(tmp_path / "saved" / f"tables.{saved}")
    assert set(read) == set(TABLE_BY_NAME)
    for name, rows in TABLES_OUT.items():
        width = len(TABLE_BY_NAME[name].columns)
        assert [(row + [""] * width)[:width] for _, row in read[name].rows] == rows

"""What drawing labels costs against the plain way: one picture from a QR library for each label.

Run from the project's folder: ``python benchmarks/labels_draw.py``. Both ways print the same words in the same places
with the same code; only the symbols differ. The plain way is timed on a share of the labels and scaled, because it is
slow and its cost grows evenly. Each way runs in a process of its own, so that its peak memory is its own.
"""

from __future__ import annotations

import json
import random
import resource
import subprocess
import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

import qrcode
from reportlab.lib.utils import ImageReader

from labels.layout import PT_MM
from labels.press import Press
from labels.qr import QUIET_MODULES, modules_of
from labels.sheet import draw
from labels.stocks import bundled
from labels.text import LabelText

COUNT, SAMPLE = 10_000, 1_000
STOCK = bundled()["a4-64x34"]
LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
KINDS = ("Piston", "Carburettor", "Top cover", "Flywheel", "Wrist pin", "Recoil cover")
MODELS = ("Kittle II", "Kittle S", "Pip", "Pip Sport", "Tansel RK")


def labels(count: int) -> list[LabelText]:
    """Full labels: code, title, discriminator, fits, NOT, mark, quantity and date."""
    chance = random.Random(3)

    def one() -> LabelText:
        code = "".join(chance.choice(LETTERS) for _ in range(6))
        return LabelText(
            code,
            f"HTTP://STASH.LOCAL/Q/{code}",
            title=f"{chance.choice(KINDS)} {chance.randint(100, 500) / 10} mm",
            discriminator=f"hole spacing {chance.randint(30, 60)} mm",
            fits=", ".join(chance.sample(MODELS, 2)),
            fits_not=chance.choice(MODELS),
            mark=f"A{chance.randint(1, 4)}",
            quantity=f"{chance.randint(1, 9)} pcs",
            counted=f"2026-{chance.randint(1, 12):02}-{chance.randint(1, 28):02}",
        )

    return [one() for _ in range(count)]


class PlainPress(Press):
    """The same label with its symbol as a picture, the way a first version would do it."""

    def _symbols(self, label: LabelText) -> None:
        code = qrcode.QRCode(box_size=8, border=QUIET_MODULES)
        code.add_data(label.address)
        picture = ImageReader(code.make_image().get_image())
        side = self.stock.qr_mm / PT_MM
        for box in self.layout.symbols:
            x, y = box.x_mm / PT_MM, -box.y_mm / PT_MM - side
            self.canvas.drawImage(picture, x, y, width=side, height=side)


def measure(way: str, count: int) -> dict[str, float]:
    """Seconds, bytes and peak memory of one way, in this process."""
    from labels import sheet

    what = labels(count)
    if way == "plain":
        sheet.Press = PlainPress
    draw(what[:24], STOCK)  # fonts loaded, first symbols drawn
    start = time.process_time()
    pdf = draw(what, STOCK)
    seconds = time.process_time() - start
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    start = time.process_time()
    for _ in range(5):
        draw(what[:24], STOCK)
    sheet_ms = (time.process_time() - start) / 5 * 1000
    return {"seconds": seconds, "bytes": len(pdf) / count, "peak_mb": peak, "sheet_ms": sheet_ms}


def apart(way: str, count: int) -> dict[str, float]:
    """The same in a fresh process."""
    command = [sys.executable, __file__, way, str(count)]
    run = subprocess.run(command, check=True, capture_output=True, text=True)  # noqa: S603 (this very file)
    return dict(json.loads(run.stdout))


def main() -> None:
    """Print the table."""
    if len(sys.argv) > 1:
        print(json.dumps(measure(sys.argv[1], int(sys.argv[2]))))
        return
    modules = modules_of(27)
    print(f"{COUNT:,} labels, A4, {STOCK.labels_a_page} a sheet, {modules} x {modules} modules, eight items each\n")
    ours = apart("ours", COUNT)
    plain = apart("plain", SAMPLE)
    scaled = plain["seconds"] * COUNT / SAMPLE
    print("| way | CPU s | x plain | MB at peak | PDF bytes a label | one sheet, warm, ms |")
    print("|---|---|---|---|---|---|")
    print(
        f"| a picture a label, {SAMPLE:,} timed and scaled | {scaled:.1f} | 1 | "
        f"{plain['peak_mb']:.0f} for {SAMPLE:,} | {plain['bytes']:.0f} | {plain['sheet_ms']:.0f} |"
    )
    print(
        f"| ours | {ours['seconds']:.1f} | {scaled / ours['seconds']:.1f} | {ours['peak_mb']:.0f} | "
        f"{ours['bytes']:.0f} | {ours['sheet_ms']:.0f} |"
    )


if __name__ == "__main__":
    main()

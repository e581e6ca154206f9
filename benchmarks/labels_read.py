"""What a photo of a shelf yields under blur, grain, tilt, dirt and pale print, look by look.

Run from the project's folder: ``python benchmarks/labels_read.py``. Photos are simulated (``labels_shelf.py``): twelve
megapixels, forty labels. No real phone or printer takes part.
"""

from __future__ import annotations

import sys
import time
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))
sys.path.insert(0, str(Path(__file__).resolve().parent))

from labels_shelf import Camera, photo

from labels import reading
from labels.photo import upright

COUNT = 40
SEEDS = (1, 2)
CASES = {
    "3 px a module": Camera(),
    "2.5 px": Camera(module_px=2.5),
    "2 px": Camera(module_px=2.0),
    "1.75 px": Camera(module_px=1.75),
    "1.5 px": Camera(module_px=1.5),
    "noise 20": Camera(noise=20),
    "noise 30": Camera(noise=30),
    "noise 40": Camera(noise=40),
    "blur 0.4 modules": Camera(blur_px=1.2),
    "blur 0.5 modules": Camera(blur_px=1.5),
    "blur 0.6 modules": Camera(blur_px=1.8),
    "yaw 45°": Camera(yaw_deg=45),
    "yaw 55°": Camera(yaw_deg=55),
    "yaw 60°": Camera(yaw_deg=60),
    "contrast 0.3": Camera(contrast=0.3),
    "contrast 0.2": Camera(contrast=0.2),
    "contrast 0.15, noise 8": Camera(contrast=0.15, noise=8),
    "dirt 1 %": Camera(dirt=0.01),
    "dirt 2 %": Camera(dirt=0.02),
    "dirt 5 %": Camera(dirt=0.05),
}


def row(name: str, camera: Camera) -> str:
    """One line of the table: shares read after each look, and what ``read_photo`` gives."""
    after = [0] * 5
    read = wrong = unread = 0
    seconds = 0.0
    for seed in SEEDS:
        shelf = photo(COUNT, camera, seed)
        found = reading._Found()  # noqa: SLF001 (the table shows what each look adds)
        for index, (look, factor) in enumerate(reading._looks(upright(shelf.jpeg).convert("L"))):  # noqa: SLF001
            found.take(look, factor)
            after[index] += len(found.readings)
        start = time.process_time()
        result = reading.read_photo(shelf.jpeg)
        seconds += time.process_time() - start
        payloads = {one.payload for one in result.readings}
        read += len(payloads & set(shelf.addresses))
        wrong += len(payloads - set(shelf.addresses))
        unread += len(result.unread)
    total = COUNT * len(SEEDS)
    shares = " | ".join(f"{count / total:.0%}" for count in after)
    return f"| {name} | {shares} | {read / total:.0%} | {wrong} | {unread} | {seconds / len(SEEDS):.2f} |"


def main() -> None:
    """Print the table."""
    print(
        f"{COUNT} labels on 12 megapixels, {len(SEEDS)} photos a row; 3 px a module, blur 0.7 px, noise 4 unless told\n"
    )
    print("| photo | as is | + 2 x | + sharpened | + smoothed | + both | read_photo | wrong | left unread | CPU s |")
    print("|---|---|---|---|---|---|---|---|---|---|")
    for name, camera in CASES.items():
        print(row(name, camera), flush=True)


if __name__ == "__main__":
    main()

"""What small photos cost, unpacked in a fraction of their size or unpacked whole, and what a photo costs to take in.

Run from the project's folder: ``python benchmarks/photos.py``. Photos are drawn (``sharp_scene``): twelve and
forty-eight megapixels with edges and grain, as JPEGs of quality 90. All ways run in turn, several times; the least CPU
time of each counts, and the ratio is to the plain way of the same run.
"""

from __future__ import annotations

import io
import sys
import tempfile
import time
from collections.abc import Callable
from pathlib import Path

sys.path.insert(0, str(Path(__file__).resolve().parent.parent))

from PIL import Image, ImageChops, ImageDraw, ImageStat

from labels.photo import upright
from stash.services import picture_child, pictures

ROUNDS = 5
SIZES = {"12 MP": (4000, 3000), "48 MP": (8000, 6000)}


def sharp_scene(width: int, height: int) -> bytes:
    """A photo of fins and bolts on a bench, with the grain of a phone's camera, as JPEG bytes."""
    grain = Image.effect_noise((width // 4, height // 4), 24).resize((width, height), Image.Resampling.BICUBIC)
    picture = Image.merge("RGB", (grain, grain, grain))
    draw = ImageDraw.Draw(picture)
    for fin in range(20):
        top = height * (fin + 2) // 24
        draw.rectangle((width // 5, top, 4 * width // 5, top + height // 60), (90, 95, 100), "black", 4)
    for bolt in range(12):
        left = width * (bolt + 1) // 14
        draw.ellipse((left, height // 20, left + width // 40, height // 20 + width // 40), "silver", "black", 5)
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90)
    return out.getvalue()


def whole(data: bytes, longest_px: int) -> Image.Image:
    """The plain way: unpack every pixel, then make it smaller."""
    picture = Image.open(io.BytesIO(data))
    picture.load()
    scale = longest_px / max(picture.size)
    return picture.resize((round(picture.width * scale), round(picture.height * scale)), Image.Resampling.LANCZOS)


def reduced(data: bytes, longest_px: int) -> Image.Image:
    """Our way: let the decoder leave out what is not needed."""
    picture = Image.open(io.BytesIO(data))
    picture.thumbnail((longest_px, longest_px))
    return picture


def seconds(ways: dict[str, Callable[[], object]]) -> dict[str, float]:
    """``{way: least CPU seconds}`` of several rounds in turn."""
    least = dict.fromkeys(ways, float("inf"))
    for _ in range(ROUNDS):
        for name, way in ways.items():
            start = time.process_time()
            way()
            least[name] = min(least[name], time.process_time() - start)
    return least


def table(title: str, ways: dict[str, Callable[[], object]]) -> None:
    """Print one table; the first way is the plain one."""
    found = seconds(ways)
    plain = next(iter(found.values()))
    print(f"\n{title}\n\n| way | CPU ms | times quicker |\n|---|---|---|")
    for name, spent in found.items():
        print(f"| {name} | {spent * 1000:.1f} | {plain / spent:.1f} |")


def small(folder: Path, name: str, data: bytes) -> None:
    """Small photos for a strip."""
    kept = folder / "kept"
    kept.write_bytes(picture_child.remade(data)[1])
    ready = folder / "small"
    ready.write_bytes(pictures._made_small(kept) or b"")  # noqa: SLF001 - the step that is measured
    longest = pictures.SMALL_PX
    ways: dict[str, Callable[[], object]] = {
        "sent photo, unpacked whole": lambda: whole(data, longest),
        "kept photo, unpacked whole": lambda: whole(kept.read_bytes(), longest),
        "sent photo, unpacked reduced": lambda: reduced(data, longest),
        "kept photo, unpacked reduced, and written (ours, once)": lambda: pictures._made_small(kept),  # noqa: SLF001
        "small photo read (ours, ever after)": ready.read_bytes,
    }
    table(f"A small photo of {name}", ways)
    apart = ImageStat.Stat(ImageChops.difference(whole(data, longest), reduced(data, longest))).mean
    print(f"\nReduced and whole differ by {sum(apart) / 3:.2f} of 255 levels on average.")


def taken_in(name: str, data: bytes) -> None:
    """A photo made ours."""

    def plain() -> None:
        picture = upright(data)
        picture.thumbnail((picture_child.LONGEST_PX, picture_child.LONGEST_PX), Image.Resampling.LANCZOS)
        picture.save(io.BytesIO(), "JPEG", quality=85, optimize=True)

    table(f"{name} taken in", {"unpacked whole": plain, "ours": lambda: picture_child.remade(data)})
    start = time.perf_counter()
    picture_child.remade(data)
    here = time.perf_counter() - start
    start = time.perf_counter()
    pictures.make_ours(data)
    print(f"\nIn a process of its own it takes {(time.perf_counter() - start) / here:.1f} times as long on the clock.")


def main() -> None:
    """Print the tables."""
    with tempfile.TemporaryDirectory() as folder:
        for name, size in SIZES.items():
            data = sharp_scene(*size)
            print(f"\n{name}: {len(data) / 1e6:.1f} MB")
            small(Path(folder), name, data)
            taken_in(name, data)


if __name__ == "__main__":
    main()

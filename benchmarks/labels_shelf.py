"""A simulated photo of a shelf, for the label benchmarks: seeded, with printed labels, clutter and a camera's faults.

Labels are drawn by the program's own sheets, rendered by a PDF library, put on a cluttered shelf, then seen by a
camera: turned, tilted, blurred, noisy, pale, dirty, compressed.
"""

from __future__ import annotations

import io
import math
import random
from dataclasses import dataclass, field

import numpy as np
import pypdfium2 as pdfium
from PIL import Image, ImageDraw, ImageFilter

from labels.layout import module_dots
from labels.qr import modules_of
from labels.sheet import draw
from labels.stocks import Stock, bundled
from labels.text import LabelText

LETTERS = "0123456789ABCDEFGHJKMNPQRSTVWXYZ"
WIDTH, HEIGHT = 4000, 3000


@dataclass(frozen=True)
class Camera:
    """What the camera and the shelf do to a label.

    Attributes:
        module_px: Pixels a module.
        blur_px: Standard deviation of the blur.
        noise: Standard deviation of the noise, in grey levels.
        yaw_deg: Turn of the shelf away from the camera about the vertical.
        contrast: Ink to paper, 1 is black on white.
        dirt: Share of each symbol's area under an opaque blot.
    """

    module_px: float = 3.0
    blur_px: float = 0.7
    noise: float = 4.0
    yaw_deg: float = 0.0
    contrast: float = 1.0
    dirt: float = 0.0


@dataclass
class Shelf:
    """A photo as JPEG, and what stands on it."""

    jpeg: bytes
    addresses: list[str] = field(default_factory=list)


def labels_for(count: int, seed: int) -> list[LabelText]:
    """So many labels with different codes and everyday words."""
    chance = random.Random(seed)
    codes: set[str] = set()
    while len(codes) < count:
        codes.add("".join(chance.choice(LETTERS) for _ in range(6)))
    return [
        LabelText(
            code, f"HTTP://STASH.LOCAL/Q/{code}", "Carburettor 14 mm", "hole spacing 42 mm", "Kittle II", "Pip", "A2"
        )
        for code in sorted(codes)
    ]


def photo(count: int, camera: Camera, seed: int = 1, stock: Stock | None = None) -> Shelf:
    """A shelf of labels in rows, as a 12-megapixel JPEG."""
    stock = stock or bundled()["roll-62x29"]
    chance = random.Random(seed)
    labels = labels_for(count, seed)
    scene = _clutter(chance)
    module_mm = module_dots(modules_of(27), stock.qr_mm, stock.dpi) * stock.dot_mm
    dpi = camera.module_px / module_mm * 25.4
    pdf = pdfium.PdfDocument(draw(labels, stock))
    columns = math.ceil(math.sqrt(count * 4 / 3 / 2))
    rows = math.ceil(count / columns)
    for index, _ in enumerate(labels):
        sharp = pdf[index].render(scale=3 * dpi / 72).to_pil().convert("L")
        print_ = _printed(sharp, camera, chance, stock)
        x = (index % columns + 0.5) * WIDTH / columns + chance.uniform(-20, 20)
        y = (index // columns + 0.5) * HEIGHT / rows + chance.uniform(-20, 20)
        _stick(scene, print_, x, y, chance)
    pdf.close()
    return Shelf(_seen(scene, camera, seed), [label.address for label in labels])


def _clutter(chance: random.Random) -> Image.Image:
    """Boxes, edges and parts in greys, all kinds of sizes."""
    scene = Image.new("L", (WIDTH, HEIGHT), 90)
    pen = ImageDraw.Draw(scene)
    for _ in range(900):
        x, y = chance.uniform(-100, WIDTH), chance.uniform(-100, HEIGHT)
        w, h = (
            chance.choice([8, 20, 60, 200]) * chance.uniform(0.5, 2),
            chance.choice([8, 20, 60, 200]) * chance.uniform(0.5, 2),
        )
        ink = chance.randrange(20, 200)
        if chance.random() < 0.4:
            pen.ellipse((x, y, x + w, y + h), fill=ink, outline=chance.randrange(256))
        else:
            pen.rectangle((x, y, x + w, y + h), fill=ink, outline=chance.randrange(256))
    return scene


def _printed(sharp: Image.Image, camera: Camera, chance: random.Random, stock: Stock) -> Image.Image:
    """A label as it hangs there: dirty and pale, seen askew; three times the final size."""
    if camera.dirt:
        side = stock.qr_mm / stock.label_w_mm * sharp.width
        radius = math.sqrt(camera.dirt * side * side / math.pi)
        x, y = chance.uniform(0.12, 0.88) * side, sharp.height / 2 + chance.uniform(-0.38, 0.38) * side
        ImageDraw.Draw(sharp).ellipse((x - radius, y - radius, x + radius, y + radius), fill=70)
    paper = 225
    ink = paper - 200 * camera.contrast
    pale = sharp.point([round(ink + (paper - ink) * level / 255) for level in range(256)])
    narrow = max(1, round(pale.width * math.cos(math.radians(camera.yaw_deg))))
    return pale.resize((narrow, pale.height), Image.Resampling.LANCZOS)


def _stick(scene: Image.Image, print_: Image.Image, x: float, y: float, chance: random.Random) -> None:
    mask = Image.new("L", print_.size, 255)
    turn = chance.uniform(-6, 6)
    turned = print_.rotate(turn, Image.Resampling.BICUBIC, expand=True)
    mask = mask.rotate(turn, expand=True)
    size = (max(1, turned.width // 3), max(1, turned.height // 3))
    turned, mask = (one.resize(size, Image.Resampling.BOX) for one in (turned, mask))
    scene.paste(turned, (round(x - size[0] / 2), round(y - size[1] / 2)), mask)


def _seen(scene: Image.Image, camera: Camera, seed: int) -> bytes:
    blurred = scene.filter(ImageFilter.GaussianBlur(camera.blur_px)) if camera.blur_px else scene
    grain = np.random.default_rng(seed).normal(0, camera.noise, (HEIGHT, WIDTH))
    light = np.linspace(0.8, 1.08, WIDTH)[None, :]
    seen = np.clip(np.asarray(blurred, dtype=float) * light + grain, 0, 255).astype(np.uint8)
    out = io.BytesIO()
    Image.fromarray(seen).save(out, "JPEG", quality=80)
    return out.getvalue()

"""Bench tops as linear RGB textures on a square canvas."""
import cv2
import numpy as np
from PIL import Image, ImageDraw

from . import cards, fields

NAMES = ("wood", "newspaper", "steel", "cloth", "granite", "plywood", "plain", "stripes", "gravelbed", "mat")


def tinted(y, rgb):
    """Scalar luminance field times a tint of unit luminance."""
    rgb = np.asarray(rgb, np.float32)
    return np.clip(y, 0.004, 0.95)[:, :, None] * (rgb / (rgb @ [0.2126, 0.7152, 0.0722])).astype(np.float32)


def wood(rng, size, s, knots=True):
    """Board grain: stretched noise bends the year rings."""
    pitch = rng.uniform(3, 9) * s
    y, x = np.mgrid[0:size[0], 0:size[1]].astype(np.float32)
    bend = fields.spectral(rng, size, 3.0, 256, (1, 6)) * pitch * rng.uniform(0.6, 2.0)
    if knots:
        for _ in range(rng.integers(0, 4)):
            cx, cy, r = rng.uniform(0, size[1]), rng.uniform(0, size[0]), rng.uniform(4, 12) * s
            bend += 4 * pitch * np.exp(-(((x - cx) / (3 * r)) ** 2 + ((y - cy) / r) ** 2))
    rings = np.abs(((y + bend) / pitch) % 1 - 0.5) * 2
    fibre = fields.spectral(rng, size, 1.2, 512, (1, 14))
    field = rng.uniform(0.12, 0.5) * (1 + rng.uniform(0.1, 0.3) * (rings - 0.5) + 0.07 * fibre)
    boards = rng.uniform(60, 140) * s
    field *= 1 - 0.7 * (np.abs((y + rng.uniform(0, boards)) % boards) < 0.6 * s)
    return tinted(field, [1.0, rng.uniform(0.6, 0.75), rng.uniform(0.28, 0.5)])


def plywood(rng, size, s):
    """Rotary veneer: broad pale flames, weak contrast, some speckle."""
    flame = fields.spectral(rng, size, 2.4, 512, (1, 8))
    bands = np.sin(flame * rng.uniform(3, 6))
    dust = fields.photo_field(rng, size, 0.8 * s / 10)
    field = rng.uniform(0.3, 0.5) * (1 + 0.07 * bands + 0.06 * fields.spectral(rng, size, 1, 512, (1, 20)) + 0.03 * dust)
    return tinted(field, [1.0, 0.78, rng.uniform(0.48, 0.6)])


def made_up_word(rng):
    """Pronounceable nonsense."""
    return "".join(rng.choice(list("bcdfglmnprstv")) + rng.choice(list("aeiou")) for _ in range(rng.integers(1, 5)))


def newspaper(rng, size, s):
    """Columns of text-like lines, headlines and a grey picture box."""
    h, w = size
    sheet = Image.new("L", (w, h), 0)
    draw = ImageDraw.Draw(sheet)
    column, gutter = rng.uniform(38, 55) * s, 4 * s
    body, head = cards.font(rng, 2.6 * s), cards.font(rng, 9 * s)
    words = [made_up_word(rng) for _ in range(300)]
    x = -rng.uniform(0, column)
    while x < w:
        y = -rng.uniform(0, 60) * s
        while y < h:
            if rng.random() < 0.04:
                draw.text((x, y), " ".join(rng.choice(words, 2)).upper(), font=head, fill=255)
                y += 12 * s
            elif rng.random() < 0.02:
                draw.rectangle((x, y, x + column, y + 40 * s), fill=int(rng.uniform(90, 190)))
                y += 43 * s
            draw.text((x, y), " ".join(rng.choice(words, 8)), font=body, fill=235)
            y += 3.4 * s
        draw.rectangle((x + column, 0, x + column + gutter, h), fill=0)
        x += column + gutter
    ink = cv2.GaussianBlur(np.asarray(sheet, np.float32) / 255, (0, 0), 0.6)
    paper = rng.uniform(0.45, 0.62) * (1 + 0.02 * fields.spectral(rng, size, 1.5))
    return tinted(paper * (1 - ink) + 0.05 * ink, [1.0, 0.97, rng.uniform(0.8, 0.92)])


def steel(rng, size, s):
    """Brushed wet steel: streaks along one way, bright sheen and drops."""
    brush = fields.spectral(rng, size, 0.6, 1024, (1, 40))
    sheen = fields.smoothstep(fields.spectral(rng, size, 3.5, 256, (3, 1)) - 0.6)
    field = rng.uniform(0.12, 0.35) * np.exp(0.22 * brush) * (1 + 1.6 * sheen)
    for _ in range(rng.integers(10, 90)):
        cx, cy = int(rng.uniform(0, size[1])), int(rng.uniform(0, size[0]))
        r = max(2, int(rng.uniform(0.4, 3.0) * s))
        cv2.circle(field, (cx, cy), r, float(rng.uniform(0.06, 0.3)), -1, cv2.LINE_AA)
        cv2.circle(field, (cx - r // 3, cy - r // 3), max(1, r // 5), 0.94, -1, cv2.LINE_AA)
    return tinted(cv2.GaussianBlur(field, (0, 0), 0.7), [0.95, 1.0, 1.04])


def cloth(rng, size, s):
    """Woven threads with soft folds."""
    pitch = rng.uniform(0.5, 1.6) * s
    y, x = np.mgrid[0:size[0], 0:size[1]].astype(np.float32)
    wob = fields.spectral(rng, size, 3) * pitch
    weave = np.sin(2 * np.pi * (x + wob) / pitch) * np.sin(2 * np.pi * (y + wob) / pitch)
    fold = fields.spectral(rng, size, 3.6, 256)
    field = rng.choice([0.05, 0.15, 0.3, 0.6]) * np.exp(0.12 * weave + 0.12 * fold + 0.05 * fields.spectral(rng, size, 0.5))
    tint = rng.choice([[1, 1, 1], [0.5, 0.7, 1.3], [1.2, 0.5, 0.4], [0.7, 1, 0.6], [1, 0.9, 0.7]])
    return tinted(field, tint)


def granite(rng, size, s):
    """Speckled stone of three minerals."""
    labels, _, count = fields.cells(rng, size, rng.uniform(1.0, 3.5) * s)
    tones = rng.choice([0.05, 0.25, 0.42, 0.65], count, p=rng.dirichlet([2, 3, 3, 2])).astype(np.float32)
    field = cv2.GaussianBlur(tones[labels], (0, 0), 0.9) * (1 + 0.08 * fields.photo_field(rng, size, 0.6))
    return tinted(field, [1.0, rng.uniform(0.9, 1.0), rng.uniform(0.85, 1.0)])


def plain(rng, size, s, y=None):
    """Even table top; its lightness may be the plaster's or the card's."""
    y = y if y is not None else rng.choice([0.03, 0.1, 0.18, 0.2, 0.3, 0.5, 0.8])
    field = y * (1 + 0.02 * fields.spectral(rng, size, 2.5) + 0.015 * fields.photo_field(rng, size, s / 12))
    return tinted(field, [1, 1, 1] + rng.normal(0, 0.03, 3))


def stripes(rng, size, s):
    """Regular stripes, as on a mat or a tea towel."""
    pitch = rng.uniform(4, 30) * s
    y = np.arange(size[0], dtype=np.float32)[:, None] + 0.2 * pitch * fields.spectral(rng, size, 4, 64)
    wave = np.clip(0.5 + pitch / 3 * np.sin(2 * np.pi * y / pitch) / 2, 0, 1)
    a, b = rng.uniform(0.03, 0.7, 2)
    return tinted((a + (b - a) * wave) * (1 + 0.03 * fields.spectral(rng, size, 1)), [1, 0.97, rng.uniform(0.7, 1.1)])


def gravelbed(rng, size, s):
    """Packaged photograph at coarse scale, as bare screed or trodden ground."""
    name = str(rng.choice(["brick", "gravel", "grass"]))
    field = fields.photo_field(rng, size, rng.uniform(0.8, 3) * s / 10, name)
    low = fields.spectral(rng, size, 3)
    return tinted(rng.uniform(0.12, 0.4) * np.exp(0.28 * field + 0.1 * low), [1.0, 0.93, rng.uniform(0.75, 1)])


def mat(rng, size, s):
    """Cutting mat: dark green or grey with a thin light grid."""
    y, x = np.mgrid[0:size[0], 0:size[1]].astype(np.float32)
    pitch = rng.choice([5, 10]) * s
    line = ((x % pitch) < 0.25 * s) | ((y % pitch) < 0.25 * s)
    field = rng.uniform(0.05, 0.12) * (1 + 0.04 * fields.spectral(rng, size, 1)) + 0.25 * line
    return tinted(cv2.GaussianBlur(field.astype(np.float32), (0, 0), 0.6), rng.choice([[0.4, 1, 0.6], [1, 1, 1], [0.5, 0.8, 1.2]]))


def make_bench(rng, name, size, s, near_y):
    """Bench texture by name; `near_y` is a luminance that a plain table may imitate."""
    if name == "plain" and rng.random() < 0.7:
        return plain(rng, size, s, near_y)
    return globals()[name](rng, size, s)

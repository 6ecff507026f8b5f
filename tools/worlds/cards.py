"""Grey cards and scale bars as flat textures."""
import os

import cv2
import numpy as np
from PIL import Image, ImageDraw, ImageFont

from . import fields, pinhole
from .canvas import Decal

FONTS = ["DejaVuSans-Bold.ttf", "DejaVuSans.ttf", "DejaVuSerif.ttf", "DejaVuSansMono.ttf"]
FONT_DIR = "/usr/share/fonts/truetype/dejavu"
WORDS = ["NEUTRAL", "GREY 18", "REF. CARD", "calibrated", "batch 0417", "keep clean", "reflectance", "photo grey", "matte side"]


def font(rng, size_px):
    """A random installed font, or the built-in one where none is."""
    path = os.path.join(FONT_DIR, FONTS[rng.integers(len(FONTS))])
    try:
        return ImageFont.truetype(path, max(5, int(size_px)))
    except OSError:
        return ImageFont.load_default()


def put_text(layer, text, x_px, y_px, face, rgb, turn=False):
    """Text with its upper left corner at a pixel, blended into a linear RGB array."""
    box = face.getbbox(text)
    tile = Image.new("L", (max(1, box[2] + 2), max(1, box[3] + 2)), 0)
    ImageDraw.Draw(tile).text((0, 0), text, font=face, fill=255)
    a = np.asarray(tile, np.float32) / 255
    if turn:
        a = np.rot90(a)
    x, y = int(x_px), int(y_px)
    h, w = layer.shape[:2]
    x0, y0, x1, y1 = max(0, x), max(0, y), min(w, x + a.shape[1]), min(h, y + a.shape[0])
    if x1 > x0 and y1 > y0:
        a = a[y0 - y:y1 - y, x0 - x:x1 - x, None]
        layer[y0:y1, x0:x1] = layer[y0:y1, x0:x1] * (1 - a) + a * np.asarray(rgb, np.float32)


def box(layer, s, x0, y0, x1, y1, rgb):
    """Fill a rectangle in mm (x right, y down from the texture's upper left outline) with part-covered edges."""
    h, w = layer.shape[:2]
    rows = np.arange(max(0, int(y0 * s)), min(h, int(y1 * s) + 1))
    cols = np.arange(max(0, int(x0 * s)), min(w, int(x1 * s) + 1))
    if not len(rows) or not len(cols):
        return
    cx = np.clip(np.minimum(cols + 1, x1 * s) - np.maximum(cols, x0 * s), 0, 1)
    cy = np.clip(np.minimum(rows + 1, y1 * s) - np.maximum(rows, y0 * s), 0, 1)
    a = (cy[:, None] * cx[None, :])[:, :, None].astype(np.float32)
    part = layer[rows[0]:rows[-1] + 1, cols[0]:cols[-1] + 1]
    part *= 1 - a
    part += a * np.asarray(rgb, np.float32)


def rounded(w_mm, h_mm, s, corner_mm):
    """Cover of a rounded rectangle that fills the texture."""
    h, w = round(h_mm * s), round(w_mm * s)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32) + 0.5
    r = corner_mm * s
    dx = np.maximum(np.maximum(r - x, x - (w - r)), 0)
    dy = np.maximum(np.maximum(r - y, y - (h - r)), 0)
    cover = np.clip(r - np.hypot(dx, dy) + 0.5, 0, 1) if corner_mm > 0.05 else np.ones((h, w), np.float32)
    return cover.astype(np.float32)


def grey(y, rng=None, cast=0.0):
    """Linear RGB of luminance y with a small colour cast."""
    rgb = np.array([1.0, 1.0, 1.0]) + (rng.normal(0, cast, 3) if rng is not None else 0)
    return (y * rgb / (rgb @ [0.2126, 0.7152, 0.0722])).astype(np.float32)


class CardPlan:
    """Sizes of a grey card with its holder and patches, before it is placed. Millimetres."""

    def __init__(self, rng, reflectance, rich):
        self.reflectance = reflectance
        self.w, self.h = sorted(rng.uniform(22, 62, 2))[::-1]
        self.h = max(self.h, 0.5 * self.w)
        self.corner = rng.choice([0, rng.uniform(0.5, 3.5)])
        self.holder = rng.uniform(1.5, 6) if rng.random() < (0.7 if rich else 0.3) else 0.0
        self.patches = int(rng.integers(1, 3)) if rng.random() < (0.6 if rich else 0.25) else 0
        self.patch = rng.uniform(7, 14)
        self.outer_w = self.w + 2 * self.holder + self.patches * self.patch
        self.outer_h = self.h + 2 * self.holder
        self.label = rng.random() < (0.8 if rich else 0.4)
        self.holder_y = rng.choice([0.03, 0.06, 0.75, 0.88])


def make_card(rng, plan, pose, s, deviations):
    """Texture of the card and the corners of its grey area in its own mm, as they should be."""
    s = min(s, 24)
    layer = np.zeros((round(plan.outer_h * s), round(plan.outer_w * s), 3), np.float32)
    layer[:] = grey(plan.holder_y, rng, 0.01)
    x0, y0 = plan.holder, plan.holder
    tile = rounded(plan.w, plan.h, s, plan.corner if plan.holder else 0)
    i, j = round(y0 * s), round(x0 * s)
    tile = tile[: layer.shape[0] - i, : layer.shape[1] - j]
    region = layer[i:i + tile.shape[0], j:j + tile.shape[1]]
    body = grey(plan.reflectance * (1 + deviations.card_level), rng, 0.004) * (1 + 0.004 * fields.spectral(rng, tile.shape, 1.0))[:, :, None]
    region[:] = region * (1 - tile[:, :, None]) + body * tile[:, :, None]
    edge = x0 + plan.w
    for k, tone in enumerate(rng.permutation([0.85, 0.035])[: plan.patches]):
        box(layer, s, edge + k * plan.patch, y0, edge + (k + 1) * plan.patch, y0 + plan.h, grey(tone))
    if plan.label:
        ink = grey(0.03 if plan.reflectance > 0.1 else 0.7)
        if rng.random() < 0.25:
            ink = grey(0.85)
        size = rng.uniform(1.6, 3.2)
        for row in range(rng.integers(1, 3)):
            y = (y0 + 0.8 + row * 1.3 * size) if rng.random() < 0.5 else (y0 + plan.h - (row + 1.6) * 1.3 * size)
            put_text(layer, str(rng.choice(WORDS)), (x0 + 1.5) * s, y * s, font(rng, size * s), ink)
    alpha = rounded(plan.outer_w, plan.outer_h, s, plan.corner)
    corners = np.array([[0, 0], [plan.w, 0], [plan.w, plan.h], [0, plan.h]]) + [x0, y0]
    local = (corners - [layer.shape[1] / 2 / s, layer.shape[0] / 2 / s]) * [1, -1]
    return Decal(layer, alpha[: layer.shape[0], : layer.shape[1]], s, pose, deviations.card), local


class BarPlan:
    """Sizes and tones of a scale bar before it is placed. Millimetres."""

    def __init__(self, rng, length, blocks, rich, arm=False):
        self.length, self.blocks = length, blocks
        self.thick = rng.uniform(4.5, 9.0)
        self.end = rng.uniform(1.5, 7)
        self.above, self.below = rng.uniform(1, 4), rng.uniform(1, 4)
        self.figures = rng.random() < (0.8 if rich else 0.5)
        self.ticks = rng.random() < (0.6 if rich else 0.3)
        if self.figures or self.ticks:
            self.below += 4.5
        self.light = rng.choice([0.86, 0.78, 0.7])
        self.dark = float(rng.choice([0.03, 0.05, 0.05, 0.2 if rich else 0.04]))
        self.strip = float(rng.choice([self.light, self.light, self.dark if self.dark < 0.1 else 0.04]))
        self.first_dark = rng.random() < 0.6
        self.outline = rng.random() < 0.5
        self.arm = arm
        self.arm_blocks = int(rng.integers(max(2, blocks - 3), blocks + 1)) if arm else 0
        self.outer_w = length + 2 * self.end
        self.outer_h = self.thick + self.above + self.below
        if arm:
            self.arm_gap = rng.uniform(3, 7)
            self.arm_len = self.arm_blocks * length / blocks
            self.full_h = self.outer_h + self.arm_gap + self.arm_len + self.end
        else:
            self.full_h = self.outer_h


def paint_blocks(layer, s, plan, x0, y0, edges, along_y, ink):
    """Alternating blocks between `edges` (mm from (x0, y0)), along x or down along y."""
    for k in range(len(edges) - 1):
        tone = plan.dark if (k % 2 == 0) == plan.first_dark else plan.light
        a, b = edges[k], edges[k + 1]
        rect = (x0, y0 + a, x0 + plan.thick, y0 + b) if along_y else (x0 + a, y0, x0 + b, y0 + plan.thick)
        box(layer, s, *rect, grey(tone))
    if plan.outline:
        t, first, last = 0.15, edges[0], edges[-1]
        left, right = (x0, x0 + plan.thick) if along_y else (x0 + first, x0 + last)
        top, foot = (y0 + first, y0 + last) if along_y else (y0, y0 + plan.thick)
        lines = [(left, top, left + t, foot), (right - t, top, right, foot)]
        lines += [(left, top, right, top + t), (left, foot - t, right, foot)]
        for line in lines:
            box(layer, s, *line, ink)


def make_bar(rng, plan, pose, s, deviations):
    """Texture of the bar and the middles of its block edges in plane mm."""
    s = float(max(s, 24))
    layer = np.zeros((round(plan.full_h * s), round(plan.outer_w * s), 3), np.float32)
    layer[:] = grey(plan.strip, rng, 0.01)
    ink = grey(0.04 if plan.strip > 0.3 else 0.8)
    x0, y0 = plan.end, plan.above
    edges = deviations.edges(plan.length, plan.blocks)
    paint_blocks(layer, s, plan, x0, y0, edges, False, ink)
    step = plan.length / plan.blocks
    base = y0 + plan.thick
    face = font(rng, 2.4 * s)
    for k in range(plan.blocks + 1):
        if plan.ticks:
            box(layer, s, x0 + k * step - 0.1, base + 0.5, x0 + k * step + 0.1, base + 1.8, ink)
        if plan.figures and not plan.arm:
            put_text(layer, f"{k * step:g}"[:4], (x0 + k * step - 1) * s, (base + 2.0) * s, face, ink)
    alpha = np.ones(layer.shape[:2], np.float32)
    if plan.arm:
        top = plan.outer_h + plan.arm_gap
        paint_blocks(layer, s, plan, x0, top, edges[:plan.arm_blocks + 1], True, ink)
        alpha[round(plan.outer_h * s):, round((x0 + plan.thick + plan.below) * s):] = 0
    layer *= (1 + 0.006 * cv2.resize(fields.white(rng, 64, 256), alpha.shape[::-1]))[:, :, None]
    places = np.column_stack([x0 + edges, np.full(len(edges), y0 + plan.thick / 2)])
    local = (places - [layer.shape[1] / 2 / s, layer.shape[0] / 2 / s]) * [1, -1]
    return Decal(layer, alpha, s, pose), pose.to_plane(local)


def end_points_px(camera, ends_mm, z_mm):
    """Bar ends in photo pixels as x1, y1, x2, y2."""
    return pinhole.project(camera.homography(z_mm), ends_mm).ravel()

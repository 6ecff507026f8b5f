"""The matrix of the plaster face: relative reflectance fields on the face grid, mean near 1."""
import cv2
import numpy as np

from . import fields


LIGHTEST_MOTTLE = 0.13


class FaceGrid:
    """Square grid over the face: column i, row j has its centre at x = (i - ox) / s, y = (oy - j) / s (mm)."""

    def __init__(self, diameter_mm, px_per_mm, margin_mm=1.0):
        self.s = float(px_per_mm)
        self.radius = diameter_mm / 2
        self.n = int(np.ceil((diameter_mm + 2 * margin_mm) * px_per_mm)) | 1
        self.o = (self.n - 1) / 2
        axis = (np.arange(self.n, dtype=np.float32) - self.o) / self.s
        self.r2 = axis[None, :] ** 2 + axis[:, None] ** 2
        self.inside = self.r2 <= self.radius ** 2
        self.rim = np.float32(self.radius)
        self.solid = self.inside

    def put_rim_off(self, deviations):
        """`rim`: distance of the real rim in each pixel's direction, mm; `solid`: what lies within it. `inside` stays the nominal
        circle, by which everything else is drawn."""
        if not deviations.rim:
            return
        axis = (np.arange(self.n) - self.o) / self.s
        turn = np.linspace(-np.pi, np.pi, 4097)
        stray = np.interp(np.arctan2(-axis[:, None], axis[None, :]), turn, deviations.rim_stray(turn))
        self.rim = (self.radius + stray).astype(np.float32)
        self.solid = self.r2 <= self.rim ** 2

    @property
    def size(self):
        return (self.n, self.n)

    def to_px(self, x_mm, y_mm):
        """Face millimetres to (column, row)."""
        return x_mm * self.s + self.o, self.o - y_mm * self.s


def mottle(rng, grid, strength):
    """Sum of differently made grains and mottles, as a factor."""
    s, size = grid.s, grid.size
    log = np.zeros(size, np.float32)
    log += rng.uniform(0.01, 0.035) * strength * fields.spectral(rng, size, rng.uniform(1.6, 3.0))
    kinds = rng.permutation(["photo", "photo2", "grains", "maze", "fine"])[: rng.integers(2, 5)]
    for kind in kinds:
        if kind == "photo":
            part = fields.photo_field(rng, size, rng.uniform(0.4, 1.6) * s / 20)
            log += rng.uniform(0.015, 0.05) * strength * part
        elif kind == "photo2":
            part = fields.photo_field(rng, size, rng.uniform(2.0, 6.0) * s / 20)
            log += rng.uniform(0.01, 0.03) * strength * part
        elif kind == "grains":
            part = fields.grain_field(rng, size, rng.uniform(0.12, 0.45) * s)
            log += min(0.09, rng.uniform(0.03, 0.08) * strength) * part
        elif kind == "maze":
            part = fields.maze(rng, size, rng.uniform(0.6, 5.0) * s)
            log += rng.uniform(0.01, 0.03) * strength * part
        else:
            part = fields.unit(fields.blur(fields.white(rng, *size), rng.uniform(0.4, 1.5)))
            log += rng.uniform(0.02, 0.06) * strength * part
    broad = fields.blur(log, 0.25 * s)
    log -= np.maximum(0, broad - LIGHTEST_MOTTLE)  # mottle never comes near the weakest spot
    return np.exp(log)


def stains(rng, grid, factor):
    """Broad, soft, darker areas."""
    field = fields.spectral(rng, grid.size, 3.5, grid=256)
    cover = fields.smoothstep((field - rng.uniform(0.2, 1.2)) / rng.uniform(0.6, 1.2))
    factor *= 1 - rng.uniform(0.04, 0.16) * cover


def burns(rng, grid, factor):
    """Dark trowel streaks, long, curved, soft across."""
    layer = np.zeros(grid.size, np.float32)
    for _ in range(rng.integers(1, 6)):
        a, b = rng.uniform(0, 2 * np.pi), rng.uniform(-0.02, 0.02)
        t = np.linspace(-60, 60, 60) * rng.uniform(0.3, 1)
        cx, cy = rng.uniform(-30, 30, 2)
        x = cx + t * np.cos(a) - b * t * t * np.sin(a)
        y = cy + t * np.sin(a) + b * t * t * np.cos(a)
        draw_line(layer, grid, x, y, rng.uniform(0.6, 3.5), rng.uniform(0.3, 1))
    layer = fields.blur(layer, rng.uniform(0.4, 1.2) * grid.s)
    streak = 0.7 + 0.3 * fields.spectral(rng, grid.size, 1.5)
    factor *= np.clip(1 - rng.uniform(0.08, 0.3) * layer * streak, 0.4, 1)


def draw_line(layer, grid, x_mm, y_mm, width_mm, value):
    """Antialiased polyline of a width in mm onto a float layer (maximum of old and new)."""
    px, py = grid.to_px(np.asarray(x_mm), np.asarray(y_mm))
    points = np.round(np.stack([px, py], 1) * 16).astype(np.int32)
    tile = np.zeros(layer.shape, np.uint8)
    cv2.polylines(tile, [points], False, int(255 * value), max(1, round(width_mm * grid.s)), cv2.LINE_AA, 4)
    np.maximum(layer, tile.astype(np.float32) / 255, out=layer)


def walk(rng, steps, step_mm, wander):
    """Random walk of slowly turning direction from a random place, mm."""
    heading = rng.uniform(0, 2 * np.pi) + np.cumsum(rng.normal(0, wander, steps))
    start = rng.uniform(-35, 35, 2)
    return start[0] + np.cumsum(np.cos(heading)) * step_mm, start[1] + np.cumsum(np.sin(heading)) * step_mm


def cracks(rng, grid, factor):
    """Craze: single wandering cracks or a network, thin and dark."""
    layer = np.zeros(grid.size, np.float32)
    if rng.random() < 0.4:
        labels, _, _ = fields.cells(rng, grid.size, rng.uniform(8, 18) * grid.s)
        labels = labels.astype(np.float32)
        edge = np.zeros(grid.size, np.uint8)
        edge[1:, :] |= labels[1:] != labels[:-1]
        edge[:, 1:] |= labels[:, 1:] != labels[:, :-1]
        warp = fields.spectral(rng, grid.size, 3.0)
        layer = fields.blur(edge.astype(np.float32), 0.7) * (warp > rng.uniform(-0.5, 1))
    else:
        for _ in range(rng.integers(1, 7)):
            x, y = walk(rng, rng.integers(40, 200), 0.4, 0.25)
            draw_line(layer, grid, x, y, rng.uniform(0.04, 0.14), 1.0)
    factor *= 1 - rng.uniform(0.2, 0.5) * fields.blur(layer, 0.6)


def pencil(rng, grid, factor):
    """A thin pencil line or two, broken up by the grain."""
    layer = np.zeros(grid.size, np.float32)
    for _ in range(rng.integers(1, 4)):
        a = rng.uniform(0, 2 * np.pi)
        cx, cy = rng.uniform(-40, 40, 2)
        half = rng.uniform(4, 25)
        draw_line(layer, grid, cx + np.array([-half, half]) * np.cos(a), cy + np.array([-half, half]) * np.sin(a),
                  rng.uniform(0.25, 0.5), 1.0)
    bite = np.clip(0.75 + 0.35 * fields.photo_field(rng, grid.size, 0.5), 0, 1)
    factor *= 1 - rng.uniform(0.2, 0.45) * fields.blur(layer, 1.0) * bite


def light_grains(rng, grid, factor, matrix_y):
    """Aggregate as light as spots but sharp and small (0.10 to 0.33 mm), kept apart so that none join."""
    s = grid.s
    pitch = rng.uniform(0.65, 1.6)
    loose = 0.5 - 0.23 / pitch
    count = int(2 * grid.radius / pitch)
    reach = rng.uniform(0.4, 1.4)
    layer = np.zeros(grid.size, np.float32)
    tile = np.zeros(grid.size, np.uint8)
    for i in range(count):
        for j in range(count):
            if rng.random() < 0.45:
                continue
            size = rng.uniform(0.10, 0.33)
            x = (i + 0.5) * pitch - grid.radius + rng.uniform(-loose, loose) * pitch
            y = (j + 0.5) * pitch - grid.radius + rng.uniform(-loose, loose) * pitch
            corners = rng.integers(4, 8)
            angle = np.sort(rng.uniform(0, 2 * np.pi, corners))
            arm = size / 2 * rng.uniform(0.7, 1.0, corners)
            px, py = grid.to_px(x + arm * np.cos(angle), y + arm * np.sin(angle))
            points = np.round(np.stack([px, py], 1) * 16).astype(np.int32)
            cv2.fillPoly(tile, [points], int(rng.uniform(120, 255)), cv2.LINE_AA, 4)
    layer = tile.astype(np.float32) / 255
    reach = min(reach, 0.85 / matrix_y - 1)
    factor *= 1 + reach * layer


def matrix_factor(rng, grid, strength, with_grains, matrix_y):
    """Relative reflectance of the matrix, mean about 1."""
    factor = mottle(rng, grid, strength)
    for chance, paint in ((0.5, stains), (0.3, burns), (0.35, cracks), (0.2, pencil)):
        if rng.random() < chance:
            paint(rng, grid, factor)
    if with_grains:
        light_grains(rng, grid, factor, matrix_y)
    return factor / factor[grid.inside].mean()

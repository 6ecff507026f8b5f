"""The face of one core: reflectance at full resolution, label map, and the truth drawn from both."""
from dataclasses import dataclass, field

import cv2
import numpy as np

from . import fields, film, plaster, spots

PIT, GLINT, MISSING, OUTSIDE = 65001, 65002, 65003, 65535
TINTS = {
    "grey": ([1.0, 0.99, 0.95], 0.03), "blue": ([0.62, 0.98, 1.45], 0.05), "sand": ([1.22, 0.97, 0.66], 0.05),
    "green": ([0.75, 1.08, 0.95], 0.04), "black": ([0.98, 1.0, 1.04], 0.02),
}
LUMA = np.array([0.2126, 0.7152, 0.0722])


@dataclass
class FacePlan:
    """What a face is made of; luminances relative to the perfect diffuser, sizes in mm."""
    matrix_y: float = 0.25
    tint: str = "grey"
    spot_count: int = 30
    contrast: tuple = (0.3, 1.2)
    pit_count: int = 6
    strength: float = 1.0
    light_grains: bool = False
    wet: bool = False
    glint_share: float = 0.0
    broken: bool = False
    chips: int = 0


@dataclass
class Face:
    """Grid, luminance (before glints), linear RGB, cover, glare, mask and lists of the truth."""
    grid: plaster.FaceGrid
    y: np.ndarray
    rgb: np.ndarray
    cover: np.ndarray
    glare: np.ndarray
    mask: np.ndarray
    truth: dict = field(default_factory=dict)


def lightness(y):
    """CIE L* of luminance relative to white."""
    y = float(y)
    return 116 * np.cbrt(y) - 16 if y > 216 / 24389 else y * 24389 / 27


def broken_cover(rng, grid):
    """Cover (0 to 1) of the face after an arc of the rim, up to a quarter turn, broke off along a rough line."""
    half = np.radians(rng.uniform(40, 90)) / 2
    angle = rng.uniform(0, 2 * np.pi)
    axis = (np.arange(grid.n, dtype=np.float32) - grid.o) / grid.s
    along = axis[None, :] * np.cos(angle) - axis[:, None] * np.sin(angle)
    rough = 0.9 * fields.spectral(rng, grid.size, 3.0) + 0.15 * fields.spectral(rng, grid.size, 1.6)
    return np.clip((grid.radius * np.cos(half) - along + rough - 0.8) * grid.s + 0.5, 0, 1)


def chip_cover(rng, grid, count):
    """Cover after small chips off the rim."""
    cover = np.ones(grid.size, np.float32)
    tile = np.zeros(grid.size, np.uint8)
    for _ in range(count):
        a, size = rng.uniform(0, 2 * np.pi), rng.uniform(0.4, 2.2)
        r = grid.radius + rng.uniform(-0.1, 0.3) * size
        t = np.linspace(0, 2 * np.pi, 14, endpoint=False)
        arm = size / 2 * rng.uniform(0.7, 1.3, 14)
        px, py = grid.to_px(r * np.cos(a) + arm * np.cos(t), r * np.sin(a) + arm * np.sin(t))
        cv2.fillPoly(tile, [np.round(np.stack([px, py], 1) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    return cover - tile.astype(np.float32) / 255


def colour(rng, plan, y, share):
    """Linear RGB of the face: tint of the matrix passing into the paler tint of the spots by `share`."""
    tint, spread = TINTS[plan.tint]
    base = np.asarray(tint) * (1 + rng.normal(0, spread, 3))
    if plan.wet:
        base = base ** 1.25
    pale = base ** rng.uniform(0.2, 0.6)
    base, pale = base / (base @ LUMA), pale / (pale @ LUMA)
    rgb = np.empty(y.shape + (3,), np.float32)
    for k in range(3):
        rgb[:, :, k] = y * (base[k] + (pale[k] - base[k]) * share)
    return rgb


def paint(rng, plan, grid):
    """Luminance of the face, spot layer and pit labels."""
    factor = plaster.matrix_factor(rng, grid, plan.strength, plan.light_grains, plan.matrix_y)
    count = plan.spot_count
    top = min(plan.contrast[1], 0.8 / plan.matrix_y - 1)
    layer = spots.scatter_spots(rng, grid, count, (min(plan.contrast[0], top - 0.05), top))
    hollow, pits = spots.scatter_pits(rng, grid, plan.pit_count, layer)
    low = fields.blur(np.minimum(factor, 1.2), 2.0 * grid.s)
    texture = 1 + rng.uniform(0.01, 0.05) * fields.photo_field(rng, grid.size, rng.uniform(0.5, 2))
    keep = rng.uniform(0.2, 0.7)
    target = low * (1 + layer.contrast) * texture * (1 + keep * (factor / low - 1))
    share = np.clip(layer.rise, 0, 1.5)
    y = plan.matrix_y * (factor + share * (target - factor)) * hollow
    return np.clip(y, 0.01, 0.92), layer, pits


def make_face(rng, plan, diameter_mm, px_per_mm, deviations):
    """Paint the face and take its truth from the full-resolution fields."""
    grid = plaster.FaceGrid(diameter_mm, px_per_mm)
    grid.put_rim_off(deviations)
    y, layer, pits = paint(rng, plan, grid)
    cover = chip_cover(rng, grid, plan.chips)
    if plan.broken:
        cover = np.minimum(cover, broken_cover(rng, grid))
    glare = np.zeros(grid.size, np.float32)
    if plan.glint_share > 0:
        glare = film.glint_map(rng, grid, cover < 0.99, plan.glint_share) * grid.solid
    rim = np.clip((grid.rim - np.sqrt(grid.r2)) * grid.s + 0.5, 0, 1)
    rgb = colour(rng, plan, y, np.clip(layer.rise, 0, 1))
    missing = (cover < 0.5) & grid.solid
    labels = np.where(missing | ~grid.solid, 0, layer.labels)
    mask = labels.astype(np.uint16)
    mask[(pits > 0) & (labels == 0)] = PIT
    mask[missing] = MISSING
    truth = face_truth(grid, y, labels, mask, layer)
    mask[(glare >= 0.5) & ~missing & grid.solid] = GLINT
    mask[~grid.solid] = OUTSIDE
    truth["glints"] = region_list(grid, mask == GLINT)
    face = Face(grid, y, rgb, (cover * rim).astype(np.float32), glare, mask, truth)
    return face


def region_list(grid, where):
    """Connected parts of a mask as x_mm, y_mm, area_mm2."""
    count, _, stats, centres = cv2.connectedComponentsWithStats(where.astype(np.uint8), connectivity=8)
    return [{"x_mm": round((centres[k][0] - grid.o) / grid.s, 4), "y_mm": round((grid.o - centres[k][1]) / grid.s, 4),
             "area_mm2": round(int(stats[k, cv2.CC_STAT_AREA]) / grid.s ** 2, 6)} for k in range(1, count)]


def spot_list(grid, y, labels, layer):
    """Truth of every spot from the label map at half contrast."""
    flat = labels.ravel()
    count = np.bincount(flat, minlength=len(layer.spots) + 1).astype(float)
    rows, cols = np.nonzero(labels)
    idents = labels[rows, cols]
    size = len(count)
    sum_y = np.bincount(idents, y[rows, cols], size)
    sum_c, sum_r = np.bincount(idents, cols, size), np.bincount(idents, rows, size)
    out = []
    for spot in layer.spots:
        n = count[spot.ident]
        if n < 1:
            continue
        area = n / grid.s ** 2
        out.append({"id": spot.ident, "x_mm": round((sum_c[spot.ident] / n - grid.o) / grid.s, 4),
                    "y_mm": round((grid.o - sum_r[spot.ident] / n) / grid.s, 4), "area_mm2": round(area, 6),
                    "ecd_mm": round(float(np.sqrt(4 * area / np.pi)), 5),
                    "mean_Y": round(float(sum_y[spot.ident] / n), 6), "edge_mm": round(spot.edge_mm, 4)})
    return out


def face_truth(grid, y, labels, mask, layer):
    """Figures of the face as TRUTH.md defines them (glints not yet on the mask)."""
    listed = spot_list(grid, y, labels, layer)
    matrix_y = float(y[(mask == 0) & grid.solid].mean())
    band = grid.r2 <= (grid.radius - 1.0) ** 2
    missing = (mask == MISSING) & band
    face_px = int(band.sum()) - int(missing.sum())
    truth = {"matrix_Y": round(matrix_y, 6), "matrix_L": round(lightness(matrix_y), 4), "spot_L": None, "contrast_dL": None,
             "spots": listed, "pits": region_list(grid, (mask == PIT) & grid.solid),
             "area_fraction_pct": round(100 * int(((labels > 0) & band).sum()) / face_px, 6),
             "missing_area_in_band_mm2": round(int(missing.sum()) / grid.s ** 2, 4)}
    if listed:
        areas = np.array([s["area_mm2"] for s in listed])
        spot_l = float(np.average([lightness(s["mean_Y"]) for s in listed], weights=areas))
        truth["spot_L"], truth["contrast_dL"] = round(spot_l, 4), round(spot_l - lightness(matrix_y), 4)
    return truth

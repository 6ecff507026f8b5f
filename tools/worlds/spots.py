"""Spots and pits: shapes grown in several ways, soft or crisp flanks, and their truth at half contrast."""
from dataclasses import dataclass

import cv2
import numpy as np

from . import fields

KINDS = ("level", "growth", "ellipses", "ragged")


@dataclass
class Spot:
    """One spot as painted: `edge_mm` is the width of the soft flank, `contrast` its Weber contrast."""
    ident: int
    edge_mm: float
    contrast: float


def shape_field(rng, kind, n):
    """Scalar field on n x n whose upper level sets are the shapes; highest near the middle."""
    axis = np.linspace(-1.25, 1.25, n, dtype=np.float32)
    x, y = np.meshgrid(axis, axis)
    if kind == "ellipses":
        return ellipse_union(rng, x, y)
    if kind == "growth":
        return growth(rng, n) - 0.4 * (x * x + y * y)
    a, q = rng.uniform(0, np.pi), rng.uniform(0.6, 1.0)
    u, v = x * np.cos(a) + y * np.sin(a), -x * np.sin(a) + y * np.cos(a)
    base = -np.sqrt(u * u * q + v * v / q)
    wave = fields.spectral(rng, (n, n), 3.0, grid=64)
    base += rng.uniform(0.08, 0.22) * wave
    if kind == "ragged":
        base += rng.uniform(0.04, 0.10) * fields.spectral(rng, (n, n), 1.2, grid=64)
    return base


def ellipse_union(rng, x, y):
    """Upper envelope of two to five overlapping ellipses."""
    field = np.full(x.shape, -9, np.float32)
    for _ in range(rng.integers(2, 6)):
        a = rng.uniform(0, np.pi)
        cx, cy = rng.uniform(-0.35, 0.35, 2)
        p, q = rng.uniform(0.35, 0.8, 2)
        u = (x - cx) * np.cos(a) + (y - cy) * np.sin(a)
        v = -(x - cx) * np.sin(a) + (y - cy) * np.cos(a)
        field = np.maximum(field, 1 - np.sqrt((u / p) ** 2 + (v / q) ** 2))
    return field


def growth(rng, n):
    """Many short random walks from the middle, their visits smoothed: a blurred diffusion front."""
    walks, steps = 160, 60
    move = rng.normal(0, 0.085, (walks, steps, 2)).cumsum(1) + rng.normal(0, 0.12, (walks, 1, 2))
    index = np.clip((move.reshape(-1, 2) + 1.25) / 2.5 * n, 0, n - 1).astype(int)
    visits = np.zeros((n, n), np.float32)
    np.add.at(visits, (index[:, 0], index[:, 1]), 1)
    return fields.unit(np.log1p(fields.blur(visits, 0.045 * n)))


def largest_part(mask):
    """The largest connected part of a mask, holes filled."""
    count, labels, stats, _ = cv2.connectedComponentsWithStats(mask.astype(np.uint8), connectivity=4)
    if count < 2:
        return mask
    part = labels == 1 + int(np.argmax(stats[1:, cv2.CC_STAT_AREA]))
    outside = np.pad(1 - part.astype(np.uint8), 1, constant_values=1)
    _, holes = cv2.connectedComponents(outside, connectivity=4)
    return (holes != holes[0, 0])[1:-1, 1:-1]


def drop_necked_lobes(mask):
    """Remove lobes that hang on a narrow neck, so that each shape is one spot by the neck rule."""
    dist = cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5)
    inner = largest_part(dist > 0.45 * dist.max())
    reach = cv2.distanceTransform(1 - inner.astype(np.uint8), cv2.DIST_L2, 5)
    return largest_part(mask & (reach < 0.75 * dist.max()))


def make_shape(rng, ecd_px):
    """Binary shape of about the wanted equivalent diameter, on a square patch with a margin."""
    n = int(2.6 * ecd_px) + 12
    kind = KINDS[rng.integers(len(KINDS))] if ecd_px > 14 else "level"
    work = int(np.clip(n, 24, 220))
    field = shape_field(rng, kind, work)
    if work != n:
        field = cv2.resize(field, (n, n), interpolation=cv2.INTER_CUBIC)
    want = np.pi * ecd_px ** 2 / 4
    level = np.partition(field.ravel(), -int(want))[-int(want)]
    mask = drop_necked_lobes(largest_part(field >= level))
    mask[:3], mask[-3:], mask[:, :3], mask[:, -3:] = 0, 0, 0, 0
    return mask


def profile(rng, mask, edge_px):
    """Relative contrast over the patch (0 outside, about 1 on the plateau) and the region at half contrast."""
    sdf = cv2.GaussianBlur(fields.signed_distance(mask), (0, 0), 0.8)
    deepest = float(sdf.max())
    edge_px = min(edge_px, 1.1 * deepest)
    rise = fields.smoothstep(sdf / max(edge_px, 1.2) + 0.5)
    depth = np.clip(sdf / max(deepest, 1), 0, 1)
    look = rng.random()
    if look < 0.25:
        rise = rise * (1 + rng.uniform(0.1, 0.35) * (1 - depth) - 0.1 * depth)
    elif look < 0.55:
        rise = rise * (1 + rng.uniform(0.1, 0.35) * fields.smoothstep(depth))
    core = sdf > 0.5 * deepest
    plateau = float(np.median(rise[core])) if core.any() else float(rise.max())
    rise = rise / plateau
    return rise.astype(np.float32), largest_part(rise >= 0.5), edge_px


class SpotLayer:
    """Spots painted one by one on the face grid, with a label map at half contrast."""

    def __init__(self, grid):
        self.grid = grid
        self.rise = np.zeros(grid.size, np.float32)
        self.contrast = np.zeros(grid.size, np.float32)
        self.labels = np.zeros(grid.size, np.uint16)
        self.spots = []

    def window(self, col, row, n):
        """Slices of the grid and of an n-patch centred at (col, row), cut at the grid's edge; None if outside."""
        c0, r0 = col - n // 2, row - n // 2
        a, b = max(0, c0), max(0, r0)
        c, d = min(self.grid.n, c0 + n), min(self.grid.n, r0 + n)
        if a >= c or b >= d:
            return None
        return (slice(b, d), slice(a, c)), (slice(b - r0, d - r0), slice(a - c0, c - c0))

    def free(self, mask, col, row, gap_px, extra=None):
        """Is the shape, grown by the gap, clear of everything on this layer and of the mask `extra`?"""
        where = self.window(col, row, mask.shape[0])
        if where is None:
            return False
        k = 2 * int(gap_px) + 1
        grown = cv2.dilate(mask.astype(np.uint8), cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (k, k)))
        grown = grown[where[1]] > 0
        if (grown & (self.rise[where[0]] > 0.02)).any():
            return False
        return extra is None or not (grown & extra[where[0]]).any()

    def add(self, rng, mask, col, row, edge_mm, contrast):
        """Paint one spot; returns False when its region on the face is empty."""
        where, cut = self.window(col, row, mask.shape[0])
        rise, region, edge_px = profile(rng, mask, edge_mm * self.grid.s)
        rise, region = rise[cut], region[cut] & (self.labels[where] == 0)
        # By the nominal circle, so that no rim that is out of round changes what is drawn next.
        if (region & self.grid.inside[where]).sum() < 6:
            return False
        stronger = rise > self.rise[where]
        self.rise[where][stronger] = rise[stronger]
        self.contrast[where][stronger] = contrast
        ident = len(self.spots) + 1
        self.labels[where][region & (self.grid.inside | self.grid.solid)[where]] = ident
        self.spots.append(Spot(ident, 0.0 if edge_mm == 0 else edge_px / self.grid.s, contrast))
        return True


def touch(rng, layer, first, mask, col, row):
    """Place for a second shape that meets the first in a narrow neck (two spots by the neck rule), or None.

    The second shape slides in from outside until the contact is some px long but less than a third of its width.
    """
    first = cv2.dilate(first.astype(np.uint8), np.ones((3, 3), np.uint8))
    width = 2 * cv2.distanceTransform(mask.astype(np.uint8), cv2.DIST_L2, 5).max()
    angle = rng.uniform(0, 2 * np.pi)
    n, m = first.shape[0], mask.shape[0]
    for reach in range((n + m) // 2, 0, -1):
        c, r = round(reach * np.cos(angle)), round(reach * np.sin(angle))
        a, b = n // 2 + r - m // 2, n // 2 + c - m // 2
        r0, r1, c0, c1 = max(0, a), min(n, a + m), max(0, b), min(n, b + m)
        if r0 >= r1 or c0 >= c1:
            continue
        contact = int((first[r0:r1, c0:c1] & mask[r0 - a:r1 - a, c0 - b:c1 - b]).sum())
        if contact > 0.33 * width:
            return None
        if contact >= 0.08 * width and contact >= 2:
            return col + c, row + r
    return None


def add_neighbour(rng, layer, first, col, row, ecd_mm, contrast):
    """Now and then a second spot that touches the one just painted."""
    mask = make_shape(rng, ecd_mm * layer.grid.s)
    place = touch(rng, layer, first, mask, col, row)
    if place is None:
        return
    where = layer.window(*place, mask.shape[0])
    if where is None:
        return
    ring = cv2.dilate(mask.astype(np.uint8), np.ones((15, 15), np.uint8))[where[1]] > 0
    taken = layer.labels[where[0]] * layer.grid.inside[where[0]]
    if not ((taken > 0) & (taken != len(layer.spots)) & ring).any():
        layer.add(rng, mask, *place, 0.0, contrast)


def random_place(rng, grid, reach_mm):
    """Uniform place in a disc of the radius `reach_mm`, as (column, row)."""
    r, a = reach_mm * np.sqrt(rng.random()), rng.uniform(0, 2 * np.pi)
    col, row = grid.to_px(r * np.cos(a), r * np.sin(a))
    return int(round(col)), int(round(row))


def scatter_spots(rng, grid, count, contrast_range, crisp_share=0.35):
    """A layer with about `count` spots of lognormal size, largest first, 0.3 to 12 mm."""
    layer = SpotLayer(grid)
    median, spread = rng.uniform(0.8, 2.2), rng.uniform(0.35, 0.7)
    sizes = np.clip(np.exp(rng.normal(np.log(median), spread, count)), 0.3, 12)
    if count and rng.random() < 0.3:
        sizes[0] = rng.uniform(5, 12)
    for ecd in np.sort(sizes)[::-1]:
        mask = make_shape(rng, ecd * grid.s)
        edge = 0.0 if rng.random() < crisp_share else rng.uniform(0.08, min(0.9, 0.45 * ecd))
        contrast = rng.uniform(*contrast_range)
        gap = (0.35 + 0.5 * edge) * grid.s
        for _ in range(25):
            col, row = random_place(rng, grid, grid.radius - 0.2)
            if layer.free(mask, col, row, gap):
                added = layer.add(rng, mask, col, row, edge, contrast)
                if added and edge == 0 and ecd > 1 and rng.random() < 0.2:
                    add_neighbour(rng, layer, mask, col, row, ecd * rng.uniform(0.5, 1.0), contrast)
                break
    return layer


def scatter_pits(rng, grid, count, layer):
    """Dark hollows clear of the spots: (factor on reflectance, label map of pits)."""
    factor = np.ones(grid.size, np.float32)
    pits = SpotLayer(grid)
    blocked = cv2.dilate((layer.rise > 0.02).astype(np.uint8), np.ones((9, 9), np.uint8)) > 0
    for _ in range(count):
        ecd = float(np.clip(np.exp(rng.normal(-0.3, 0.5)), 0.25, 3.5))
        mask = make_shape(rng, ecd * grid.s)
        for _ in range(20):
            col, row = random_place(rng, grid, grid.radius - 1)
            if pits.free(mask, col, row, 0.3 * grid.s, blocked):
                pits.add(rng, mask, col, row, rng.uniform(0.05, 0.3 * ecd), rng.uniform(0.45, 0.85))
                break
    factor -= np.clip(pits.rise, 0, 1.15) * np.minimum(pits.contrast, 0.8)
    return factor, pits.labels

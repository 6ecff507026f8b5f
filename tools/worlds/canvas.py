"""Painting flat things onto the photo in linear light, with area filtering."""
from dataclasses import dataclass

import cv2
import numpy as np

from . import pinhole

SUPER = 2


@dataclass
class Decal:
    """Flat thing: linear RGB reflectance and cover (0 to 1) at `px_per_mm`, centred on its pose; `form` 3 x 3 bends its own mm."""
    rgb: np.ndarray
    alpha: np.ndarray
    px_per_mm: float
    pose: pinhole.Pose
    form: np.ndarray | None = None

    def to_plane(self):
        """3 x 3 taking decal pixels to plane mm."""
        h, w = self.alpha.shape
        s, a = self.px_per_mm, np.radians(self.pose.angle_deg)
        local = np.array([[1 / s, 0, -(w - 1) / 2 / s], [0, -1 / s, (h - 1) / 2 / s], [0, 0, 1]])
        if self.form is not None:
            local = self.form @ local
        c, q = np.cos(a), np.sin(a)
        return np.array([[c, -q, self.pose.x], [q, c, self.pose.y], [0, 0, 1]]) @ local


def photo_box(h, w_px, h_px, width, height, pad=2):
    """Integer box (x0, y0, x1, y1) of the photo that a w x h pixel texture covers; None if outside."""
    q = pinhole.project(h, [[0, 0], [w_px, 0], [w_px, h_px], [0, h_px]])
    x0, y0 = np.maximum(np.floor(q.min(0)).astype(int) - pad, 0)
    x1 = min(int(np.ceil(q[:, 0].max())) + pad, width)
    y1 = min(int(np.ceil(q[:, 1].max())) + pad, height)
    return None if x0 >= x1 or y0 >= y1 else (x0, y0, x1, y1)


def warp_strip(image, h, x0, y0, x1, y1):
    """The texture as the photo's box sees it: sampled SUPER times finer, then averaged over each pixel."""
    shift = (SUPER - 1) / 2
    fine = np.array([[SUPER, 0, -SUPER * x0 + shift], [0, SUPER, -SUPER * y0 + shift], [0, 0, 1.0]])
    size = (SUPER * (x1 - x0), SUPER * (y1 - y0))
    big = cv2.warpPerspective(image, fine @ h, size, flags=cv2.INTER_LINEAR, borderValue=(0, 0, 0, 0))
    return cv2.resize(big, (x1 - x0, y1 - y0), interpolation=cv2.INTER_AREA)


def lay(photo, decal, camera, cover=None):
    """Composite a decal onto the photo; `cover`, if given, receives the maximum of its cover."""
    h = camera.homography(decal.pose.z) @ decal.to_plane()
    rows, cols = decal.alpha.shape
    box = photo_box(h, cols, rows, camera.width, camera.height)
    if box is None:
        return
    image = np.dstack([decal.rgb * decal.alpha[:, :, None], decal.alpha]).astype(np.float32)
    x0, top, x1, bottom = box
    for y0 in range(top, bottom, 256):
        y1 = min(y0 + 256, bottom)
        part = warp_strip(image, h, x0, y0, x1, y1)
        a = part[:, :, 3:]
        target = photo[y0:y1, x0:x1]
        target *= 1 - a
        target += part[:, :, :3]
        if cover is not None:
            np.maximum(cover[y0:y1, x0:x1], a[:, :, 0], out=cover[y0:y1, x0:x1])


def paint_polygon(shape, points_px, step=8):
    """Cover of a polygon on a coarse grid (1 / step of the photo), float 0 to 1."""
    tile = np.zeros((shape[0] // step + 1, shape[1] // step + 1), np.uint8)
    points = np.round((np.asarray(points_px) / step - 0.5) * 16).astype(np.int32)
    cv2.fillPoly(tile, [points], 255, cv2.LINE_AA, 4)
    return tile.astype(np.float32) / 255


def shade(photo, polygons_px, soft_px, depth, step=8):
    """Darken the photo under blurred polygons: soft contact shadows."""
    h, w = photo.shape[:2]
    cover = np.zeros((h // step + 1, w // step + 1), np.float32)
    for points in polygons_px:
        np.maximum(cover, paint_polygon((h, w), points, step), out=cover)
    cover = cv2.GaussianBlur(cover, (0, 0), max(0.6, soft_px / step))
    factor = cv2.resize(1 - depth * cover, (cover.shape[1] * step, cover.shape[0] * step), interpolation=cv2.INTER_LINEAR)
    photo *= factor[:h, :w, None]


def fill_polygon(photo, points_px, rgb):
    """Antialiased flat polygon onto the photo (used for side walls)."""
    tile = np.zeros(photo.shape[:2], np.uint8)
    cv2.fillPoly(tile, [np.round(np.asarray(points_px) * 16).astype(np.int32)], 255, cv2.LINE_AA, 4)
    a = tile.astype(np.float32)[:, :, None] / 255
    photo *= 1 - a
    photo += a * rgb

"""Things that lie about: pen, tape measure, coin, gloved fingers."""
import cv2
import numpy as np

from . import cards, fields
from .canvas import Decal
from .pinhole import Pose

LUMA = np.array([0.2126, 0.7152, 0.0722])


def rod(s, length_mm, width_mm, rgb, taper_mm):
    """Cylinder seen from above with a shading across and a pointed right end."""
    h, w = round(width_mm * s), round(length_mm * s)
    v = (np.arange(h) + 0.5) / h * 2 - 1
    u = (np.arange(w) + 0.5) / s
    shine = 0.25 + 0.75 * np.sqrt(np.clip(1 - v * v, 0, 1)) + 1.2 * np.exp(-((v + 0.35) / 0.12) ** 2)
    reach = np.clip((length_mm - u) / max(taper_mm, 0.1), 0.08, 1)
    alpha = np.clip((reach[None, :] - np.abs(v)[:, None]) * h / 2 + 0.5, 0, 1).astype(np.float32)
    colour = np.broadcast_to(np.asarray(rgb, np.float32), (h, w, 3)) * shine[:, None, None]
    return np.clip(colour, 0, 0.95).astype(np.float32), alpha


def pen(rng, s):
    """A pen with a cap of another colour; (rgb, alpha, length, width)."""
    length, width = rng.uniform(110, 145), rng.uniform(7, 11)
    rgb, alpha = rod(s, length, width, rng.choice([[0.03, 0.03, 0.04], [0.02, 0.06, 0.4], [0.5, 0.03, 0.03], [0.7, 0.7, 0.66]]),
                     rng.uniform(8, 18))
    cap = round(rng.uniform(20, 45) * s)
    rgb[:, :cap] *= rng.uniform(0.3, 1.6)
    return np.clip(rgb, 0, 0.95), alpha, length, width


def tape(rng, s):
    """Tape measure with ticks and figures."""
    length, width = rng.uniform(90, 220), rng.uniform(12, 19)
    layer = np.zeros((round(width * s), round(length * s), 3), np.float32)
    layer[:] = rng.choice([[0.75, 0.55, 0.03], [0.75, 0.75, 0.72], [0.8, 0.7, 0.15]])
    face = cards.font(rng, 4 * s)
    for k in range(int(length)):
        reach = 6 if k % 10 == 0 else 4.5 if k % 5 == 0 else 3
        cards.box(layer, s, k, 0, k + 0.18, reach, [0.03] * 3)
        if k % 10 == 0:
            cards.put_text(layer, str(k // 10), (k + 0.8) * s, 5 * s, face, [0.03, 0.03, 0.03])
    bow = 0.8 + 0.2 * np.sin(np.linspace(0.3, 2.8, layer.shape[0]))
    return layer * bow[:, None, None].astype(np.float32), np.ones(layer.shape[:2], np.float32), length, width


def coin(rng, s):
    """Round metal disc with a raised rim and some relief."""
    d = rng.uniform(18, 27)
    n = round(d * s)
    y, x = np.mgrid[0:n, 0:n].astype(np.float32) - (n - 1) / 2
    r = np.hypot(x, y) / (n / 2)
    relief = fields.spectral(rng, (n, n), 2.0, 64) * (r < 0.7)
    field = 0.25 + 0.05 * relief + 0.12 * np.exp(-((r - 0.92) / 0.05) ** 2) * (1 + (x - y) / n)
    alpha = np.clip((1 - r) * n / 2 + 0.5, 0, 1)
    rgb = np.clip(field, 0.02, 0.9)[:, :, None] * np.asarray(rng.choice([[1.2, 0.95, 0.5], [1, 1, 1], [1.4, 0.8, 0.5]]))
    return rgb.astype(np.float32), alpha.astype(np.float32), d, d


def finger(rng, s, glove):
    """One gloved finger: a rod with a round tip and creases."""
    length, width = rng.uniform(70, 100), rng.uniform(15, 20)
    h, w = round(width * s), round(length * s)
    y, x = np.mgrid[0:h, 0:w].astype(np.float32)
    tip = np.hypot(np.maximum(x - (w - h / 2), 0), y - h / 2) / (h / 2)
    alpha = np.clip((1 - tip) * h / 2 + 0.5, 0, 1).astype(np.float32)
    body = 0.35 + 0.75 * np.sqrt(np.clip(1 - tip * tip, 0, 1)) + 0.10 * fields.spectral(rng, (h, w), 2.2, 128, (3, 1))
    return np.clip(body[:, :, None] * glove, 0.003, 0.9).astype(np.float32), alpha, length, width


def fingers(rng, s, camera_corners, clear_mm):
    """Two to four fingers reaching in from a frame edge; decals that stay clear of everything in `clear_mm`."""
    glove = np.asarray(rng.choice([[0.03, 0.1, 0.4], [0.02, 0.02, 0.022], [0.6, 0.22, 0.04], [0.75, 0.72, 0.65]]))
    k = rng.integers(4)
    a, b = camera_corners[k], camera_corners[(k + 1) % 4]
    along = (b - a) / np.linalg.norm(b - a)
    inward = np.array([-along[1], along[0]])
    if inward @ (camera_corners.mean(0) - a) < 0:
        inward = -inward
    start = a + (b - a) * rng.uniform(0.1, 0.8)
    out = []
    for i in range(rng.integers(2, 5)):
        rgb, alpha, length, width = finger(rng, s, glove)
        tip = start + along * i * 19.0 + inward * rng.uniform(4, 22)
        if clear_mm(tip) < 12 or clear_mm(tip - inward * 18) < 12:
            continue
        centre = tip - inward * length / 2
        angle = np.degrees(np.arctan2(inward[1], inward[0])) + rng.uniform(-5, 5)
        out.append(Decal(rgb, alpha, s, Pose(centre[0], centre[1], float(angle))))
    return out


MAKERS = {"pen": pen, "tape": tape, "coin": coin}

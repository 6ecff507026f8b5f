"""Water film: glints that follow the surface's relief as arcs and speckles."""
import cv2
import numpy as np

from . import fields


def glint_map(rng, grid, blocked, share):
    """Glare strength 0 to 1 on the face grid; about `share` of the face glares, `blocked` stays clear."""
    broad = fields.spectral(rng, grid.size, 4.0, 256)
    relief = broad + rng.uniform(0.02, 0.10) * fields.photo_field(rng, grid.size, rng.uniform(1, 3) * grid.s / 20)
    relief += rng.uniform(0.0, 0.12) * fields.spectral(rng, grid.size, 2.0)
    patch = fields.spectral(rng, grid.size, 3.0, 256)
    speckle = fields.unit(fields.blur(fields.white(rng, *grid.size), rng.uniform(1.5, 4)))
    score = rng.uniform(0.2, 0.8) * patch + rng.uniform(0.2, 0.7) * speckle
    score -= arc_distance(relief, rng.uniform(0.7, 2.5), grid.s) / rng.uniform(0.15, 0.6)
    score[~grid.inside | blocked] = -99
    wanted = max(1, int(share * grid.inside.sum()))
    level = np.partition(score.ravel(), -wanted)[-wanted]
    hard = (score >= level).astype(np.float32)
    hard = cv2.morphologyEx(hard, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    return fields.blur(hard, 0.7) * grid.inside


def arc_distance(relief, spacing, s):
    """Distance in mm to the nearest line along which the relief mirrors the lamp, at most 2 mm."""
    wave = np.abs((relief / spacing) % 1 - 0.5) * spacing
    dx = cv2.Sobel(relief, cv2.CV_32F, 1, 0, scale=s / 8)
    dy = cv2.Sobel(relief, cv2.CV_32F, 0, 1, scale=s / 8)
    return np.minimum(wave / (np.hypot(dx, dy) + 0.02), 2.0)

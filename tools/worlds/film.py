"""Water film: glints that follow the surface's relief as arcs and speckles."""
import cv2
import numpy as np

from . import fields


def glint_map(rng, grid, blocked, share):
    """Glare strength 0 to 1 on the face grid; about `share` of the face glares, `blocked` stays clear."""
    broad = fields.spectral(rng, grid.size, 4.0, 256)
    relief = broad + rng.uniform(0.02, 0.10) * fields.photo_field(rng, grid.size, rng.uniform(1, 3) * grid.s / 20)
    relief += rng.uniform(0.0, 0.12) * fields.spectral(rng, grid.size, 2.0)
    slope = np.abs(relief - rng.uniform(-0.5, 0.5))
    patch = fields.spectral(rng, grid.size, 3.0, 256)
    score = -slope / slope.std() + rng.uniform(0.4, 1.2) * patch
    score += rng.uniform(0.1, 0.6) * fields.unit(fields.blur(fields.white(rng, *grid.size), rng.uniform(1.5, 4)))
    score[~grid.inside | blocked] = -99
    wanted = max(1, int(share * grid.inside.sum()))
    level = np.partition(score.ravel(), -wanted)[-wanted]
    hard = (score >= level).astype(np.float32)
    hard = cv2.morphologyEx(hard, cv2.MORPH_OPEN, np.ones((2, 2), np.uint8))
    return fields.blur(hard, 0.7) * grid.inside


def wet_reflectance(rng, matrix, spot_reach):
    """Wetting darkens the matrix more than it darkens spots: new matrix luminance and contrast range."""
    matrix = matrix * rng.uniform(0.5, 0.72)
    low, high = spot_reach
    return matrix, (low * 1.1, min(1.5, high * 1.25))


def drops_outside(rng, light_add, camera_box, count):
    """A few clipped glints on the bench around the core (on the photo's glare layer)."""
    x0, y0, x1, y1 = camera_box
    for _ in range(count):
        at = (int(rng.uniform(x0, x1)), int(rng.uniform(y0, y1)))
        axes = (int(rng.uniform(1, 6)), int(rng.uniform(1, 4)))
        cv2.ellipse(light_add, at, axes, rng.uniform(0, 180), 0, 360, 1.0, -1, cv2.LINE_AA)

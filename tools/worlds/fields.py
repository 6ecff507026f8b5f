"""Random and photographic scalar fields: zero mean, unit standard deviation unless said otherwise."""
import os
from functools import lru_cache

import cv2
import numpy as np
import skimage

GRAIN_NAMES = ("gravel", "grass")  # brick shows its courses at any scale: benches only


def unit(field):
    """Field shifted and scaled to mean 0 and standard deviation 1 (float32)."""
    field = np.asarray(field, np.float32)
    return (field - field.mean()) / (field.std() + 1e-9)


def blur(field, sigma_px):
    """Gaussian blur; wide ones are made on a smaller grid because that looks the same and is fast."""
    if sigma_px < 0.2:
        return field
    if sigma_px > 12:
        step = int(sigma_px // 5)
        h, w = field.shape[:2]
        small = cv2.resize(field, (max(2, w // step), max(2, h // step)), interpolation=cv2.INTER_AREA)
        small = cv2.GaussianBlur(small, (0, 0), sigma_px / step)
        return cv2.resize(small, (w, h), interpolation=cv2.INTER_CUBIC)
    return cv2.GaussianBlur(field, (0, 0), sigma_px)


def white(rng, height, width):
    """White Gaussian noise, float32."""
    return rng.standard_normal((height, width), dtype=np.float32)


def spectral(rng, size, beta, grid=512, stretch=(1.0, 1.0)):
    """Noise of power 1/f^beta on `size` = (height, width) px, made on a `grid` and enlarged.

    `stretch` > 1 on an axis makes the structures longer along it (y, x).
    """
    fy = np.fft.fftfreq(grid)[:, None] * stretch[0]
    fx = np.fft.rfftfreq(grid)[None, :] * stretch[1]
    radius = np.sqrt(fx * fx + fy * fy)
    radius[0, 0] = 1.0
    spectrum = np.fft.rfft2(white(rng, grid, grid)) * radius ** (-beta / 2)
    spectrum[0, 0] = 0
    field = np.fft.irfft2(spectrum, (grid, grid)).astype(np.float32)
    return unit(cv2.resize(field, (size[1], size[0]), interpolation=cv2.INTER_CUBIC))


@lru_cache(maxsize=None)
def photo(name):
    """One of the texture photographs packaged with skimage, local contrast evened, 512 x 512."""
    path = os.path.join(os.path.dirname(skimage.__file__), "data", name + ".png")
    raw = cv2.imread(path, cv2.IMREAD_GRAYSCALE).astype(np.float32)
    low = cv2.GaussianBlur(raw, (0, 0), 40)
    spread = np.sqrt(cv2.GaussianBlur((raw - low) ** 2, (0, 0), 40)) + 1
    return unit(np.clip((raw - low) / spread, -3, 3))


def photo_field(rng, size, scale, name=None):
    """Packaged photograph, mirrored without end, turned at random and enlarged `scale` times."""
    source = photo(name or GRAIN_NAMES[rng.integers(len(GRAIN_NAMES))])
    angle = rng.uniform(0, 2 * np.pi)
    c, s = np.cos(angle) / scale, np.sin(angle) / scale
    shift = rng.uniform(0, 4096, 2)
    matrix = np.array([[c, -s, shift[0]], [s, c, shift[1]]], np.float64)
    flags = cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP
    return unit(cv2.warpAffine(source, matrix, (size[1], size[0]), flags=flags, borderMode=cv2.BORDER_REFLECT))


def cells(rng, size, pitch_px):
    """Random packing as a Voronoi map: (label of each pixel, distance to its seed in px, number of labels)."""
    h, w = size
    rows, cols = int(h / pitch_px) + 2, int(w / pitch_px) + 2
    y = (np.arange(rows)[:, None] + rng.uniform(-0.1, 0.9, (rows, cols))) * pitch_px
    x = (np.arange(cols)[None, :] + rng.uniform(-0.1, 0.9, (rows, cols))) * pitch_px
    seeds = np.full((h, w), 255, np.uint8)
    yi, xi = y.astype(int).ravel(), x.astype(int).ravel()
    keep = (yi >= 0) & (xi >= 0) & (yi < h) & (xi < w)
    seeds[yi[keep], xi[keep]] = 0
    dist, labels = cv2.distanceTransformWithLabels(seeds, cv2.DIST_L2, 5, labelType=cv2.DIST_LABEL_PIXEL)
    return labels, dist, int(labels.max()) + 1


def grain_field(rng, size, pitch_px):
    """Close-packed grains of varying tone with darker joints."""
    labels, dist, count = cells(rng, size, pitch_px)
    tone = rng.standard_normal(count).astype(np.float32)
    field = tone[labels] - 1.2 * np.clip(dist / pitch_px - 0.35, 0, 1)
    return unit(blur(field, 0.8))


def maze(rng, size, wavelength_px):
    """Labyrinth of an activator-inhibitor reaction, iterated on a small grid."""
    grid = 256
    field = white(rng, grid, grid)
    sigma = 2.0
    for _ in range(14):
        near = cv2.GaussianBlur(field, (0, 0), sigma, borderType=cv2.BORDER_REFLECT)
        far = cv2.GaussianBlur(field, (0, 0), sigma * 1.7, borderType=cv2.BORDER_REFLECT)
        field = np.tanh(6 * (near - far) + 0.35 * near)
    scale = wavelength_px / 14.0
    matrix = np.array([[1 / scale, 0, rng.uniform(0, 200)], [0, 1 / scale, rng.uniform(0, 200)]])
    flags = cv2.INTER_CUBIC | cv2.WARP_INVERSE_MAP
    return unit(cv2.warpAffine(field, matrix, (size[1], size[0]), flags=flags, borderMode=cv2.BORDER_REFLECT))


def smoothstep(t):
    """0 below 0, 1 above 1, smooth between."""
    t = np.clip(t, 0, 1)
    return t * t * (3 - 2 * t)


def signed_distance(mask):
    """Distance to the mask's outline in px, positive inside."""
    inside = mask.astype(np.uint8)
    d_in = cv2.distanceTransform(inside, cv2.DIST_L2, 5)
    d_out = cv2.distanceTransform(1 - inside, cv2.DIST_L2, 5)
    return np.where(inside > 0, d_in - 0.5, 0.5 - d_out).astype(np.float32)

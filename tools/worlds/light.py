"""Light over the plane: window, lamps, vignette and cast shadows, as a linear RGB factor."""
from dataclasses import dataclass, field

import cv2
import numpy as np

from . import pinhole

LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


@dataclass
class LightPlan:
    """Sources as (direction rad, change over the face, share, RGB colour), vignette depth and one shadow."""
    sources: list = field(default_factory=list)
    vignette: float = 0.05
    shadow: tuple = None


def lamp_colour(rng, spread):
    """Colour of a lamp relative to the camera's white balance, unit luminance."""
    warm = rng.normal(0, spread)
    rgb = np.array([1 + warm, 1 + rng.normal(0, 0.2 * spread), 1 - warm])
    return np.clip(rgb, 0.5, 1.6) / (np.clip(rgb, 0.5, 1.6) @ LUMA)


def plan_light(rng, family):
    """Sources by family: one window, or two lamps of differing colour, or a weak slope."""
    plan = LightPlan(vignette=rng.uniform(0, 0.18))
    if family == "window":
        plan.sources.append((rng.uniform(0, 2 * np.pi), rng.uniform(0.10, 0.40), 1.0, lamp_colour(rng, 0.05)))
    elif rng.random() < 0.35:
        share = rng.uniform(0.3, 0.7)
        for part in (share, 1 - share):
            plan.sources.append((rng.uniform(0, 2 * np.pi), rng.uniform(0.05, 0.30), part, lamp_colour(rng, 0.10)))
    else:
        plan.sources.append((rng.uniform(0, 2 * np.pi), rng.uniform(0.01, 0.15), 1.0, lamp_colour(rng, 0.04)))
    return plan


def falloff(plan, x, y):
    """Unitless RGB light on plane points in mm: inverse square from beside the face, mean colour kept."""
    total = np.zeros(x.shape + (3,), np.float32)
    for angle, change, share, rgb in plan.sources:
        distance = 178.0 / change
        along = x * np.cos(angle) + y * np.sin(angle)
        across = -x * np.sin(angle) + y * np.cos(angle)
        ratio = np.maximum(0.3, 1 + along / distance)
        value = share / (ratio ** 2 + (across / (1.3 * distance)) ** 2)
        total += value[..., None] * rgb.astype(np.float32)
    return total


def shadow_factor(shadow, x, y):
    """Factor of a straight soft shadow edge: (angle, offset mm, softness mm, depth)."""
    angle, offset, soft, depth = shadow
    along = x * np.cos(angle) + y * np.sin(angle)
    t = np.clip((along - offset) / soft + 0.5, 0, 1)
    return (1 - depth * t * t * (3 - 2 * t)).astype(np.float32)


def light_map(plan, camera, step=8):
    """RGB light of every photo pixel, float32, made on a coarse grid."""
    rows, cols = camera.height // step + 2, camera.width // step + 2
    u, v = np.meshgrid(np.arange(cols) * step + (step - 1) / 2, np.arange(rows) * step + (step - 1) / 2)
    at = pinhole.project(np.linalg.inv(camera.homography()), np.column_stack([u.ravel(), v.ravel()]))
    x, y = at[:, 0].reshape(u.shape), at[:, 1].reshape(u.shape)
    light = falloff(plan, x, y)
    half = np.hypot(camera.width, camera.height) / 2
    r2 = ((u - camera.width / 2) ** 2 + (v - camera.height / 2) ** 2) / half ** 2
    light *= (1 - plan.vignette * r2)[..., None]
    if plan.shadow:
        light *= shadow_factor(plan.shadow, x, y)[..., None]
    big = cv2.resize(light, (cols * step, rows * step), interpolation=cv2.INTER_LINEAR)
    return np.ascontiguousarray(big[: camera.height, : camera.width].astype(np.float32))


def change_over_face(light, camera, radius_mm):
    """100 x (max - min) / mean of the luminance of the light over the face."""
    axis = np.linspace(-radius_mm, radius_mm, 61)
    x, y = np.meshgrid(axis, axis)
    keep = x * x + y * y <= radius_mm ** 2
    at = pinhole.project(camera.homography(), np.column_stack([x[keep], y[keep]]))
    i = np.clip(np.round(at).astype(int), 0, [camera.width - 1, camera.height - 1])
    value = light[i[:, 1], i[:, 0]] @ LUMA
    return float(100 * (value.max() - value.min()) / value.mean())

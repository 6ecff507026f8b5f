"""Does the photo show what its truth file says? One line a photo, exit 1 if anything disagrees."""
import argparse
import glob
import json
import os

import cv2
import numpy as np
from PIL import Image, ImageOps

from . import pinhole

LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


def linear_photo(path):
    """Upright photo as linear luminance."""
    code = np.asarray(ImageOps.exif_transpose(Image.open(path)).convert("RGB"), np.float32) / 255
    light = np.where(code <= 0.04045, code / 12.92, ((code + 0.055) / 1.055) ** 2.4)
    return (light @ LUMA).astype(np.float32)


def rectify(photo, truth, shape):
    """The face resampled onto its mask's grid."""
    s, (ox, oy) = truth["mask_px_per_mm"], truth["mask_origin"]
    to_mm = np.array([[1 / s, 0, -ox / s], [0, -1 / s, oy / s], [0, 0, 1]])
    h = np.array(truth["homography_mm_to_px"]).reshape(3, 3) @ to_mm
    return cv2.warpPerspective(photo, h, shape[::-1], flags=cv2.INTER_LINEAR | cv2.WARP_INVERSE_MAP)


def check_areas(truth, mask):
    """Largest difference between a spot's area in the JSON and in the mask, relative; glints may only hide area."""
    count = np.bincount(mask.ravel(), minlength=65536) / truth["mask_px_per_mm"] ** 2
    problems, worst = [], 0.0
    for spot in truth["spots"]:
        gap = (spot["area_mm2"] - count[spot["id"]]) / spot["area_mm2"]
        if gap < -1e-3 or (gap > 1e-3 and not truth["glints"]):
            problems.append(f"area of spot {spot['id']} off by {gap:.3f}")
        worst = max(worst, abs(gap) if not truth["glints"] else 0.0)
    pits = sum(p["area_mm2"] for p in truth["pits"])
    if count[65001] - pits > 1e-3 * max(pits, 1):
        problems.append("pit areas differ")
    disc = 1 - (mask != 65535).sum() / truth["mask_px_per_mm"] ** 2 / truth["face_area_mm2"]
    if abs(disc) > 2e-4:
        problems.append(f"disc area off by {disc:.5f}")
    return problems, worst


def check_rim(truth, mask):
    """The mask's outline must be the rim that is stated, all around; largest miss in mm."""
    s, (ox, oy) = truth["mask_px_per_mm"], truth["mask_origin"]
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    stated = truth["core_diameter_mm"] / 2 + sum(c * np.cos(n * angle) + q * np.sin(n * angle) for n, c, q in truth["rim_mm"])
    reach = truth["core_diameter_mm"] / 2 + np.arange(-0.48, 0.48, 0.25 / s)[:, None]
    column = np.rint(ox + s * reach * np.cos(angle)).astype(int)
    row = np.rint(oy - s * reach * np.sin(angle)).astype(int)
    seen = reach[0, 0] + 0.25 / s * (mask[row, column] != 65535).sum(0)
    miss = float(np.abs(seen - stated).max())
    return ([f"rim off by {miss:.3f} mm"] if miss > 1.5 / s else []), miss


def spot_contrasts(truth, mask, face):
    """(spot, seen Weber contrast against a ring of matrix, stated Weber contrast) for each spot that can be seen."""
    s, (ox, oy) = truth["mask_px_per_mm"], truth["mask_origin"]
    out = []
    for spot in truth["spots"]:
        half = int((0.7 * spot["ecd_mm"] * 1.6 + 1.2) * s)
        c, r = int(round(ox + spot["x_mm"] * s)), int(round(oy - spot["y_mm"] * s))
        area = (slice(max(0, r - half), r + half), slice(max(0, c - half), c + half))
        own = mask[area] == spot["id"]
        if own.sum() < 12:
            continue
        away = cv2.distanceTransform((~own).astype(np.uint8), cv2.DIST_L2, 5)
        ring = (mask[area] == 0) & (away > (0.3 + spot["edge_mm"]) * s) & (away < (0.9 + spot["edge_mm"]) * s)
        if ring.sum() < 30:
            continue
        seen = face[area][own].mean() / np.median(face[area][ring]) - 1
        out.append((spot, float(seen), spot["mean_Y"] / truth["matrix_Y"] - 1))
    return out


def check_spots(truth, mask, face):
    """Every spot wide enough for the photo must be lighter than its ring; median ratio of seen to stated contrast."""
    problems, ratio = [], []
    for spot, seen, stated in spot_contrasts(truth, mask, face):
        wide = spot["ecd_mm"] > 6 * truth["mm_per_px"] * max(1, truth["blur_sigma_px"])
        if wide and seen < 0.3 * stated:
            problems.append(f"spot {spot['id']} not lighter ({seen:.2f}, stated {stated:.2f})")
        if wide:
            ratio.append(seen / stated)
    return problems, float(np.median(ratio)) if ratio else float("nan")


def bar_profile(photo, truth, steps):
    """Luminance along the bar's middle, evenly spaced in mm on the face plane, from 5 % before to 5 % after."""
    h = np.array(truth["homography_mm_to_px"]).reshape(3, 3)
    ends = pinhole.project(np.linalg.inv(h), np.array(truth["bar_ends_px"]).reshape(2, 2))
    t = np.linspace(-0.05, 1.05, steps)
    across = np.array([-(ends[1] - ends[0])[1], (ends[1] - ends[0])[0]]) / np.linalg.norm(ends[1] - ends[0])
    lines = []
    for offset in np.linspace(-1.2, 1.2, 9):
        at = pinhole.project(h, ends[0] + np.outer(t, ends[1] - ends[0]) + offset * across).astype(np.float32)
        lines.append(cv2.remap(photo, at[:, 0].reshape(1, -1), at[:, 1].reshape(1, -1), cv2.INTER_LINEAR)[0])
    return t, np.mean(lines, 0), float(np.linalg.norm(ends[1] - ends[0]))


def check_bar(photo, truth):
    """Inner block edges must cross half way where the truth says; largest miss in photo px."""
    t, line, length = bar_profile(photo, truth, 8001)
    blocks = truth["bar_blocks"]
    problems = []
    edges = np.array(truth["bar_edges_mm"])
    if abs(length - edges[-1]) > 1e-6 * length or np.abs(edges - np.arange(blocks + 1) * truth["bar_length_mm"] / blocks).max() > 0.4:
        problems.append(f"bar ends are {length:.3f} mm apart, edges at {edges.round(3)}")
    middles = np.array([np.median(line[(t > (k + 0.25) / blocks) & (t < (k + 0.75) / blocks)]) for k in range(blocks)])
    if not (np.diff(middles)[::2] * np.sign(np.diff(middles)[0]) > 0).all() or not (
            np.diff(middles)[1::2] * np.sign(np.diff(middles)[0]) < 0).all():
        return problems + ["blocks do not alternate"], float("nan")
    miss = []
    for k in range(1, blocks):
        half = (middles[k - 1] + middles[k]) / 2
        at = edges[k] / length
        near = np.abs(t - at) < 0.25 / blocks
        cross = np.nonzero(np.diff(np.sign(line[near] - half)))[0]
        miss.append(np.abs(t[near][cross] - at).min() * length / truth["mm_per_px"] if len(cross) else 9.0)
    if max(miss) > 1.0:
        problems.append(f"bar edge off by {max(miss):.2f} px")
    return problems, float(max(miss))


def check_card(photo, truth, face, mask):
    """Card level over matrix level, relative to the ratio stated (light differences remain in it)."""
    corners = np.array(truth["card_corners_px"]).reshape(4, 2)
    middle = corners.mean(0)
    quad = (middle + 0.5 * (corners - middle)).astype(np.int32)
    tile = np.zeros(photo.shape, np.uint8)
    cv2.fillConvexPoly(tile, quad, 1)
    card = np.median(photo[tile > 0])
    seen = face[mask == 0].mean() / card
    return float(seen / (truth["matrix_Y"] / truth["card_reflectance"]))


def check_geometry(truth):
    """mm_per_px and tilt recomputed from the homography."""
    h = np.array(truth["homography_mm_to_px"]).reshape(3, 3)
    f = truth["focal_px"]
    k = np.array([[f, 0, (truth["width"] - 1) / 2], [0, f, (truth["height"] - 1) / 2], [0, 0, 1]])
    r = np.linalg.inv(k) @ h
    r = r / np.linalg.norm(r[:, 0])
    problems = []
    if abs(np.linalg.norm(r[:, 1]) - 1) > 1e-9 or abs(r[:, 0] @ r[:, 1]) > 1e-9:
        problems.append("homography is not a pinhole's")
    tilt = np.degrees(np.arccos(min(1.0, abs(np.cross(r[:, 0], r[:, 1])[2]))))
    if abs(tilt - truth["tilt_deg"]) > 1e-4 or abs(abs(r[2, 2]) / f / truth["mm_per_px"] - 1) > 1e-9:
        problems.append("tilt or mm_per_px do not fit the homography")
    return problems


def check_one(path):
    """Problems and a line of figures for one truth file."""
    with open(path, encoding="utf-8") as file:
        truth = json.load(file)
    folder = os.path.dirname(path)
    photo = linear_photo(os.path.join(folder, truth["photo"]))
    mask = cv2.imread(os.path.join(folder, truth["mask"]), cv2.IMREAD_UNCHANGED)
    face = rectify(photo, truth, mask.shape)
    problems = check_geometry(truth)
    if photo.shape != (truth["height"], truth["width"]):
        problems.append("photo size differs")
    found, _ = check_areas(truth, mask)
    seen, ratio = check_spots(truth, mask, face)
    bar, miss = check_bar(photo, truth)
    level = check_card(photo, truth, face, mask)
    clipped = 100 * float((face[(mask < 60001)] > 0.98).mean())
    rim, _ = check_rim(truth, mask)
    problems += found + rim + seen + bar
    line = (f"{truth['photo']:28s} spots {len(truth['spots']):3d}  contrast seen/stated {ratio:5.2f}  bar miss {miss:4.2f} px  "
            f"face/card {level:5.2f}  light {truth['light_change_pct']:4.1f} %  clipped {clipped:4.2f} %")
    return problems, line


def main(argv=None):
    """Check all truth files of a folder."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("folder")
    args = parser.parse_args(argv)
    bad = 0
    for path in sorted(glob.glob(os.path.join(args.folder, "*.truth.json"))):
        problems, line = check_one(path)
        print(line + ("" if not problems else "  PROBLEM: " + "; ".join(problems)))
        bad += bool(problems)
    return 1 if bad else 0

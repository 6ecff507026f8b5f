"""One photograph: choose a world by family and seed, paint it, develop it, write photo and truth."""
import json
import os

import cv2
import numpy as np

from . import benches, canvas, cards, develop, deviations, light, objects, pinhole
from .canvas import Decal
from .face import FacePlan, lightness, make_face

DIAMETER_MM = 88.9
OFF_STREAM = 1  # beside the seed of everything else, for how far the objects are off
FAMILIES = ("textures", "benches", "cards", "bars", "phone", "window", "film", "aggregate", "nospots", "coloured", "lruler",
            "raised", "broken", "shadow")


def plan_face(rng, family):
    """Face by family."""
    plan = FacePlan(matrix_y=float(rng.uniform(0.13, 0.4)), pit_count=int(rng.choice([0, rng.integers(1, 25)])),
                    strength=float(rng.uniform(0.6, 1.3)), chips=int(rng.choice([0, rng.integers(1, 9)])))
    plan.spot_count = int(np.clip(np.exp(rng.normal(3.2, 0.9)), 1, 120))
    low = rng.uniform(0.3, 0.8)
    plan.contrast = (low, float(rng.uniform(low + 0.1, 1.5)))
    if family == "nospots" or (family in ("textures", "aggregate") and rng.random() < 0.12):
        plan.spot_count = 0
    if family == "textures":
        plan.strength = float(rng.uniform(1.1, 2.0))
    if family == "coloured":
        plan.tint = str(rng.choice(["blue", "sand", "green", "black"]))
        plan.matrix_y = float(rng.uniform(0.06, 0.12)) if plan.tint == "black" else plan.matrix_y
    plan.light_grains = family == "aggregate"
    plan.broken = family == "broken"
    if family == "film" or (family == "benches" and rng.random() < 0.15):
        plan.wet = True
        plan.matrix_y *= float(rng.uniform(0.5, 0.72))
        plan.glint_share = float(rng.choice([0.0, rng.uniform(0.001, 0.05)], p=[0.15, 0.85]))
    return plan


def plan_things(rng, family):
    """Card and bar with the options a user would have to state."""
    options = []
    reflectance = 0.18
    if rng.random() < (0.5 if family == "cards" else 0.12):
        reflectance = float(rng.choice([0.12, 0.50]))
        options.append(f"--card-reflectance {reflectance:g}")
    length, blocks = 50.0, 5
    if rng.random() < (0.8 if family in ("bars", "lruler") else 0.2):
        blocks = int(rng.integers(4, 11))
        length = float(rng.choice([40, 50, 60, 80, blocks * 10 if blocks < 9 else 50]))
    if length != 50:
        options.append(f"--bar-length-mm {length:g}")
    if blocks != 5:
        options.append(f"--bar-blocks {blocks}")
    card = cards.CardPlan(rng, reflectance, family == "cards")
    bar = cards.BarPlan(rng, length, blocks, family in ("bars", "lruler"), family == "lruler")
    return card, bar, options


def bench_layer(rng, photo, camera, name, z_mm, near_y):
    """Fill the whole photo with a bench seen through the plane's homography."""
    h = camera.homography(z_mm)
    corners = pinhole.project(np.linalg.inv(h), [[-9, -9], [camera.width + 9, -9], [camera.width + 9, camera.height + 9],
                                                 [-9, camera.height + 9]])
    span, middle = np.ptp(corners, 0).max(), (corners.min(0) + corners.max(0)) / 2
    turn = rng.uniform(-180, 180)
    side = span * (abs(np.cos(np.radians(turn))) + abs(np.sin(np.radians(turn))))
    s = min(0.8 / camera.mm_per_px, 3600 / side)
    n = int(side * s) + 8
    texture = benches.make_bench(rng, name, (n, n), s, near_y).astype(np.float32)
    decal = Decal(texture, np.ones((n, n), np.float32), s, pinhole.Pose(middle[0], middle[1], turn, z_mm))
    photo[:] = cv2.warpPerspective(texture, h @ decal.to_plane(), (camera.width, camera.height), flags=cv2.INTER_LINEAR,
                                   borderMode=cv2.BORDER_REFLECT)


def clear_distance(poses, sizes):
    """Function: smallest distance (mm) of a point to the core, card and bar (negative inside)."""
    quads = [p.to_plane(pinhole.rect(*s)).astype(np.float32).reshape(-1, 1, 2) for p, s in zip(poses, sizes)]

    def clear(point):
        at = (float(point[0]), float(point[1]))
        return min([np.hypot(*at) - DIAMETER_MM / 2] + [-cv2.pointPolygonTest(q, at, True) for q in quads])
    return clear


def add_objects(rng, photo, camera, poses, sizes, busy):
    """Pen, tape, coin and gloved fingers, clear of core, card and bar."""
    taken = [p.to_plane(pinhole.rect(*s)) for p, s in zip(poses, sizes)]
    s = 1.2 / camera.mm_per_px
    for name in ("pen", "tape", "coin"):
        if rng.random() > (0.5 if busy else 0.2):
            continue
        rgb, alpha, length, width = objects.MAKERS[name](rng, s)
        pose = pinhole.place_one(rng, camera, (length, width), 0.0, rng.uniform(-180, 180), taken, DIAMETER_MM / 2,
                                 -0.6 * length / camera.mm_per_px if name != "coin" else 0, tries=150)
        if pose is None:
            continue
        taken.append(pose.to_plane(pinhole.rect(length, width)))
        outline = pinhole.circle(length / 2) if name == "coin" else pinhole.rect(length * 0.97, width)
        quad = pinhole.project(camera.homography(), pose.to_plane(outline) + [0.7, -0.9])
        canvas.shade(photo, [quad], 1.2 / camera.mm_per_px, 0.45)
        canvas.lay(photo, Decal(rgb, alpha, s, pose), camera)
    if rng.random() < (0.35 if busy else 0.12):
        frame = [[0, 0], [camera.width, 0], [camera.width, camera.height], [0, camera.height]]
        corners = pinhole.project(np.linalg.inv(camera.homography()), frame)
        for decal in objects.fingers(rng, s, corners, clear_distance(poses, sizes)):
            canvas.lay(photo, decal, camera)


def side_wall(rng, photo, camera, outline_mm, drop_mm, y):
    """The wall between an outline at the face's height and the same outline lower down."""
    top = pinhole.project(camera.homography(), outline_mm)
    foot = pinhole.project(camera.homography(-drop_mm), outline_mm)
    hull = cv2.convexHull(np.vstack([top, foot]).astype(np.float32))[:, 0]
    canvas.shade(photo, [foot + 2.5 / camera.mm_per_px * rng.uniform(-1, 1, 2)], 2.5 / camera.mm_per_px, 0.6)
    canvas.fill_polygon(photo, hull, cards.grey(y))


def lay_face(photo, face, camera, glare):
    """The face and, on its own layer, the cover of its glints."""
    pose = pinhole.Pose(0, 0, 0)
    canvas.lay(photo, Decal(face.rgb, face.cover, face.grid.s, pose), camera)
    if face.glare.any():
        layer = Decal(np.zeros_like(face.rgb), face.glare, face.grid.s, pose)
        canvas.lay(np.zeros_like(photo), layer, camera, cover=glare)


def choose_shadow(rng, family, card_quad):
    """(Shadow edge or None, does it lie on the card): across the face in family `shadow`, else beyond it."""
    may_cover_card = rng.random() < 0.15
    wanted = family == "shadow" or rng.random() < 0.3
    for _ in range(40):
        angle = rng.uniform(0, 2 * np.pi)
        if family == "shadow":
            edge = (angle, rng.uniform(-30, 30), rng.uniform(25, 70), rng.uniform(0.12, 0.4))
        else:
            soft = rng.uniform(1, 12)
            edge = (angle, DIAMETER_MM / 2 + 3 + soft / 2 + rng.uniform(0, 20), soft, rng.uniform(0.2, 0.6))
        on_card = bool((light.shadow_factor(edge, card_quad[:, 0], card_quad[:, 1]) < 0.995).any())
        if wanted and (may_cover_card or not on_card):
            return edge, on_card
    return None, False


def expose(rng, lit, cover):
    """Gain that puts the brightest of what is measured (cover near 1) below clipping; a little over it one time in 25."""
    peak = np.percentile(lit[cover > 0.9][::7].max(1), 99.9)
    return float((rng.uniform(1.0, 1.15) if rng.random() < 0.04 else rng.uniform(0.5, 0.93)) / peak)


def build(rng, family, width, height, off_seed):
    """Everything but the files: (8-bit photo, truth dictionary, mask, develop plan, focal length, EXIF wanted)."""
    face_plan = plan_face(rng, family)
    card_plan, bar_plan, options = plan_things(rng, family)
    off = deviations.Deviations() if off_seed is None else deviations.draw(off_seed, card_plan, bar_plan)
    drop = 5.0 if family == "raised" else 0.0
    card_z = float(rng.choice([0.0, -drop])) if drop else 0.0
    sizes = [(card_plan.outer_w, card_plan.outer_h), (bar_plan.outer_w, bar_plan.full_h)]
    free = family in ("benches", "bars") or rng.random() < 0.3
    camera, poses = pinhole.arrange(rng, width, height, DIAMETER_MM / 2, [sizes[0] + (card_z,), sizes[1] + (0.0,)], free)
    face = make_face(rng, face_plan, DIAMETER_MM, float(np.clip(np.ceil(1.1 / camera.mm_per_px), 20, 34)), off)

    photo = np.zeros((height, width, 3), np.float32)
    bench = str(rng.choice(benches.NAMES)) if family in ("benches", "window", "raised", "broken") or rng.random() < 0.5 else "plain"
    near = float(rng.choice([face_plan.matrix_y, card_plan.reflectance, face_plan.matrix_y * 1.3]))
    bench_layer(rng, photo, camera, bench, -drop, near)
    px = 1 / camera.mm_per_px
    h = camera.homography()
    for pose, size in zip(poses, sizes):
        quad = pinhole.project(h, pose.to_plane(pinhole.rect(*size)) + rng.uniform(-0.6, 0.6, 2))
        if not (family == "lruler" and size is sizes[1]):
            canvas.shade(photo, [quad], 0.8 * px, rng.uniform(0.15, 0.5))
    add_objects(rng, photo, camera, poses, sizes, family == "benches")
    circle = pinhole.circle(DIAMETER_MM / 2, 180)
    canvas.shade(photo, [pinhole.project(h, 1.01 * circle + rng.uniform(-1, 1, 2))], rng.uniform(0.6, 2.5) * px, rng.uniform(0.3, 0.7))
    if drop:
        around = np.arctan2(circle[:, 1], circle[:, 0])
        outline = circle * (1 + off.rim_stray(around) / (DIAMETER_MM / 2))[:, None]
        side_wall(rng, photo, camera, outline, drop, face_plan.matrix_y * 0.55)
        side_wall(rng, photo, camera, poses[1].to_plane(pinhole.rect(*sizes[1])), drop, 0.1)
    s = 1.3 * px
    card, card_local = cards.make_card(rng, card_plan, poses[0], s, off)
    card_corners = poses[0].to_plane(pinhole.project(off.card, card_local))
    bar, bar_edges = cards.make_bar(rng, bar_plan, poses[1], s, off)
    measured, glare = np.zeros((height, width), np.float32), np.zeros((height, width), np.float32)
    canvas.lay(photo, card, camera, measured)
    canvas.lay(photo, bar, camera, measured)
    before = photo if not face_plan.broken else fracture(rng, photo, camera, face, face_plan)
    lay_face(before, face, camera, glare)
    canvas.lay(np.zeros_like(photo), Decal(face.rgb * 0, face.cover, face.grid.s, pinhole.Pose(0, 0, 0)), camera, measured)

    light_plan = light.plan_light(rng, family)
    light_plan.shadow, on_card = choose_shadow(rng, family, poses[0].to_plane(card_local))
    lamps = light.light_map(light_plan, camera)
    photo = before * lamps
    photo *= expose(rng, photo, measured)
    if glare.any():
        photo += ((glare + 0.02 * cv2.GaussianBlur(glare, (0, 0), 6)) * rng.uniform(1.2, 3.0))[:, :, None]
    dev = develop.plan_develop(rng, family)
    image = develop.finish(rng, photo, dev, off.tone)

    if face_plan.wet:
        options.append("--state wet")
    truth = {
        "family": family, "options": options, "width": width, "height": height, "mm_per_px": camera.mm_per_px,
        "tilt_deg": camera.tilt_deg, "focal_px": camera.focal_px, "homography_mm_to_px": [float(v) for v in h.ravel()],
        "core_diameter_mm": DIAMETER_MM, "bar_length_mm": bar_plan.length, "bar_blocks": bar_plan.blocks,
        "card_reflectance": card_plan.reflectance, "bar_ends_px": [float(v) for v in pinhole.project(h, bar_edges[[0, -1]]).ravel()],
        "bar_edges_mm": [float(v) for v in np.linalg.norm(bar_edges - bar_edges[0], axis=1)],
        "rim_mm": off.rim, "face_area_mm2": float(np.pi * ((DIAMETER_MM / 2) ** 2 + sum(c * c + s * s for _, c, s in off.rim) / 2)),
        "card_corners_px": [float(v) for v in pinhole.project(camera.homography(card_z), card_corners).ravel()],
        "light_change_pct": light.change_over_face(lamps, camera, DIAMETER_MM / 2), "wet": face_plan.wet,
        "blur_sigma_px": dev.blur_sigma, "noise": dev.describe(), "bench": bench, "shadow_on_card": on_card, **face.truth,
        "mask_px_per_mm": face.grid.s, "mask_origin": [face.grid.o, face.grid.o]}
    focal35 = round(camera.focal_px / np.hypot(width, height) * pinhole.FULL_FRAME_DIAGONAL_MM)
    return image, truth, face.mask, dev, focal35


def fracture(rng, photo, camera, face, plan):
    """Rough lower ledge, or bare bench, where the rim broke off."""
    if rng.random() < 0.5:
        return photo
    grid = face.grid
    from . import fields
    rough = fields.photo_field(rng, grid.size, 3, "gravel") + fields.spectral(rng, grid.size, 2)
    y = plan.matrix_y * rng.uniform(0.4, 0.9) * np.exp(0.25 * rough)
    rim = np.clip((grid.rim - rng.uniform(0.3, 2.0) - np.sqrt(grid.r2)) * grid.s + 0.5, 0, 1)
    rgb = (y[:, :, None] * cards.grey(1.0)).astype(np.float32)
    canvas.lay(photo, Decal(rgb, rim.astype(np.float32), grid.s, pinhole.Pose(0, 0, 0, -2.0)), camera)
    return photo


def render(out_dir, family, seed, width, height, perfect_objects=False):
    """Render one world and write its three files; returns the truth."""
    index = FAMILIES.index(family)
    rng = np.random.default_rng([seed, index, 20260417])
    image, truth, mask, dev, focal35 = build(rng, family, width, height, None if perfect_objects else [seed, index, 20260417, OFF_STREAM])
    name = f"world-{family}-{seed}"
    truth = {"photo": name + ".jpg", "mask": name + ".mask.png", "family": truth.pop("family"), "seed": seed, **truth}
    develop.save_jpeg(rng, image, os.path.join(out_dir, name + ".jpg"), dev, focal35, rng.random() < 0.5)
    cv2.imwrite(os.path.join(out_dir, name + ".mask.png"), mask, [cv2.IMWRITE_PNG_COMPRESSION, 4])
    with open(os.path.join(out_dir, name + ".truth.json"), "w", encoding="utf-8") as file:
        json.dump(truth, file, indent=1)
        file.write("\n")
    return truth

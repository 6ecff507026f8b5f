"""Pinhole camera over the face plane, and where core, card and bar lie in it."""
from dataclasses import dataclass

import cv2
import numpy as np

FULL_FRAME_DIAGONAL_MM = 43.267


@dataclass
class Camera:
    """Square pixels, principal point at the frame's middle; plane z = 0 is the face, z up towards the camera."""
    width: int
    height: int
    focal_px: float
    mm_per_px: float
    tilt_deg: float
    rotation: np.ndarray
    centre: np.ndarray

    def homography(self, z_mm=0.0):
        """3 x 3 taking (x mm, y mm, 1) of the plane at height z to photo pixels."""
        k = np.array([[self.focal_px, 0, (self.width - 1) / 2], [0, self.focal_px, (self.height - 1) / 2], [0, 0, 1]])
        ex, ey, normal = self.rotation @ [1, 0, 0], self.rotation @ [0, -1, 0], self.rotation @ [0, 0, -1]
        h = k @ np.stack([ex, ey, self.centre + z_mm * normal], 1)
        return h / h[2, 2]


def make_camera(rng, width, height, focal35, mm_per_px, core_px, tilt_deg):
    """Camera that sees the face's centre at `core_px`, tilted about a random axis of the image plane."""
    focal_px = focal35 / FULL_FRAME_DIAGONAL_MM * np.hypot(width, height)
    depth = focal_px * mm_per_px
    offset = (np.asarray(core_px) - [(width - 1) / 2, (height - 1) / 2]) / focal_px
    psi = rng.uniform(0, 2 * np.pi)
    rotation, _ = cv2.Rodrigues(np.radians(tilt_deg) * np.array([np.cos(psi), np.sin(psi), 0.0]))
    return Camera(width, height, focal_px, mm_per_px, tilt_deg, rotation, depth * np.array([*offset, 1.0]))


def project(h, points):
    """Points (n, 2) through a homography."""
    p = np.asarray(points, float)
    q = np.column_stack([p, np.ones(len(p))]) @ h.T
    return q[:, :2] / q[:, 2:]


@dataclass
class Pose:
    """Place of a flat thing in a plane: centre in mm, counterclockwise angle in degrees, height z in mm."""
    x: float
    y: float
    angle_deg: float
    z: float = 0.0

    def to_plane(self, points):
        """Local mm (x right, y up along the thing) to plane mm."""
        a = np.radians(self.angle_deg)
        turn = np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]])
        return np.asarray(points, float) @ turn.T + [self.x, self.y]


def rect(w_mm, h_mm):
    """Corners of a centred rectangle, counterclockwise from lower left."""
    return np.array([[-w_mm, -h_mm], [w_mm, -h_mm], [w_mm, h_mm], [-w_mm, h_mm]]) / 2


def rect_clear_of_core(corners, radius_mm):
    """Is a convex quadrilateral clear of the circle about the origin?"""
    contour = corners.astype(np.float32).reshape(-1, 1, 2)
    return -cv2.pointPolygonTest(contour, (0.0, 0.0), True) > radius_mm


def overlap(a, b):
    """Do two convex quadrilaterals overlap?"""
    area, _ = cv2.intersectConvexConvex(a.astype(np.float32), b.astype(np.float32))
    return area > 0


def in_frame(camera, points_mm, z_mm, margin_px):
    """Do the points of a plane all project inside the frame less a margin?"""
    q = project(camera.homography(z_mm), points_mm)
    low, high = margin_px, [camera.width - 1 - margin_px, camera.height - 1 - margin_px]
    return bool((q >= low).all() and (q <= high).all())


def circle(radius_mm, count=72):
    """Points on a circle about the origin."""
    a = np.linspace(0, 2 * np.pi, count, endpoint=False)
    return radius_mm * np.column_stack([np.cos(a), np.sin(a)])


def place_one(rng, camera, size_mm, z_mm, angle_deg, taken, radius_mm, margin_px, tries=60):
    """Random pose of a w x h thing in the frame, clear of the core and of what is taken; None if none found."""
    inverse = np.linalg.inv(camera.homography(z_mm))
    for _ in range(tries):
        at = project(inverse, [[rng.uniform(0, camera.width), rng.uniform(0, camera.height)]])[0]
        turn = angle_deg + rng.choice([0, 90, 180, 270], p=[0.55, 0.2, 0.05, 0.2])
        pose = Pose(at[0], at[1], float(turn), z_mm)
        corners = pose.to_plane(rect(*size_mm))
        grown = pose.to_plane(rect(size_mm[0] + 3, size_mm[1] + 3))
        if (in_frame(camera, corners, z_mm, margin_px) and rect_clear_of_core(grown, radius_mm + 1.0)
                and not any(overlap(grown, other) for other in taken)):
            return pose
    return None


def arrange(rng, width, height, radius_mm, things, free_angle):
    """Camera and poses: `things` is a list of (w mm, h mm, z mm). The core shrinks until everything fits."""
    part = rng.uniform(1 / 3, 0.9)
    margin = 0.012 * height
    for attempt in range(4000):
        if attempt % 12 == 11:
            part = max(1 / 3, part * 0.96)
        mm_per_px = 2 * radius_mm / (part * height)
        r_px = part * height / 2 * 1.03 + margin
        if width < 2 * r_px or height < 2 * r_px:
            continue
        core_px = (rng.uniform(r_px, width - r_px), rng.uniform(r_px, height - r_px))
        tilt = float(rng.uniform(0, 10) if rng.random() < 0.7 else rng.uniform(0, 2))
        camera = make_camera(rng, width, height, int(rng.choice([24, 26, 28, 35, 50, 52, 65, 77, 85, 90])), mm_per_px,
                             core_px, tilt)
        if not in_frame(camera, circle(radius_mm), 0, margin):
            continue
        poses, taken, base = [], [], rng.uniform(-180, 180) if free_angle else rng.uniform(-6, 6)
        for w, h, z in things:
            turn = rng.uniform(-180, 180) if rng.random() < 0.15 else base + rng.uniform(-3, 3)
            pose = place_one(rng, camera, (w, h), z, turn, taken, radius_mm, margin)
            if pose is None:
                break
            poses.append(pose)
            taken.append(pose.to_plane(rect(w, h)))
        if len(poses) == len(things):
            return camera, poses
    raise RuntimeError("no arrangement found")

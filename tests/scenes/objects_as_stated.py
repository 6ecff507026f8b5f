"""Do rendered cores, cards and bars have the shapes that their truth states, imperfect or not?

    objects_as_stated.py SCENE_RENDERER FOLDER        exit 77 where numpy or OpenCV is missing
"""
import json
import subprocess
import sys
from pathlib import Path

try:
    import cv2
    import numpy as np
except ImportError:
    sys.exit(77)

ROOT = Path(__file__).resolve().parents[2]
sys.path.insert(0, str(ROOT / "tools"))
from worlds import check  # noqa: E402  the other renderer's check: it reads photo, mask and truth only

SEEDS = "1-3"
ALIKE = ("mm_per_px", "tilt_deg", "homography_mm_to_px", "focal_px", "core_diameter_mm", "bar_length_mm", "options",
         "area_fraction_pct")


def rendered(renderer, folder, perfect):
    """Truths of the photos by name."""
    settings = ["--set", "perfect_objects=1"] if perfect else []
    subprocess.run([renderer, "--out", folder, "--seeds", SEEDS, "--family", "plain", "--width", "1200", "--height", "900",
                    *settings], check=True, stdout=subprocess.DEVNULL)
    return {path.name: json.loads(path.read_text(encoding="utf-8")) for path in sorted(Path(folder).glob("*.truth.json"))}


def problems_of(folder, truth):
    """What mask and photo show otherwise than the truth states."""
    mask = cv2.imread(str(Path(folder) / truth["mask"]), cv2.IMREAD_UNCHANGED)
    photo = check.linear_photo(Path(folder) / truth["photo"])
    found = check.check_rim(truth, mask)[0] + check.check_bar(photo, truth)[0]
    area = (mask != 65535).sum() / truth["mask_px_per_mm"] ** 2
    if abs(area / truth["face_area_mm2"] - 1) > 2e-4:
        found.append(f"face {area:.2f} mm2, stated {truth['face_area_mm2']:.2f}")
    return found


def card_angles(truth):
    """Corners' angles in the plane of the face, degrees off square."""
    to_mm = np.linalg.inv(np.array(truth["homography_mm_to_px"]))
    corners = check.pinhole.project(to_mm, np.array(truth["card_corners_px"]).reshape(4, 2))
    way = np.roll(corners, -1, 0) - corners
    angle = np.degrees(np.arctan2(way[:, 1], way[:, 0]))
    return (np.roll(angle, -1) - angle) % 180 - 90


def compare(name, perfect, real):
    """What is as it should not be in the perfect scene, in the real one, or between them."""
    found = [f"{name}: {key} moved" for key in ALIKE if perfect[key] != real[key]]
    if perfect["rim_mm"] or np.abs(card_angles(perfect)).max() > 1e-4:
        found.append(f"{name}: the perfect scene is none")
    stray = 2 * np.hypot(*real["rim_mm"][0][1:])
    skew = np.abs(card_angles(real)).max()
    if not 0.005 < stray < 1.0 or not 0.005 < skew < 2.0 or np.abs(np.diff(real["bar_edges_mm"]) / 10 - 1).max() < 1e-4:
        found.append(f"{name}: rim off by {stray:.4f} mm, card by {skew:.4f} degrees: not as real ones")
    # Spots away from the rim are the same: the deviations are of chance of their own.
    inner = [[s for s in t["spots"] if np.hypot(s["x_mm"], s["y_mm"]) < 35] for t in (perfect, real)]
    return found + ([] if inner[0] == inner[1] else [f"{name}: spots moved"])


def main():
    renderer, folder = sys.argv[1:]
    perfect, real = (rendered(renderer, f"{folder}/{kind}", kind == "perfect") for kind in ("perfect", "real"))
    found = [line for name in real for line in compare(name, perfect[name], real[name])]
    for kind, truths in (("perfect", perfect), ("real", real)):
        for name, truth in truths.items():
            found += [f"{kind} {name}: {line}" for line in problems_of(f"{folder}/{kind}", truth)]
    print("\n".join(found) if found else f"{len(real)} scenes, as stated")
    return 1 if found or not real else 0


if __name__ == "__main__":
    sys.exit(main())

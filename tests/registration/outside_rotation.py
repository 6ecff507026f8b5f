"""Does the rotation that `compare` states agree with numpy's and scikit-image's on the same pair?

Renders one core twice and compares the photos. The turn is then found twice more, from what the program measured on each
photo alone: by Kabsch's algorithm (numpy's singular value decomposition) on the spots' centroids, and by scikit-image's phase
correlation of the two label maps unwrapped about their centres. Exit 77: a package is missing.
"""

import csv
import json
import subprocess
import sys
from pathlib import Path

try:
    import numpy as np
    from PIL import Image
    from skimage.registration import phase_cross_correlation
    from skimage.transform import EuclideanTransform, warp_polar
except ImportError as missing:
    print(f"skipped: {missing}")
    sys.exit(77)

KABSCH_LIMIT_DEG = 0.05
POLAR_LIMIT_DEG = 0.5  # a step of the unwrapped map is a quarter of a degree
STEPS = 1440


def rendered(scenes, folder, name, choices):
    out = folder / name
    words = [word for choice in choices for word in ("--set", choice)]
    subprocess.run([scenes, "--out", out, "--seeds", "11", "--family", "plain", "--width", "2000", "--height", "1500", "--set",
                    "spots=45", "--set", "bar_blocks=5", "--set", "block_mm=10", "--set", "card_reflectance=0.18", *words], check=True)
    return next(out.glob("*.jpg")), json.loads(next(out.glob("*.truth.json")).read_text(encoding="utf-8"))


def rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def kabsch_deg(first, second):
    u, _, vt = np.linalg.svd((second - second.mean(0)).T @ (first - first.mean(0)))
    rotation = u @ np.diag([1, np.linalg.det(u @ vt)]) @ vt
    return np.degrees(np.arctan2(rotation[1, 0], rotation[0, 0]))


def unwrapped(folder):
    """Where spots are: a row an angle, counterclockwise with y up, a column a radius of the face."""
    with Image.open(folder / "spots.tif") as image:
        spots = (np.array(image) > 0).astype(float)
    middle = (spots.shape[0] - 1) / 2
    return warp_polar(spots[::-1], center=(middle, middle), radius=middle, output_shape=(STEPS, 300))


def difference(a, b):
    return abs((a - b + 180) % 360 - 180)


def main(program, scenes, folder):
    folder = Path(folder)
    first, truth = rendered(scenes, folder, "first", ["turn=12"])
    second, other = rendered(scenes, folder, "second", ["turn=-95.5", "pose_seed=5", "light_seed=5", "noise_seed=5"])
    out = folder / "out"
    subprocess.run([program, "compare", first, second, "--out", out, "--quiet"], check=True)
    stated = float(rows(out / "comparison.csv")[0]["rotation_deg"])
    folders = [out / first.stem, out / f"{first.stem}-2"]

    places = [{row["spot_id"]: (float(row["x_mm"]), float(row["y_mm"])) for row in rows(one / "spots.csv")} for one in folders]
    pairs = [(places[0][row["before_ids"]], places[1][row["after_ids"]]) for row in rows(out / "changes.csv")
             if row["before_ids"] in places[0] and row["after_ids"] in places[1]]
    before, after = (np.array(side) for side in zip(*pairs))
    by_numpy = kabsch_deg(before, after)
    euclidean = EuclideanTransform()
    euclidean.estimate(before, after)
    by_skimage = np.degrees(euclidean.rotation)
    shift = phase_cross_correlation(unwrapped(folders[1]), unwrapped(folders[0]))[0]
    by_polar = shift[0] * 360.0 / STEPS

    true = other["face_turn_deg"] - truth["face_turn_deg"]
    print(f"stated {stated:.3f}; {len(pairs)} centroids: numpy {by_numpy:.3f}, scikit-image {by_skimage:.3f}; "
          f"unwrapped label maps {by_polar:.2f}; rendered {(true + 180) % 360 - 180:.3f} degrees")
    good = (len(pairs) > 20 and difference(stated, by_numpy) < KABSCH_LIMIT_DEG and difference(stated, by_skimage) < KABSCH_LIMIT_DEG
            and difference(stated, by_polar) < POLAR_LIMIT_DEG and difference(stated, true) < 0.1)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main(*sys.argv[1:]))

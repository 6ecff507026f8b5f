"""The truth beside a rendered photo (tools/scenes/TRUTH.md): figures, mask, and which spots must be found."""

import json
import shlex
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

PIT, GLINT, MISSING, OUTSIDE = 65001, 65002, 65003, 65535
LARGEST_SPOT_ID = 60000

RIM_BAND_MM = 1.0       # width along the rim that is no part of the judged region
REQUIRED_ECD_MM = 0.55  # smaller truth spots may fall either side of the 0.5 mm limit of the report
NEUTRAL_ECD_MM = 0.45   # a reported spot over a truth spot of 0.45 to 0.55 mm is neither right nor wrong
REQUIRED_ECD_PX = 6.0   # spots narrower than this in the photo need not be found
TOUCH_MM = 0.15         # a spot this close to a glint or a missing piece of rim counts as touching it


@dataclass
class TruthSpot:
    """One painted spot: mm, mm2; `role` is required, neutral or too_small."""

    id: int
    x_mm: float
    y_mm: float
    area_mm2: float
    ecd_mm: float
    role: str = "neutral"
    why: str = ""


@dataclass
class Truth:
    """`json`: the truth file as it is; `spots` by id; `mask` as in TRUTH.md."""

    path: Path
    json: dict
    mask: np.ndarray
    spots: dict = field(default_factory=dict)
    area_fraction_pct: float = 0.0       # all spots, glints taken out of spots and face
    area_fraction_05_pct: float = 0.0    # only spots of 0.5 mm and more
    spot_L: float | None = None          # of those, by their area inside the rim band; None without any

    def __getitem__(self, key):
        return self.json[key]

    @property
    def photo(self):
        return self.path.parent / self.json["photo"]

    @property
    def options(self):
        """Command-line words that a user would have to add."""
        return [word for option in self.json["options"] for word in shlex.split(option)]

    @property
    def inner_radius_mm(self):
        return self.json["core_diameter_mm"] / 2 - RIM_BAND_MM

    @property
    def glint_pct(self):
        """Share of the nominal face under glints, %."""
        face = np.pi * (self.json["core_diameter_mm"] / 2) ** 2
        return 100.0 * sum(glint["area_mm2"] for glint in self.json["glints"]) / face

    @property
    def lightness_can_be_told(self):
        """False where the renderer's own notes say that card and face are not developed or lit alike."""
        return self.json["family"] != "phone" and not self.json.get("shadow_on_card", False)

    def mask_at(self, x_mm, y_mm):
        """Mask values at face coordinates in mm; OUTSIDE beyond the mask."""
        scale, (ox, oy) = self.json["mask_px_per_mm"], self.json["mask_origin"]
        column = np.rint(x_mm * scale + ox).astype(np.int64)
        row = np.rint(oy - y_mm * scale).astype(np.int64)
        height, width = self.mask.shape
        inside = (column >= 0) & (row >= 0) & (column < width) & (row < height)
        values = np.full(column.shape, OUTSIDE, np.int64)
        values[inside] = self.mask[row[inside], column[inside]]
        return values


def truth_files(folders):
    """Every truth file in the folders, sorted by name."""
    return sorted(path for folder in folders for path in Path(folder).glob("*.truth.json"))


def read_truth(path):
    path = Path(path)
    facts = json.loads(path.read_text(encoding="utf-8"))
    # Read by Python, so that a fault of the disk says what it is; OpenCV would only give nothing.
    encoded = np.frombuffer((path.parent / facts["mask"]).read_bytes(), np.uint8)
    mask = cv2.imdecode(encoded, cv2.IMREAD_UNCHANGED)
    if mask is None:
        raise ValueError(f"{path}: its mask cannot be read")
    truth = Truth(path, facts, mask)
    for spot in facts["spots"]:
        truth.spots[spot["id"]] = TruthSpot(
            spot["id"], spot["x_mm"], spot["y_mm"], spot["area_mm2"], spot["ecd_mm"])
    _weigh_area(truth)
    _give_roles(truth)
    return truth


def _inner_disc(truth):
    """Boolean mask of the face less its rim band."""
    scale, (ox, oy) = truth["mask_px_per_mm"], truth["mask_origin"]
    height, width = truth.mask.shape
    x = (np.arange(width) - ox) / scale
    y = (np.arange(height) - oy) / scale
    return x[None, :] ** 2 + y[:, None] ** 2 <= truth.inner_radius_mm ** 2


def _weigh_area(truth):
    inside = truth.mask[_inner_disc(truth)]
    face = np.count_nonzero((inside != GLINT) & (inside != MISSING) & (inside != OUTSIDE))
    counts = np.bincount(inside[inside <= LARGEST_SPOT_ID], minlength=1)
    counts[0] = 0
    large = [s.id for s in truth.spots.values() if s.ecd_mm >= 0.5 and s.id < len(counts)]
    truth.area_fraction_pct = 100.0 * counts.sum() / max(face, 1)
    truth.area_fraction_05_pct = 100.0 * counts[large].sum() / max(face, 1)
    # The file's own spot_L is over all spots, those in the rim band too, which no program may measure.
    mean_Y = {spot["id"]: spot["mean_Y"] for spot in truth["spots"]}
    if counts[large].sum() > 0:
        truth.spot_L = float(np.average([_lightness(mean_Y[i]) for i in large], weights=counts[large]))


def _lightness(Y):
    """CIE 1976 L* (ISO/CIE 11664-4) of a relative luminance."""
    return 116.0 * Y ** (1 / 3) - 16.0 if Y > 216 / 24389 else Y * 24389 / 27


def _ids_near(truth, value):
    """Spot ids within TOUCH_MM of mask pixels of the given value."""
    if not np.any(truth.mask == value):
        return set()
    reach = max(1, round(TOUCH_MM * truth["mask_px_per_mm"]))
    kernel = cv2.getStructuringElement(cv2.MORPH_ELLIPSE, (2 * reach + 1, 2 * reach + 1))
    near = cv2.dilate((truth.mask == value).astype(np.uint8), kernel) > 0
    return set(np.unique(truth.mask[near]).tolist())


def _farthest_mm(truth):
    """Largest distance from the face's centre of each spot's mask pixels, by id, mm."""
    rows, columns = np.nonzero((truth.mask > 0) & (truth.mask <= LARGEST_SPOT_ID))
    scale, (ox, oy) = truth["mask_px_per_mm"], truth["mask_origin"]
    distance = np.hypot(columns - ox, rows - oy) / scale
    farthest = np.zeros(LARGEST_SPOT_ID + 1)
    np.maximum.at(farthest, truth.mask[rows, columns], distance)
    return farthest


def _give_roles(truth):
    farthest = _farthest_mm(truth)
    by_glint, by_gap = _ids_near(truth, GLINT), _ids_near(truth, MISSING)
    for spot in truth.spots.values():
        wide_px = spot.ecd_mm / truth["mm_per_px"]
        radius = max(farthest[spot.id], np.hypot(spot.x_mm, spot.y_mm))
        if wide_px < REQUIRED_ECD_PX:
            spot.why = "narrower than 6 px"
        elif radius >= truth.inner_radius_mm:
            spot.why = "touches the rim band"
        elif farthest[spot.id] == 0 or spot.id in by_glint:
            spot.why = "touches a glint"
        elif spot.id in by_gap:
            spot.why = "touches missing rim"
        elif spot.ecd_mm < NEUTRAL_ECD_MM:
            spot.role = "too_small"
        elif spot.ecd_mm < REQUIRED_ECD_MM:
            spot.why = "near the 0.5 mm limit"
        else:
            spot.role = "required"

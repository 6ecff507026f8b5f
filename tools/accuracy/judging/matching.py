"""Which reported spot is which painted spot.

The tool's face frame may lie a little off the truth's. Where the record holds the tool's homography, both frames are tied
through the photo's pixels, which needs no spot; else only the scale is known. Matched pairs then refine shift, turn and scale.
"""

from dataclasses import dataclass, field

import numpy as np

from .results import found_key, number
from .truth import LARGEST_SPOT_ID, GLINT

LEAST_OVERLAP = 0.2       # of the smaller of both areas, for a match or a neutral touch
PAIRS_FOR_REFINING = 4
LARGEST_REFINING_MM = 2.0
GLINT_WHY = "a glint"


@dataclass
class Matches:
    """`pairs`: (reported row, TruthSpot); `missed`: TruthSpot; `false`: (reported row, why)."""

    pairs: list = field(default_factory=list)
    missed: list = field(default_factory=list)
    false: list = field(default_factory=list)
    neutral: int = 0
    frame: np.ndarray = field(default_factory=lambda: np.eye(3))  # reported mm to truth mm


def apply(frame, x, y):
    """Face coordinates through a 3 x 3 projective map."""
    w = frame[2, 0] * x + frame[2, 1] * y + frame[2, 2]
    return (frame[0, 0] * x + frame[0, 1] * y + frame[0, 2]) / w, (frame[1, 0] * x + frame[1, 1] * y + frame[1, 2]) / w


def first_frame(truth, measured):
    """Reported face coordinates (mm) to truth's, before any spot is compared."""
    own = found_key(measured.record, "homography_mm_to_px")
    if own is not None:
        return np.linalg.inv(np.array(truth["homography_mm_to_px"], float).reshape(3, 3)) \
            @ np.array(own, float).reshape(3, 3)
    scale = truth["mm_per_px"] / (measured.number("mm_per_px") or truth["mm_per_px"])
    return np.diag([scale, scale, 1.0])


def similarity(source, target):
    """Least-squares shift, turn and scale that takes source points onto target points, 3 x 3."""
    x, y = source.T
    zero, one = np.zeros_like(x), np.ones_like(x)
    design = np.vstack([np.column_stack([x, -y, one, zero]), np.column_stack([y, x, zero, one])])
    a, b, c, d = np.linalg.lstsq(design, target.T.ravel(), rcond=None)[0]
    return np.array([[a, -b, c], [b, a, d], [0, 0, 1]])


def refined(frame, pairs):
    """The frame moved so that matched centroids coincide, if that is a small move; robust against a wrong pair."""
    if len(pairs) < PAIRS_FOR_REFINING:
        return frame
    own = np.array([[float(row["x_mm"]), float(row["y_mm"])] for row, _ in pairs])
    source = np.column_stack(apply(frame, own[:, 0], own[:, 1]))
    target = np.array([[spot.x_mm, spot.y_mm] for _, spot in pairs])
    keep = np.ones(len(pairs), bool)
    for _ in range(3):
        if keep.sum() < PAIRS_FOR_REFINING:
            return frame
        move = similarity(source[keep], target[keep])
        left = np.hypot(*(np.column_stack(apply(move, *source.T)) - target).T)
        keep = left <= max(3 * np.median(left), 0.02)
    shift = np.hypot(*(np.column_stack(apply(move, *source.T)) - source).T).max()
    return move @ frame if shift < LARGEST_REFINING_MM else frame


def overlaps_by_labels(truth, measured, frame):
    """{(reported id, mask value): area in mm2 of truth} from the label map laid on the truth's mask."""
    rows, columns = np.nonzero(measured.labels)
    ids = measured.labels[rows, columns].astype(np.int64)
    x, y = apply(frame, (columns - measured.centre_px) * measured.pitch_mm,
                 (measured.centre_px - rows) * measured.pitch_mm)
    values = truth.mask_at(x, y)
    keys, counts = np.unique(ids * 65536 + values, return_counts=True)
    pixel = measured.pitch_mm ** 2 * abs(np.linalg.det(frame[:2, :2] / frame[2, 2]))
    return {(int(key // 65536), int(key % 65536)): count * pixel for key, count in zip(keys, counts)}


def overlaps_by_centroids(truth, measured, frame):
    """The same without a label map: the nearest truth spot within half its ECD, with the smaller area as overlap."""
    table = {}
    for row in measured.spots:
        x, y = apply(frame, float(row["x_mm"]), float(row["y_mm"]))
        near = [(np.hypot(spot.x_mm - x, spot.y_mm - y), spot) for spot in truth.spots.values()]
        near = [(distance, spot.id, spot) for distance, spot in near if distance < 0.5 * spot.ecd_mm]
        if near:
            distance, _, spot = min(near)
            nearness = 1.0 - 0.5 * distance / spot.ecd_mm
            table[int(row["spot_id"]), spot.id] = nearness * min(spot.area_mm2, float(row["area_mm2"]))
    return table


def _best(table, axis):
    """Partner with the largest overlap along one axis of the overlap table; smaller id first when equal."""
    best = {}
    for key, area in sorted(table.items()):
        if area > best.get(key[axis], (None, 0.0))[1]:
            best[key[axis]] = (key[1 - axis], area)
    return best


def _spot_overlaps(truth, table, areas):
    """Only overlaps with painted spots that are more than a touch."""
    return {(own, value): area for (own, value), area in table.items()
            if 0 < value <= LARGEST_SPOT_ID and value in truth.spots
            and area >= LEAST_OVERLAP * min(areas.get(own, 0.0), truth.spots[value].area_mm2)}


def pair_up(truth, measured, frame):
    """Matches by mutual best overlap under one frame."""
    rows = {int(row["spot_id"]): row for row in measured.spots}
    areas = {own: number(row["area_mm2"]) or 0.0 for own, row in rows.items()}
    lay = overlaps_by_centroids if measured.labels is None else overlaps_by_labels
    table = {key: area for key, area in lay(truth, measured, frame).items() if key[0] in rows}
    spots = _spot_overlaps(truth, table, areas)
    of_own, of_truth = _best(spots, 0), _best(spots, 1)
    result = Matches(frame=frame)
    matched = set()
    for own, row in rows.items():
        spot = truth.spots[of_own[own][0]] if own in of_own else None
        if spot is None:
            on_glint = table.get((own, GLINT), 0.0) >= 0.3 * areas[own]
            result.false.append((row, GLINT_WHY if on_glint else "nothing there"))
        elif spot.role == "neutral":
            result.neutral += 1
        elif spot.role == "too_small":
            result.false.append((row, f"truth is only {spot.ecd_mm:.2f} mm"))
        elif of_truth[spot.id][0] != own:
            result.false.append((row, f"a second piece of spot {spot.id}"))
        else:
            result.pairs.append((row, spot))
            matched.add(spot.id)
    result.missed = [s for s in truth.spots.values() if s.role == "required" and s.id not in matched]
    return result


def match(truth, measured):
    """Pairs, then pairs again under the refined frame."""
    matches = pair_up(truth, measured, first_frame(truth, measured))
    frame = refined(matches.frame, matches.pairs)
    return matches if frame is matches.frame else pair_up(truth, measured, frame)

"""One photo's figures against its truth: a flat row of errors (for the CSV) and the matched spots."""

from dataclasses import dataclass, field

import numpy as np

from .matching import GLINT_WHY, apply, match
from .results import number

ROW_COLUMNS = [
    "photo", "family", "seed", "mm_per_px_truth", "tilt_deg_truth", "light_change_pct", "wet", "lightness_judged",
    "status", "reason", "cautions", "seconds",
    "scale_error_pct", "scale_u95_pct", "core_diameter_error_pct", "tilt_error_deg", "frame_shift_mm", "frame_turn_deg",
    "required", "matched", "missed", "false", "neutral", "precision_pct", "recall_pct",
    "ecd_abs_error_pct", "ecd_error_pct", "position_error_mm",
    "area_fraction_truth_pct", "area_fraction_error_rel_pct", "area_fraction_u95_rel_pct", "area_fraction_in_u95",
    "area_fraction_05_truth_pct", "area_fraction_05_error_rel_pct", "area_fraction_05_in_u95",
    "contrast_dL_truth", "contrast_dL_error", "contrast_dL_u95", "contrast_dL_in_u95",
    "matrix_L_error", "spot_L_error", "scale_in_u95", "spot_area_in_u95", "spots_on_spotless",
    "glint_truth_pct", "glints_as_spots",
]


@dataclass
class SpotError:
    """A matched spot; `px`: its true ECD in photo pixels; u95 as a share of the true area, %."""

    ecd_mm: float
    px: float
    ecd_error_pct: float
    area_error_pct: float
    area_u95_pct: float | None


@dataclass
class OffBy:
    """A figure beyond its own interval: value and truth in the figure's unit, `ratio` = error / u95."""

    photo: str
    family: str
    figure: str
    value: float
    truth: float
    u95: float

    @property
    def ratio(self):
        return abs(self.value - self.truth) / self.u95 if self.u95 > 0 else float("inf")


@dataclass
class Judged:
    row: dict
    spots: list = field(default_factory=list)
    figures: list = field(default_factory=list)  # OffBy, for every figure with a u95
    misses: list = field(default_factory=list)   # plain objects for judged.json


def judge_photo(truth, measured):
    row = dict.fromkeys(ROW_COLUMNS)
    row.update(photo=truth["photo"], family=truth["family"], seed=truth["seed"], mm_per_px_truth=truth["mm_per_px"],
               tilt_deg_truth=truth["tilt_deg"], light_change_pct=truth["light_change_pct"], wet=int(truth["wet"]),
               glint_truth_pct=truth.glint_pct, lightness_judged=int(truth.lightness_can_be_told), status=measured.status, reason=measured.reason,
               cautions=measured.summary.get("cautions"), seconds=measured.seconds)
    judged = Judged(row)
    if measured.status == "failed":
        return judged
    _judge_geometry(truth, measured, judged)
    _judge_spots(truth, measured, judged)
    _judge_area(truth, measured, judged)
    _judge_lightness(truth, measured, judged)
    return judged


def _figure(judged, figure, value, truth, u95):
    """Files a figure with its interval; gives 1 if the interval holds the truth, 0 if not, None without interval."""
    if value is None or truth is None or u95 is None:
        return None
    judged.figures.append(OffBy(judged.row["photo"], judged.row["family"], figure, value, truth, u95))
    return int(abs(value - truth) <= u95)


def _judge_geometry(truth, measured, judged):
    row, scale, true_scale = judged.row, measured.number("mm_per_px"), truth["mm_per_px"]
    if scale is not None:
        u95_pct = measured.number("scale_u95_pct")
        row["scale_error_pct"] = 100.0 * (scale / true_scale - 1.0)
        row["scale_u95_pct"] = u95_pct
        row["scale_in_u95"] = _figure(judged, "scale mm/px", scale, true_scale,
                                      None if u95_pct is None else u95_pct / 100.0 * scale)
    diameter, tilt = measured.number("core_diameter_mm"), measured.number("tilt_deg")
    if diameter is not None:
        row["core_diameter_error_pct"] = 100.0 * (diameter / truth["core_diameter_mm"] - 1.0)
    if tilt is not None:
        row["tilt_error_deg"] = tilt - truth["tilt_deg"]


def _judge_spots(truth, measured, judged):
    row = judged.row
    if not truth.spots:
        row["spots_on_spotless"] = len(measured.spots)
    matches = match(truth, measured)
    if row["glint_truth_pct"] > 0:
        row["glints_as_spots"] = sum(why == GLINT_WHY for _, why in matches.false)
    right, wrong, missed = len(matches.pairs), len(matches.false), len(matches.missed)
    row.update(required=right + missed, matched=right, missed=missed, false=wrong, neutral=matches.neutral)
    row["precision_pct"] = 100.0 * right / (right + wrong) if right + wrong else None
    row["recall_pct"] = 100.0 * right / (right + missed) if right + missed else None
    shift = apply(matches.frame, 0.0, 0.0)
    row["frame_shift_mm"] = float(np.hypot(*shift))
    up = apply(matches.frame, 0.0, 1.0)
    row["frame_turn_deg"] = float(np.degrees(np.arctan2(shift[0] - up[0], up[1] - shift[1])))
    _judge_sizes(truth, matches, judged)
    judged.misses = [{"missed": s.id, "x_mm": s.x_mm, "y_mm": s.y_mm, "ecd_mm": s.ecd_mm} for s in matches.missed]
    judged.misses += [{"false": int(r["spot_id"]), "x_mm": float(r["x_mm"]), "y_mm": float(r["y_mm"]),
                       "ecd_mm": number(r["ecd_mm"]), "why": why} for r, why in matches.false]


def _judge_sizes(truth, matches, judged):
    row, inside, away = judged.row, [], []
    for reported, spot in matches.pairs:
        area, u95 = float(reported["area_mm2"]), number(reported.get("area_u95_mm2"))
        x, y = apply(matches.frame, float(reported["x_mm"]), float(reported["y_mm"]))
        away.append(np.hypot(x - spot.x_mm, y - spot.y_mm))
        judged.spots.append(SpotError(
            spot.ecd_mm, spot.ecd_mm / truth["mm_per_px"], 100.0 * (float(reported["ecd_mm"]) / spot.ecd_mm - 1.0),
            100.0 * (area / spot.area_mm2 - 1.0), None if u95 is None else 100.0 * u95 / spot.area_mm2))
        holds = _figure(judged, f"area of spot {reported['spot_id']}", area, spot.area_mm2, u95)
        if holds is not None:
            inside.append(holds)
    if judged.spots:
        errors = np.array([spot.ecd_error_pct for spot in judged.spots])
        row["ecd_abs_error_pct"] = float(np.median(np.abs(errors)))
        row["ecd_error_pct"] = float(np.median(errors))
        row["position_error_mm"] = float(np.median(away))
    if inside:
        row["spot_area_in_u95"] = float(np.mean(inside))


def _judge_area(truth, measured, judged):
    row, value = judged.row, measured.number("area_fraction_pct")
    u95 = measured.number("area_fraction_u95_pct")
    for name, true_value in (("area_fraction", truth.area_fraction_pct), ("area_fraction_05", truth.area_fraction_05_pct)):
        row[f"{name}_truth_pct"] = true_value
        if value is None or not truth.spots:
            continue
        row[f"{name}_error_rel_pct"] = 100.0 * (value / true_value - 1.0) if true_value > 0 else None
        if u95 is not None:
            row[f"{name}_in_u95"] = int(abs(value - true_value) <= u95)
    if value is not None and truth.spots:
        _figure(judged, "area fraction %", value, truth.area_fraction_05_pct, u95)
        if u95 is not None and value > 0:
            row["area_fraction_u95_rel_pct"] = 100.0 * u95 / value


def _judge_lightness(truth, measured, judged):
    row, matrix_L, spot_L = judged.row, truth["matrix_L"], truth.spot_L
    known = {"matrix_L": matrix_L, "spot_L": spot_L, "contrast_dL": None if spot_L is None else spot_L - matrix_L}
    for figure, true_value in known.items():
        value = measured.number(figure)
        if value is not None and true_value is not None:
            row[f"{figure}_error"] = value - true_value
    row["contrast_dL_truth"] = known["contrast_dL"]
    row["contrast_dL_u95"] = measured.number("contrast_dL_u95")
    if row["contrast_dL_error"] is None:
        return
    value, true_value = measured.number("contrast_dL"), known["contrast_dL"]
    if truth.lightness_can_be_told:
        row["contrast_dL_in_u95"] = _figure(judged, "contrast dL*", value, true_value, row["contrast_dL_u95"])

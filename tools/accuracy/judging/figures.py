"""The figures that the table shows: where each comes from, over which photos, and its target."""

import json
from dataclasses import dataclass
from pathlib import Path
from typing import Callable

TARGETS_FILE = Path(__file__).resolve().parent.parent / "targets.json"


def _always(row):
    return True


def _even(row):
    return bool(row["lightness_judged"]) and row["light_change_pct"] <= 10


def _uneven(row):
    return bool(row["lightness_judged"]) and 10 < row["light_change_pct"] <= 35


def _glinting(row):
    return 0 < row["glint_truth_pct"] <= 5


def _told(row):
    return bool(row["lightness_judged"])


@dataclass(frozen=True)
class Figure:
    """`best`: 'zero' (errors; judged by absolute value) or 'high' (shares); `over`: rows that count."""

    key: str
    title: str
    column: str
    unit: str
    best: str = "zero"
    over: Callable = _always


FIGURES = [
    Figure("scale", "scale", "scale_error_pct", "%"),
    Figure("diameter", "core diameter", "core_diameter_error_pct", "%"),
    Figure("tilt", "tilt", "tilt_error_deg", "deg"),
    Figure("precision", "spots: precision", "precision_pct", "%", "high"),
    Figure("recall", "spots: recall", "recall_pct", "%", "high"),
    Figure("ecd_abs", "ECD, median |error|", "ecd_abs_error_pct", "%"),
    Figure("ecd", "ECD, median error", "ecd_error_pct", "%"),
    Figure("position", "spot position", "position_error_mm", "mm"),
    Figure("area", "area fraction", "area_fraction_error_rel_pct", "% of it"),
    Figure("area05", "area fraction, >= 0.5 mm", "area_fraction_05_error_rel_pct", "% of it"),
    Figure("area_glint", "area fraction under glints", "area_fraction_05_error_rel_pct", "% of it", over=_glinting),
    Figure("dL_even", "contrast dL*, even light", "contrast_dL_error", "L*", over=_even),
    Figure("dL_uneven", "contrast dL*, 10 to 35 %", "contrast_dL_error", "L*", over=_uneven),
    Figure("matrix_L", "matrix L*", "matrix_L_error", "L*", over=_told),
    Figure("spotless", "spots on spotless faces", "spots_on_spotless", ""),
    Figure("glint_spots", "glints taken for spots", "glints_as_spots", "", over=_glinting),
]


def values_of(figure, rows):
    """[(value, photo)] of the rows that the figure covers and that have it."""
    return [(float(row[figure.column]), row["photo"]) for row in rows
            if row[figure.column] is not None and figure.over(row)]


def badness(figure, value):
    """Larger is worse, whatever the figure."""
    return -value if figure.best == "high" else abs(value)


def read_targets(path=TARGETS_FILE):
    """{figure key: {"median" or "worst" or "pooled": limit}}; an empty table if there is no file."""
    path = Path(path)
    return json.loads(path.read_text(encoding="utf-8")) if path.exists() else {}


def met(figure, limit, value):
    """'', 'met' or 'MISSED' for a limit on a median or worst value."""
    if limit is None or value is None:
        return ""
    good = value >= limit if figure.best == "high" else abs(value) <= limit
    return "met" if good else "MISSED"

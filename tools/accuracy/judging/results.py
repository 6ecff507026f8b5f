"""Runs the program on one photo and reads what it wrote (the output contract's files)."""

import csv
import io
import json
import subprocess
import time
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from PIL import Image

Image.MAX_IMAGE_PIXELS = None
TIME_LIMIT_S = 600
TIFF_X_RESOLUTION = 282


@dataclass
class Measured:
    """`summary`: the photo's row as text; `labels` with `pitch_mm` and `centre_px` is the label map's grid."""

    status: str
    reason: str = ""
    summary: dict = field(default_factory=dict)
    spots: list = field(default_factory=list)
    labels: np.ndarray | None = None
    pitch_mm: float = 0.0
    centre_px: float = 0.0
    record: dict = field(default_factory=dict)
    seconds: float | None = None

    def number(self, column):
        """A figure of the summary, or None where the cell is empty or missing."""
        return number(self.summary.get(column))


def number(text):
    return float(text) if text not in (None, "") else None


def run_program(program, photo, options, out):
    """Measures one photo into `out`; gives (error text or '', wall seconds)."""
    command = [str(program), "measure", str(photo), *options, "--out", str(out)]
    start = time.monotonic()
    try:
        done = subprocess.run(command, capture_output=True, text=True, timeout=TIME_LIMIT_S, check=False)
    except subprocess.TimeoutExpired:
        return f"no answer within {TIME_LIMIT_S} s", float(TIME_LIMIT_S)
    seconds = time.monotonic() - start
    if done.returncode in (0, 1):
        return "", seconds
    last = (done.stderr.strip().splitlines() or ["no message"])[-1]
    return f"exit status {done.returncode}: {last}", seconds


def read_rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def found_key(tree, key):
    """First value of `key` anywhere in nested JSON objects, or None."""
    if isinstance(tree, dict):
        if key in tree:
            return tree[key]
        tree = list(tree.values())
    if isinstance(tree, list):
        for branch in tree:
            if isinstance(branch, (dict, list)):
                value = found_key(branch, key)
                if value is not None:
                    return value
    return None


def _read_labels(measured, path):
    # From memory: given a file, Pillow's Deflate TIFF reader closes its descriptor twice, and the second time it may be
    # another thread's.
    with Image.open(io.BytesIO(path.read_bytes())) as image:
        measured.labels = np.array(image)
        resolution = image.tag_v2.get(TIFF_X_RESOLUTION)
    grid = found_key(measured.record, "rectified_grid") or {}
    measured.pitch_mm = grid.get("mm_per_px") or 10.0 / float(resolution)
    centre = grid.get("centre_px")
    measured.centre_px = (measured.labels.shape[1] - 1) / 2 if centre is None else centre


def read_results(out, photo, row=0, folder=None):
    """What the folder `out` says about `photo`; a folder without a summary is a failure.

    `row`: of summary.csv; `folder`: of its files, where it is not the photo's own name."""
    out = Path(out)
    if not (out / "summary.csv").exists():
        return Measured("failed", "no summary.csv")
    rows = read_rows(out / "summary.csv")
    if not rows:
        return Measured("failed", "summary.csv has no row")
    measured = Measured(rows[row]["status"], rows[row].get("reason", ""), rows[row])
    if measured.status == "failed":
        return measured
    folder = out / (folder or Path(photo).stem)
    measured.spots = read_rows(folder / "spots.csv")
    if (folder / "record.json").exists():
        measured.record = json.loads((folder / "record.json").read_text(encoding="utf-8"))
    if (folder / "spots.tif").exists():
        _read_labels(measured, folder / "spots.tif")
    return measured

"""Two photos of one core, or of two: are they laid onto each other rightly, and are the changes the true ones?

Every face is rendered five times: as it is (`first`), again elsewhere (`again`), wet (`wet`), in its later state (`later`), and
later with a quarter of the rim broken off and a pencil mark (`broken`). Rendered photos are kept.
"""

import json
import subprocess
import time
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path

import cv2
import numpy as np

from .matching import _best, _spot_overlaps, apply, first_frame, overlaps_by_labels, refined
from .results import number, read_results, read_rows
from .truth import read_truth

FAMILIES = ("plain", "light", "tilt", "small", "bench")
CHANGES, TWINS = 0.4, 4
STATES = {"first": (1, {}), "again": (2, {}), "wet": (3, {"wet": 1}), "later": (4, {"later": 1}),
          "broken": (5, {"later": 1, "broken_rim_deg": 90, "pencil": 1})}
CLASSES = ("new", "grown", "steady", "shrunk", "gone", "merged", "split")


@dataclass
class Pair:
    """One run of the program over two photos; `row` is its table's only row."""

    kind: str
    seed: int
    accepted: bool
    message: str = ""
    row: dict = field(default_factory=dict)
    figures: dict = field(default_factory=dict)
    events: list = field(default_factory=list)    # (true class, reported class, reported by `measure` wherever it is)
    reports: list = field(default_factory=list)   # (reported class, true class or None)
    areas: list = field(default_factory=list)     # (error, true size, u95) of area changes


@dataclass
class PairSet:
    """Where to render and measure, and with what."""

    folder: Path
    scenes: str
    program: str
    width: int
    height: int
    reuse: bool = False

    def photo(self, seed, state):
        """Truth of one photo, rendered unless it is there."""
        folder = self.folder / "photos" / state
        family = FAMILIES[seed % len(FAMILIES)]
        truth = folder / f"{family}-{seed:04d}.truth.json"
        if not truth.exists():
            other, choices = STATES[state]
            own = {key: 100 * seed + other for key in ("pose_seed", "light_seed", "noise_seed", "bench_seed")}
            words = [word for key, value in {"changes": CHANGES, "twins": TWINS, **own, **choices}.items()
                     for word in ("--set", f"{key}={value}")]
            subprocess.run([self.scenes, "--out", folder, "--seeds", str(seed), "--family", family, "--width", str(self.width),
                            "--height", str(self.height), *words], check=True, stdout=subprocess.DEVNULL)
        return truth

    def flipped(self, seed):
        """The `again` photo mirrored as a whole."""
        source = Path(str(self.photo(seed, "again")).replace(".truth.json", ".jpg"))
        target = self.folder / "photos" / "flipped" / source.name
        if not target.exists():
            target.parent.mkdir(parents=True, exist_ok=True)
            cv2.imwrite(str(target), cv2.imread(str(source))[:, ::-1], [cv2.IMWRITE_JPEG_QUALITY, 95])
        return target

    def run(self, command, name, first, second, options):
        """(exit status, last line of stderr, folder, seconds)."""
        out = self.folder / "work" / name
        kept = out / "run.json"
        if self.reuse and kept.exists():
            status, message, seconds = json.loads(kept.read_text(encoding="utf-8"))
            return status, message, out, seconds
        for table in ("comparison.csv", "wetdry.csv"):
            (out / table).unlink(missing_ok=True)
        start = time.monotonic()
        done = subprocess.run([self.program, command, first, second, "--out", out, "--quiet", *options], capture_output=True,
                              text=True, check=False)
        seconds = time.monotonic() - start
        message = (done.stderr.strip().splitlines() or [""])[-1]
        out.mkdir(parents=True, exist_ok=True)
        kept.write_text(json.dumps([done.returncode, message, seconds]), encoding="utf-8")
        return done.returncode, message, out, seconds


def _turn(degrees):
    a = np.radians(degrees)
    return np.array([[np.cos(a), -np.sin(a), 0], [np.sin(a), np.cos(a), 0], [0, 0, 1.0]])


def _judge_registration(pair, out, truths, results):
    """Angle and place of the laid face against the true map between the two reported face frames."""
    record = json.loads((out / ("wetdry.json" if pair.kind == "wet" else "comparison.json")).read_text(encoding="utf-8"))
    transform = record["registration"]["first_to_second"]
    laid = np.vstack([np.column_stack([transform["linear"], transform["shift_mm"]]), [*transform["nearness_per_mm"], 1.0]])
    turn = _turn(truths[1]["face_turn_deg"] - truths[0]["face_turn_deg"])
    true = np.linalg.inv(first_frame(truths[1], results[1])) @ turn @ first_frame(truths[0], results[0])
    radius = truths[0]["core_diameter_mm"] / 2
    x, y = np.meshgrid(np.linspace(-radius, radius, 41), np.linspace(-radius, radius, 41))
    inside = x ** 2 + y ** 2 < radius ** 2
    points = np.column_stack([x[inside], y[inside]])
    there = np.column_stack(apply(true, *points.T))
    given = np.column_stack(apply(laid, *points.T))
    # Kabsch: the true turn between the two frames, by singular values.
    u, _, vt = np.linalg.svd((there - there.mean(0)).T @ (points - points.mean(0)))
    rotation = u @ np.diag([1, np.linalg.det(u @ vt)]) @ vt
    angle = np.degrees(np.arctan2(rotation[1, 0], rotation[0, 0]))
    pair.figures["angle"] = abs((float(pair.row["rotation_deg"]) - angle + 180) % 360 - 180)
    pair.figures["place"] = float(np.sqrt(((given - there) ** 2).sum(1).mean()))
    pair.figures["rms"] = float(pair.row["registration_rms_mm"])
    pair.figures["score"] = float(pair.row["registration_score"])


def _truth_ids(truth, measured):
    """{reported id: truth id} by largest overlap."""
    frame = first_frame(truth, measured)
    rows = {int(row["spot_id"]): number(row["area_mm2"]) or 0.0 for row in measured.spots}
    for _ in range(2):
        table = {key: area for key, area in overlaps_by_labels(truth, measured, frame).items() if key[0] in rows}
        best = {own: value for own, (value, _) in _best(_spot_overlaps(truth, table, rows), 0).items()}
        pairs = [(row, truth.spots[best[int(row["spot_id"])]]) for row in measured.spots if int(row["spot_id"]) in best]
        frame = refined(frame, pairs)
    return best


def _fates(truths, changed):
    """{first truth id: (class, before ids, after ids)}, only where every spot of it must be found and compared."""
    fates = {}
    for fate in truths[0]["fates"]:
        own, kind = fate["id"], fate["fate"] if changed else "steady"
        ids = [[i for i in (own, own + 1) if i in truth.spots and (i == own or _is_twin(truths, own))] for truth in truths]
        wanted = [truth.spots[i] for truth, some in zip(truths, ids) for i in some]
        if wanted and all(spot.role == "required" for spot in wanted):
            fates[own] = (kind, *ids)
    return fates


def _is_twin(truths, own):
    listed = {fate["id"] for fate in truths[0]["fates"]}
    return own in listed and own + 1 not in listed and any(own + 1 in truth.spots for truth in truths)


def _judge_changes(pair, out, truths, results, changed):
    fates = _fates(truths, changed)
    owner = {spot: own for own, (_, *ids) in fates.items() for some in ids for spot in some}
    if changed and not any(f["fate"] != "steady" for f in truths[0]["fates"]):
        return
    maps = [_truth_ids(truth, measured) for truth, measured in zip(truths, results)]
    given = {}
    for row in read_rows(out / "changes.csv"):
        sides = [[maps[side].get(int(i)) for i in row[column].split(";") if i] for side, column in enumerate(("before_ids", "after_ids"))]
        spots = [spot for side in sides for spot in side]
        if row["change"] in ("unclear", "unmeasured"):
            for own in {owner[s] for s in spots if s in owner}:
                given.setdefault(own, set()).add(row["change"])
            continue
        owns = {owner.get(s) for s in spots}
        if owns == {None}:
            if all(s is None for s in spots):
                pair.reports.append((row["change"], None))
            continue
        for own in owns - {None}:
            given.setdefault(own, set()).add(row["change"])
            kind, before, after = fates[own]
            if len(owns) > 1 and None not in owns:
                kind = "another group"
            pair.reports.append((row["change"], kind))
        if len(owns) == 1 and row["area_change_mm2"] and kind in ("steady", "grown", "shrunk"):
            area = [sum(truth.spots[i].area_mm2 for i in ids) for truth, ids in zip(truths, (before, after))]
            pair.areas.append((float(row["area_change_mm2"]) - (area[1] - area[0]), max(area), float(row["area_change_u95_mm2"])))
    for own, (kind, before, after) in fates.items():
        reported = given.get(own, {"not reported"})
        found = set(before) <= set(maps[0].values()) and set(after) <= set(maps[1].values())
        pair.events.append((kind, kind if kind in reported and len(reported) == 1 else ",".join(sorted(reported)), found))


def _judge_states(pair, truths):
    dry, wet = truths
    row = pair.row
    pair.figures["darkening"] = float(row["matrix_darkening_dL"]) - (dry["matrix_L"] - wet["matrix_L"])
    pair.figures["darkening_u95"] = float(row["matrix_darkening_u95"])
    if dry["contrast_dL"] is not None and row["contrast_gain_dL"]:
        pair.figures["gain"] = float(row["contrast_gain_dL"]) - (wet["contrast_dL"] - dry["contrast_dL"])
        pair.figures["gain_u95"] = float(row["contrast_gain_u95"])
        pair.figures["both"], pair.figures["one"] = int(row["spots_both"]), int(row["spots_dry_only"]) + int(row["spots_wet_only"])


def _pair_of(pairs, kind, seed, first, second, command="compare"):
    files = [pairs.photo(seed, first), pairs.photo(seed, second)]
    facts = json.loads(files[0].read_text(encoding="utf-8"))
    options = [word for option in facts["options"] for word in option.split() ]
    options = [w for w in options if w not in ("--state", "wet", "dry")]
    photos = [str(path).replace(".truth.json", ".jpg") for path in files]
    status, message, out, seconds = pairs.run(command, f"{kind}-{seed:04d}", *photos, options)
    table = out / ("wetdry.csv" if command == "wetdry" else "comparison.csv")
    pair = Pair(kind, seed, table.exists(), message)
    pair.figures["seconds"] = seconds
    if not pair.accepted:
        return pair
    pair.row = read_rows(table)[0]
    truths = [read_truth(path) for path in files]
    stem = Path(photos[0]).stem
    results = [read_results(out, photos[0], row=0), read_results(out, photos[1], row=1, folder=f"{stem}-2")]
    _judge_registration(pair, out, truths, results)
    if kind == "wet":
        _judge_states(pair, truths)
    else:
        _judge_changes(pair, out, truths, results, changed=second != "again")
        pair.figures["fraction_change"] = float(pair.row["area_fraction_change_pct"])
        pair.figures["fraction_u95"] = float(pair.row["area_fraction_change_u95_pct"])
    return pair


def _stranger(pairs, seed, other):
    """Two cores: the first photo of one against the second photo of the other, with the first one's options."""
    files = [pairs.photo(seed, "first"), pairs.photo(other, "again")]
    return _refused(pairs, "strangers", f"strangers-{seed:04d}-{other:04d}", seed, files[0],
                    str(files[1]).replace(".truth.json", ".jpg"))


def _refused(pairs, kind, name, seed, truth, second):
    options = [w for o in json.loads(truth.read_text(encoding="utf-8"))["options"] for w in o.split() if w not in ("--state", "wet")]
    _, message, out, _ = pairs.run("compare", name, str(truth).replace(".truth.json", ".jpg"), second, options)
    return Pair(kind, seed, (out / "comparison.csv").exists(), message)


def judge_pairs(pairs, seeds, strangers_each, jobs):
    """Every pair of every face; the list of `Pair`."""
    seeds = list(seeds)
    tasks = []
    for seed in seeds:
        tasks += [(_pair_of, pairs, "again", seed, "first", "again"), (_pair_of, pairs, "later", seed, "first", "later"),
                  (_pair_of, pairs, "broken", seed, "first", "broken"), (_pair_of, pairs, "wet", seed, "first", "wet", "wetdry")]
        tasks.append((_mirrored, pairs, seed))
    # Only cores whose bar and card the same options describe, or the second photo would fail for another reason.
    kin = {seed: tuple(json.loads(pairs.photo(seed, "first").read_text(encoding="utf-8"))["options"]) for seed in seeds}
    for index, seed in enumerate(seeds):
        others = [other for other in seeds[index + 1:] + seeds[:index] if kin[other] == kin[seed]][:strangers_each]
        tasks += [(_stranger, pairs, seed, other) for other in others]
    for seed in seeds:
        for state in STATES:
            pairs.photo(seed, state)
    with ThreadPoolExecutor(jobs) as pool:
        return list(pool.map(lambda task: task[0](*task[1:]), tasks))


def _mirrored(pairs, seed):
    return _refused(pairs, "mirrored", f"mirrored-{seed:04d}", seed, pairs.photo(seed, "first"), str(pairs.flipped(seed)))

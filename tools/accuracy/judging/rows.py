"""One CSV row per photo, and two such files against each other."""

import csv

import numpy as np

from .errors import ROW_COLUMNS
from .figures import FIGURES, badness, values_of

TEXT = {"photo", "family", "status", "reason", "cautions"}


def write_rows(path, judged):
    with open(path, "w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, ROW_COLUMNS)
        writer.writeheader()
        for one in judged:
            writer.writerow({key: f"{value:.6g}" if isinstance(value, float) else value
                             for key, value in one.row.items()})


def read_rows(path):
    with open(path, encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    for row in rows:
        for column in ROW_COLUMNS:
            text = row.get(column)
            if column in TEXT:
                row[column] = text or ""
            else:
                row[column] = float(text) if text else None
    return rows


def _line(title, figure, before, after):
    old, new = ([badness(figure, value) for value in values] for values in (before, after))
    if not old or not new:
        return
    sign = -1.0 if figure.best == "high" else 1.0
    cells = [sign * np.median(old), sign * np.median(new), sign * max(old), sign * max(new)]
    worse = badness(figure, cells[1]) - badness(figure, cells[0])
    mark = "" if abs(worse) < 0.005 else "worse" if worse > 0 else "better"
    print(f"{title:<27}{len(new):>7}" + "".join(f"{cell:>10.2f}" for cell in cells) + f"  {mark}")


def compare_files(old_path, new_path, named=5):
    """Medians before and after over the photos that both runs measured, then the photos that moved most."""
    old = {row["photo"]: row for row in read_rows(old_path)}
    new = {row["photo"]: row for row in read_rows(new_path)}
    shared = [photo for photo in old if photo in new]
    both = [p for p in shared if "failed" not in (old[p]["status"], new[p]["status"])]
    print(f"{len(shared)} photos in both, {len(both)} measured by both")
    for title, gone in (("no longer measured", [p for p in shared if old[p]["status"] != "failed" == new[p]["status"]]),
                        ("now measured", [p for p in shared if old[p]["status"] == "failed" != new[p]["status"]])):
        if gone:
            print(f"{title}: {', '.join(gone)}")
    print(f"\n{'|error|':<27}{'photos':>7}{'median':>10}{'now':>10}{'worst':>10}{'now':>10}")
    for figure in FIGURES:
        first = dict((p, v) for v, p in values_of(figure, [old[p] for p in both]))
        second = dict((p, v) for v, p in values_of(figure, [new[p] for p in both]))
        common = [p for p in first if p in second]
        _line(figure.title, figure, [first[p] for p in common], [second[p] for p in common])
    for key in ("scale_in_u95", "area_fraction_in_u95", "area_fraction_05_in_u95", "contrast_dL_in_u95", "spot_area_in_u95"):
        pairs = [(old[p][key], new[p][key]) for p in both if None not in (old[p][key], new[p][key])]
        if pairs:
            print(f"{key + ', share':<27}{len(pairs):>7}" + "".join(f"{np.mean(side):>10.3f}" for side in zip(*pairs)))
    print(f"\nphotos that moved most ({named} a figure, + is worse)")
    for figure in FIGURES:
        _movers(figure, [old[p] for p in both], [new[p] for p in both], named)


def _movers(figure, old, new, named):
    first = dict((p, v) for v, p in values_of(figure, old))
    moves = [(badness(figure, v) - badness(figure, first[p]), p) for v, p in values_of(figure, new) if p in first]
    moves = [move for move in sorted(moves, key=lambda m: -abs(m[0]))[:named] if abs(move[0]) >= 0.01]
    if moves:
        print(f"  {figure.title:<26}" + ", ".join(f"{p.rsplit('.', 1)[0]} {move:+.2f}" for move, p in moves))

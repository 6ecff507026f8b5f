"""Prints what the judging found, widest view first."""

from collections import defaultdict

import numpy as np

from .figures import FIGURES, badness, met, values_of

WORST_NAMED = 5
OFF_FACTOR = 2.0
ECD_CLASSES_PX = [(6, 8), (8, 12), (12, 20), (20, 40), (40, float("inf"))]


def by_family(judged):
    groups = defaultdict(list)
    for one in judged:
        groups[one.row["family"]].append(one)
    return dict(sorted(groups.items()))


def _measured(judged):
    return [one for one in judged if one.row["status"] != "failed"]


def _worst(figure, values):
    return sorted(values, key=lambda pair: (-badness(figure, pair[0]), pair[1]))


def _pooled(key, rows):
    """Precision and recall over all spots of all photos, %; None for other figures."""
    total = {name: sum(row[name] or 0 for row in rows) for name in ("matched", "missed", "false")}
    other = {"precision": "false", "recall": "missed"}.get(key)
    count = total["matched"] + total[other] if other else 0
    return 100.0 * total["matched"] / count if count else None


def _text(value, digits=2):
    return "-" if value is None else f"{value:.{digits}f}"


def _verdict(share, limit):
    return "" if limit is None else f"; target {limit} %: {'met' if share >= limit else 'MISSED'}"


def _print_clean(who, what, key, rows, limit):
    """In how many photos a count that should be 0 is 0."""
    figure = next(figure for figure in FIGURES if figure.key == key)
    counts = [value for value, _ in values_of(figure, rows)]
    if counts:
        clean = sum(count == 0 for count in counts)
        print(f"{who}: {what} in {clean} of {len(counts)}{_verdict(100.0 * clean / len(counts), limit)}")


def print_all(judged, targets):
    """Every figure over all photos: number of photos, median, 90 % worst, worst, signed median."""
    rows = [one.row for one in judged]
    share = 100.0 * len(_measured(judged)) / max(len(rows), 1)
    statuses = ", ".join(f"{sum(r['status'] == s for r in rows)} {s}" for s in ("ok", "caution", "failed"))
    print(f"measured {share:.1f} % of {len(rows)} photos ({statuses}){_verdict(share, targets.get('measured_pct'))}")
    _print_clean("faces without spots", "no spot reported", "spotless", rows, targets.get("spotless_pct"))
    _print_clean("faces under glints, 5 % at most", "no glint reported as a spot", "glint_spots", rows, targets.get("glintless_pct"))
    print()
    print(f"{'in all':<27}{'photos':>7}{'median':>9}{'p90':>9}{'worst':>9}{'signed':>9}{'pooled':>9}  unit, target")
    for figure in FIGURES:
        values = [value for value, _ in values_of(figure, rows)]
        if not values:
            continue
        bad = [badness(figure, value) for value in values]
        sign = -1.0 if figure.best == "high" else 1.0
        median, p90, worst = (sign * float(np.percentile(bad, p)) + 0.0 for p in (50, 90, 100))
        pooled = _pooled(figure.key, rows)
        limits = targets.get(figure.key, {})
        verdicts = [f"{name} {limit}: {met(figure, limit, value)}" for name, value in
                    (("median", median), ("worst", worst), ("pooled", pooled)) if (limit := limits.get(name)) is not None]
        print(f"{figure.title:<27}{len(values):>7}{median:>9.2f}{p90:>9.2f}{worst:>9.2f}"
              f"{float(np.median(values)):>9.2f}{_text(pooled):>9}  {figure.unit}{'; '.join(['', *verdicts])}")
    print("median, p90 and worst of absolute errors; pooled: over all spots. Lightness in all: without photos whose\n"
          "development or cast shadow keeps the card from telling the face (family phone, shadow_on_card).\n")


def print_families(judged):
    """Median / worst of each figure, families down, figures across."""
    shown = [f for f in FIGURES if f.key not in ("diameter", "tilt", "position", "area_glint")]
    heads = {"scale": "scale %", "precision": "prec. %", "recall": "recall %", "ecd_abs": "|ECD| %", "ecd": "ECD %",
             "area": "area %", "area05": "area.5 %", "dL_even": "dL even", "dL_uneven": "dL uneven",
             "matrix_L": "matrix L", "spotless": "spotless", "glint_spots": "glints"}
    print("by family: median/worst\n" + f"{'family':<12}{'done':>8}" + "".join(f"{heads[f.key]:>13}" for f in shown))
    for family, ones in by_family(judged).items():
        cells = []
        for figure in shown:
            # Within a family the lightness rows stand even where the total leaves them out.
            rows = [dict(one.row, lightness_judged=1) for one in ones]
            worst = _worst(figure, values_of(figure, rows))
            middle = np.median([v if figure.key == "ecd" else abs(v) for v, _ in worst]) if worst else None
            cells.append(f"{round(middle, 1) + 0.0:.1f}/{round(worst[0][0], 1) + 0.0:.1f}" if worst else "-")
        print(f"{family:<12}{f'{len(_measured(ones))}/{len(ones)}':>8}" + "".join(f"{cell:>13}" for cell in cells))
    print()


def print_worst(judged):
    """The five worst photos of each family and figure."""
    print(f"worst {WORST_NAMED} by family and figure")
    for family, ones in by_family(judged).items():
        print(f"  {family}")
        for figure in FIGURES:
            rows = [dict(one.row, lightness_judged=1) for one in ones]
            worst = [p for p in _worst(figure, values_of(figure, rows)) if badness(figure, p[0]) not in (0.0, -100.0)]
            if worst:
                names = ", ".join(f"{photo.rsplit('.', 1)[0]} {value:+.2f}" if figure.best == "zero" else
                                  f"{photo.rsplit('.', 1)[0]} {value:.1f}" for value, photo in worst[:WORST_NAMED])
                print(f"    {figure.title:<26}{names}")
    print()


def print_sizes(judged):
    """ECD error against the spot's width in the photo: where an outline bias sits."""
    spots = [spot for one in judged for spot in one.spots]
    if not spots:
        return
    print(f"{'matched spots, width in px':<27}{'spots':>7}{'|ECD| %':>9}{'ECD %':>9}{'p90 |%|':>9}")
    for low, high in [(6, float("inf")), *ECD_CLASSES_PX]:
        errors = np.array([spot.ecd_error_pct for spot in spots if low <= spot.px < high])
        if len(errors):
            name = f"from {low}" if high == float("inf") else f"{low} to {high}"
            print(f"{name:<27}{len(errors):>7}{np.median(abs(errors)):>9.2f}{np.median(errors):>9.2f}"
                  f"{np.percentile(abs(errors), 90):>9.2f}")
    print()


def print_coverage(judged, targets):
    """Share of intervals that hold the truth, and how wide they are, by kind of figure."""
    kinds = defaultdict(list)
    for one in judged:
        for figure in one.figures:
            kinds["spot area" if figure.figure.startswith("area of") else figure.figure].append(figure)
        row = one.row
        if row["area_fraction_in_u95"] is not None:
            kinds["area fraction %, all sizes"].append((row["area_fraction_in_u95"], row["area_fraction_u95_rel_pct"]))
    low, high = targets.get("coverage_pct", [93, 97])
    print(f"{'u95 holds the truth':<27}{'of':>7}{'share %':>9}{'half-width %':>14}  target {low} to {high} %")
    for kind, entries in sorted(kinds.items()):
        held = [e[0] if isinstance(e, tuple) else abs(e.value - e.truth) <= e.u95 for e in entries]
        widths = [e[1] if isinstance(e, tuple) else 100.0 * e.u95 / abs(e.value) if e.value else None for e in entries]
        widths = [width for width in widths if width is not None]
        share = 100.0 * np.mean(held)
        word = "met" if low <= share <= high else "too few" if share < low else "too many"
        print(f"{kind:<27}{len(held):>7}{share:>9.1f}{_text(np.median(widths) if widths else None):>14}  {word}")
    print("half-width: median, relative to the value; area fraction against the truth's spots from 0.5 mm, and of all sizes\n")


def print_failures(judged):
    failed = [one.row for one in judged if one.row["status"] == "failed"]
    print(f"not measured: {len(failed)}")
    for row in failed:
        print(f"  {row['photo']} ({row['family']}): {row['reason'] or 'no reason given'}")
    print()


def print_off(judged):
    """Figures off by more than twice their u95 although the photo's status is ok: the tool should have known."""
    listed, spots = [], defaultdict(list)
    for one in judged:
        if one.row["status"] != "ok":
            continue
        for figure in one.figures:
            if figure.ratio > OFF_FACTOR:
                (spots[one.row["photo"]] if figure.figure.startswith("area of") else listed).append(figure)
    print(f"status ok, off by more than {OFF_FACTOR:g} x u95: {len(listed)} figures, "
          f"{sum(map(len, spots.values()))} spot areas in {len(spots)} photos")
    for f in sorted(listed, key=lambda f: -f.ratio):
        print(f"  {f.photo:<28}{f.figure:<18} {f.value:.5g}, truth {f.truth:.5g}, u95 {f.u95:.3g}: {f.ratio:.1f} x")
    for photo, ones in sorted(spots.items(), key=lambda item: -len(item[1])):
        worst = max(ones, key=lambda f: f.ratio)
        print(f"  {photo:<28}{len(ones)} spot areas; {worst.figure} {worst.value:.4g} mm2, truth {worst.truth:.4g}, "
              f"u95 {worst.u95:.2g}: {worst.ratio:.1f} x")
    print()


def print_report(judged, targets, brief=False):
    print_all(judged, targets)
    print_families(judged)
    print_sizes(judged)
    print_coverage(judged, targets)
    if not brief:
        print_worst(judged)
    print_failures(judged)
    print_off(judged)

"""Prints what judging the pairs found, with the targets."""

import numpy as np

from .pairs import CLASSES

NOT_MEASURED = ("these do not look", "mirrored")


def _measured(pair):
    """False where a photo itself could not be measured: that says nothing about the pair."""
    return pair.accepted or any(word in pair.message for word in NOT_MEASURED)


def _line(name, target, text, good):
    verdict = "" if good is None else ("met" if good else "MISSED")
    print(f"{name:<52}{target:<22}{text:<36}{verdict}")


def _share(name, target, hits, count, least):
    if count:
        _line(name, target, f"{100.0 * hits / count:.1f} % ({hits} of {count})", 100.0 * hits / count >= least)


def _print_acceptance(pairs):
    true = [p for p in pairs if p.kind in ("again", "later", "broken", "wet")]
    for kind in ("again", "later", "broken", "wet"):
        some = [p for p in true if p.kind == kind and _measured(p)]
        _line(f"  {kind}: accepted, of the measured", "", f"{sum(p.accepted for p in some)} of {len(some)}", None)
    some = [p for p in true if _measured(p)]
    _share("true pairs accepted", "98 %", sum(p.accepted for p in some), len(some), 98)
    strangers = [p for p in pairs if p.kind == "strangers" and _measured(p)]
    _share("two different cores refused", "99 %", sum(not p.accepted for p in strangers), len(strangers), 99)
    mirrored = [p for p in pairs if p.kind == "mirrored" and _measured(p)]
    _share("mirrored photos refused", "all", sum(not p.accepted for p in mirrored), len(mirrored), 100)
    _share("  for that reason", "all", sum("is mirrored" in p.message for p in mirrored), len(mirrored), 100)
    for pair in true:
        if not pair.accepted:
            print(f"    {pair.kind}-{pair.seed:04d}: {pair.message}")
    for pair in strangers + mirrored:
        if pair.accepted or (pair.kind == "mirrored" and "is mirrored" not in pair.message):
            print(f"    {pair.kind}-{pair.seed:04d}: {'accepted' if pair.accepted else pair.message}")


def _print_spread(name, key, limit, pairs, unit):
    values = sorted((p.figures[key], f"{p.kind}-{p.seed:04d}") for p in pairs if key in p.figures)
    if not values:
        return
    numbers = [value for value, _ in values]
    inside = sum(value <= limit for value in numbers)
    _line(name, f"{limit} {unit}", f"median {np.median(numbers):.3f}, 95 % {np.percentile(numbers, 95):.3f}, worst {numbers[-1]:.3f}",
          numbers[-1] <= limit)
    if inside < len(numbers):
        print(f"    {inside} of {len(numbers)} inside; worst: " + ", ".join(f"{who} {value:.3f}" for value, who in values[:-5:-1]))


def _print_classes(pairs):
    """Recall of each class among the spots that `measure` reports in every photo they are in, and among all."""
    events = [event for p in pairs for event in p.events]
    reports = [report for p in pairs for report in p.reports]
    for kind in CLASSES:
        every = [given for true, given, _ in events if true == kind]
        found = [given for true, given, is_found in events if true == kind and is_found]
        said = [true for given, true in reports if given == kind]
        _share(f"  {kind}: recall", "95 %", found.count(kind), len(found), 95)
        _share(f"  {kind}: precision", "95 %", said.count(kind), len(said), 95)
        wrong = [given for given in found if given != kind]
        if wrong:
            print(f"    true {kind}, but: " + ", ".join(f"{wrong.count(w)} {w}" for w in sorted(set(wrong))))
        wrong = [str(true) for true in said if true != kind]
        if wrong:
            print(f"    said {kind}, but: " + ", ".join(f"{wrong.count(w)} {w}" for w in sorted(set(wrong))))
        if every and len(every) > len(found):
            print(f"    of all {len(every)}, found by measure or not: {100.0 * every.count(kind) / len(every):.1f} %")


def _print_areas(pairs):
    areas = np.array([area for p in pairs for area in p.areas])
    if not len(areas):
        return
    relative = 100.0 * np.abs(areas[:, 0]) / areas[:, 1]
    _line("area change per spot, error of the spot's area", "3 %", f"median {np.median(relative):.2f}, 90 % {np.percentile(relative, 90):.2f}",
          np.median(relative) <= 3)
    inside = np.abs(areas[:, 0]) <= areas[:, 2]
    _line("  its u95 holds the truth", "93 to 97 %", f"{100.0 * inside.mean():.1f} % of {len(areas)}", 93 <= 100 * inside.mean() <= 97)


def _print_repeats(pairs):
    repeats = [p for p in pairs if p.kind == "again" and p.accepted]
    calm = [p for p in repeats if abs(p.figures["fraction_change"]) <= p.figures["fraction_u95"]]
    _share("unchanged core: area fraction within its u95", "95 %", len(calm), len(repeats), 95)
    same = [p for p in repeats if all(int(p.row[k]) == 0 for k in CLASSES if k != "steady")]
    _share("unchanged core: no spot called changed", "95 %", len(same), len(repeats), 95)
    for pair in repeats:
        if pair not in same:
            print(f"    {pair.kind}-{pair.seed:04d}: " + ", ".join(f"{pair.row[k]} {k}" for k in CLASSES if k != "steady" and pair.row[k] != "0"))


def _print_states(pairs):
    for key in ("darkening", "gain"):
        found = np.array([(p.figures[key], p.figures[f"{key}_u95"]) for p in pairs if key in p.figures])
        if len(found):
            inside = np.abs(found[:, 0]) <= found[:, 1]
            _line(f"wet less dry: {key}, error in L*", "", f"median {np.median(np.abs(found[:, 0])):.2f}, worst {np.abs(found[:, 0]).max():.2f}", None)
            _line("  its u95 holds the truth", "93 to 97 %", f"{100.0 * inside.mean():.1f} % of {len(found)} (median u95 {np.median(found[:, 1]):.2f})", None)
    both, one = (sum(p.figures.get(k, 0) for p in pairs) for k in ("both", "one"))
    _line("wet and dry: spots seen in both states, in one", "", f"{both}, {one}", None)


def print_pairs(pairs):
    failed = [p for p in pairs if not _measured(p)]
    print(f"{len(pairs)} pairs; in {len(failed)} a photo could not be measured")
    for pair in failed:
        print(f"    {pair.kind}-{pair.seed:04d}: {pair.message}")
    print(f"{'figure':<52}{'target':<22}{'measured':<36}")
    _print_acceptance(pairs)
    true = [p for p in pairs if p.accepted and p.kind in ("again", "later", "broken", "wet")]
    _print_spread("rotation error, degrees", "angle", 0.1, true, "deg")
    _print_spread("place error, rms over the face, mm", "place", 0.1, true, "mm")
    _print_spread("stated residual, mm", "rms", 0.1, true, "mm")
    print("classes, before and after:")
    _print_classes([p for p in true if p.kind in ("later", "broken")])
    _print_areas([p for p in true if p.kind in ("later", "broken", "again")])
    _print_repeats(true)
    _print_states([p for p in true if p.kind == "wet"])

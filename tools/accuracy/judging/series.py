"""The same face photographed several times: how far do its figures move although nothing on it has changed?"""

import subprocess
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from .matching import match
from .results import read_results, run_program
from .truth import read_truth

REPEATS = 10
REPEAT_SD_LIMIT_PCT = 1.5
BLUR_SIGMAS_PX = (0.5, 1.0, 1.5, 2.0, 2.5)
BLUR_LIMIT_PCT = 1.0
MIN_WIDTH_PX = 6.0


@dataclass
class Series:
    """Where to render and measure, and with what."""

    folder: Path
    scenes: str
    program: str
    width: int
    height: int
    jobs: int = 2

    def photo(self, seed, name, choices):
        """Renders one photo of the face `seed` (unless it is there) and measures it; (truth, result)."""
        folder = self.folder / name
        if not list(folder.glob(f"*-{seed:04d}.truth.json")):
            words = [word for key, value in choices.items() for word in ("--set", f"{key}={value}")]
            subprocess.run([self.scenes, "--out", folder, "--seeds", str(seed), "--family", "plain", "--width", str(self.width),
                            "--height", str(self.height), *words], check=True, stdout=subprocess.DEVNULL)
        truth = read_truth(next(folder.glob(f"*-{seed:04d}.truth.json")))
        out = self.folder / "work" / f"{name}-{seed:04d}"
        (out / "summary.csv").unlink(missing_ok=True)
        run_program(self.program, truth.photo, truth.options, out)
        return truth, read_results(out, truth.photo)

    def photos(self, jobs):
        with ThreadPoolExecutor(self.jobs) as pool:
            return list(pool.map(lambda job: self.photo(*job), jobs))


def repeat_choices(seed, number):
    """New place, angle and camera, new light, new noise, another bench; the face itself stays."""
    return {key: 100 * seed + number for key in ("pose_seed", "light_seed", "noise_seed", "bench_seed")}


def _spread(values):
    return 100.0 * float(np.std(values, ddof=1) / np.mean(values)) if len(values) > 1 and np.mean(values) > 0 else None


def print_repeats(series, seeds):
    """Standard deviation of the figures over ten photos of one face, relative to their mean; worst face last."""
    print(f"{REPEATS} photos of each face: new place, angle, light, bench and noise")
    print(f"{'face':<10}{'measured':>9}{'area fraction %':>17}{'sd, % of it':>13}{'sd / stated u':>15}{'count sd':>10}{'contrast sd L*':>16}")
    spreads = []
    for seed in seeds:
        photos = series.photos([(seed, f"repeat-{number}", repeat_choices(seed, number)) for number in range(REPEATS)])
        done = [result for _, result in photos if result.status != "failed"]
        area = [result.number("area_fraction_pct") for result in done]
        stated = [result.number("area_fraction_u95_pct") / 2.0 for result in done if result.number("area_fraction_u95_pct")]
        count = [result.number("spot_count") for result in done]
        contrast = [value for result in done if (value := result.number("contrast_dL")) is not None]
        spread = _spread(area)
        if spread is None:
            print(f"{seed:<10}{len(done):>9}")
            continue
        spreads.append(spread)
        print(f"{seed:<10}{len(done):>9}{np.mean(area):>17.3f}{spread:>13.2f}{np.std(area, ddof=1) / np.median(stated):>15.2f}"
              f"{np.std(count, ddof=1):>10.2f}{np.std(contrast, ddof=1) if len(contrast) > 1 else float('nan'):>16.2f}")
    if spreads:
        verdict = "met" if max(spreads) <= REPEAT_SD_LIMIT_PCT else "MISSED"
        print(f"sd of area fraction: median {np.median(spreads):.2f} %, worst {max(spreads):.2f} %; "
              f"target {REPEAT_SD_LIMIT_PCT} %: {verdict}\n")


def _ecd_by_spot(truth, result):
    if result.status == "failed":
        return {}
    return {spot.id: float(reported["ecd_mm"]) for reported, spot in match(truth, result).pairs
            if spot.ecd_mm / truth["mm_per_px"] >= MIN_WIDTH_PX}


def print_blur(series, seeds):
    """Mean ECD of the spots that every photo of a face has, against the camera's blur."""
    print("one face, one pose, camera blur of growing sigma: change of mean ECD from the sharpest photo, %")
    print(f"{'face':<10}{'spots':>7}" + "".join(f"{f'{sigma:g} px':>9}" for sigma in BLUR_SIGMAS_PX))
    worst = []
    for seed in seeds:
        photos = series.photos([(seed, f"blur-{sigma:g}", {"blur": sigma}) for sigma in BLUR_SIGMAS_PX])
        found = [_ecd_by_spot(truth, result) for truth, result in photos]
        shared = set.intersection(*(set(one) for one in found))
        if not shared:
            print(f"{seed:<10}{0:>7}")
            continue
        means = [np.mean([one[spot] for spot in shared]) for one in found]
        changes = [100.0 * (mean / means[0] - 1.0) for mean in means]
        worst.append(max(map(abs, changes)))
        print(f"{seed:<10}{len(shared):>7}" + "".join(f"{change:>+9.2f}" for change in changes))
    if worst:
        verdict = "met" if max(worst) <= BLUR_LIMIT_PCT else "MISSED"
        print(f"change: median {np.median(worst):.2f} %, worst {max(worst):.2f} %; target {BLUR_LIMIT_PCT} %: {verdict}\n")

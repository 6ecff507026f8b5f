"""Command line of render_worlds."""
import argparse
import os
import sys
import time

import cv2

from . import scene


def seeds(text):
    """'1-4,9' as [1, 2, 3, 4, 9]."""
    out = []
    for part in text.split(","):
        first, _, last = part.partition("-")
        out += range(int(first), int(last or first) + 1)
    return out


def main(argv=None):
    """Render every seed asked for; one line of progress each."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--out", required=True)
    parser.add_argument("--seeds", type=seeds, default=seeds("1-14"))
    parser.add_argument("--family", default="all", choices=("all",) + scene.FAMILIES)
    parser.add_argument("--width", type=int, default=4000)
    parser.add_argument("--height", type=int, default=3000)
    parser.add_argument("--perfect-objects", action="store_true", help="rim round, card square and of its reflectance, bar exact, tones sRGB's")
    args = parser.parse_args(argv)
    cv2.setRNGSeed(1)
    os.makedirs(args.out, exist_ok=True)
    for seed in args.seeds:
        family = scene.FAMILIES[(seed - 1) % len(scene.FAMILIES)] if args.family == "all" else args.family
        start = time.time()
        truth = scene.render(args.out, family, seed, args.width, args.height, args.perfect_objects)
        print(f"{truth['photo']}: {len(truth['spots'])} spots, {time.time() - start:.1f} s", file=sys.stderr)
    return 0

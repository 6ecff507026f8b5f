"""How far core, card, bar and camera are from what they are called: rims out of round, cards off square and off their
reflectance, bars off length, tones off sRGB's."""
from dataclasses import dataclass, field

import cv2
import numpy as np

# Usual deviations of such objects, common practice, no source: a median, and the factor within which 95 % of them lie.
# Set before any of these photos was measured, and apart from those of the other renderer.
ROUNDNESS_MM, ROUNDNESS_FACTOR = 0.15, 2.5  # largest less smallest radius about one centre
LOBES = range(2, 8)       # an even rim has none, a wandering bit makes ovals and three lobes, finer ones are roughness
SKEW_DEG, SKEW_FACTOR = 0.12, 2.2           # a guillotine that is not square: turn of each side of a card
ASPECT_PCT, ASPECT_FACTOR = 0.25, 2.2       # sides cut too long or too short
EDGE_MM, EDGE_FACTOR = 0.025, 2.0           # of each printed edge
BAR_LENGTH_PCT = 0.05                       # tolerance that the program assumes unless told another
CARD_LEVEL = 0.035                          # even within it; the program assumes a standard deviation of 2 %
TONE = 0.02                                 # standard deviation of contrast by a camera's tones that the program assumes
MOST_STRAY_MM = 0.45                        # of the rim: the face is painted a millimetre past its nominal circle


@dataclass
class Deviations:
    """`rim`: rows of order, cosine and sine of the radius, mm; `card`: 3 x 3 in the card's own mm; `bar_edges_mm`: of each edge;
    `card_level`: share by which the card is lighter than called; `tone`: strength of an S-curve."""
    rim: list = field(default_factory=list)
    card: np.ndarray = field(default_factory=lambda: np.eye(3))
    bar_length: float = 0.0
    bar_edges_mm: np.ndarray | None = None
    card_level: float = 0.0
    tone: float = 0.0

    def rim_stray(self, angle):
        """How far the rim is outside the nominal circle at the angle (counterclockwise from x), mm."""
        out = np.zeros_like(np.asarray(angle, float))
        for order, c, s in self.rim:
            out += c * np.cos(order * angle) + s * np.sin(order * angle)
        return out

    def edges(self, length_mm, blocks):
        """Places of the edges of the blocks along the bar, mm from where the first one belongs."""
        at = np.arange(blocks + 1) * length_mm / blocks
        at = length_mm / 2 + (at - length_mm / 2) * (1 + self.bar_length)
        return at if self.bar_edges_mm is None else at + self.bar_edges_mm


def log_normal(rng, median, factor_95):
    """Log-normal by its median and the factor within which 95 % lie."""
    return float(median * factor_95 ** (rng.normal() / 1.96))


def draw_rim(rng):
    """Waves of one draw each, weaker the finer, then scaled to the roundness that was drawn."""
    wave = np.array([rng.normal(0, n ** -1.5, 2) for n in LOBES])
    angle = np.linspace(0, 2 * np.pi, 720, endpoint=False)
    stray = sum(c * np.cos(n * angle) + s * np.sin(n * angle) for n, (c, s) in zip(LOBES, wave))
    scale = log_normal(rng, ROUNDNESS_MM, ROUNDNESS_FACTOR) / np.ptp(stray)
    scale = min(scale, MOST_STRAY_MM / np.abs(stray).max())
    return [(n, float(c * scale), float(s * scale)) for n, (c, s) in zip(LOBES, wave)]


def draw_card(rng, w_mm, h_mm):
    """Map of a w x h card's own mm to where its four cuts left it: each side turned and put off by itself."""
    turn = np.radians(log_normal(rng, SKEW_DEG, SKEW_FACTOR)) * rng.normal(size=4)
    off = 0.01 * log_normal(rng, ASPECT_PCT, ASPECT_FACTOR) / np.sqrt(2) * rng.normal(size=4)
    x, y = w_mm / 2, h_mm / 2
    # Lines a u + b v = c of the left, right, lower and upper cut.
    lines = [(1, turn[0], -x * (1 + off[0])), (1, turn[1], x * (1 + off[1])),
             (turn[2], 1, -y * (1 + off[2])), (turn[3], 1, y * (1 + off[3]))]
    cut = [np.linalg.solve([lines[i][:2], lines[j][:2]], [lines[i][2], lines[j][2]]) for i, j in ((0, 2), (1, 2), (1, 3), (0, 3))]
    ideal = np.array([[-x, -y], [x, -y], [x, y], [-x, y]], np.float32)
    return cv2.getPerspectiveTransform(ideal, np.array(cut, np.float32))


def draw(seed, card_plan, bar_plan):
    """Deviations of one world, of chance of their own: nothing else in the world moves with them."""
    rng = np.random.default_rng(seed)
    rim = draw_rim(rng)
    card = draw_card(rng, card_plan.outer_w, card_plan.outer_h)
    length = float(rng.uniform(-1, 1) * 0.01 * BAR_LENGTH_PCT)
    edges = log_normal(rng, EDGE_MM, EDGE_FACTOR) * rng.normal(size=bar_plan.blocks + 1)
    edges -= np.linspace(edges[0], edges[-1], len(edges))  # a tolerance of the length is one of the end edges
    return Deviations(rim, card, length, edges, float(rng.uniform(-CARD_LEVEL, CARD_LEVEL)), float(TONE * rng.normal()))

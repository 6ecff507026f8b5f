"""From linear light to a JPEG: blur, noise, colour reconstruction, denoise, sharpening, encoding."""
from dataclasses import dataclass

import cv2
import numpy as np
from PIL import Image

LUMA = np.array([0.2126, 0.7152, 0.0722], np.float32)


@dataclass
class Develop:
    """Settings of one camera: sigma in px, noise as variance per signal and read noise, strengths unitless."""
    blur_sigma: float
    shot: float
    read: float
    chroma_sigma: float
    denoise: str
    sharpen: float
    sharpen_sigma: float
    tone: float
    quality: int

    def describe(self):
        """Short text for the truth file."""
        words = [f"shot {self.shot:.1e} read {self.read:.4f}"]
        words += [self.denoise] if self.denoise != "none" else []
        words += [f"sharpen {self.sharpen:.2f}/{self.sharpen_sigma:.1f}px"] if self.sharpen else []
        words += [f"local tone {self.tone:.2f}"] if self.tone else []
        return ", ".join(words + [f"jpeg {self.quality}"])


def plan_develop(rng, family):
    """Random camera; only family `phone` maps tones."""
    phone = family == "phone"
    return Develop(
        blur_sigma=float(rng.uniform(0.5, 2.0)), shot=float(10 ** rng.uniform(-5.0, -3.9)), read=float(rng.uniform(0.0005, 0.003)),
        chroma_sigma=float(rng.uniform(0.8, 2.5)),
        denoise=str(rng.choice(["none", "bilateral", "median"], p=[0.2, 0.5, 0.3] if phone else [0.6, 0.25, 0.15])),
        sharpen=float(rng.uniform(0.3, 1.2)) if rng.random() < (0.9 if phone else 0.3) else 0.0,
        sharpen_sigma=float(rng.uniform(0.8, 2.5)), tone=float(rng.uniform(0.08, 0.22)) if phone else 0.0,
        quality=int(rng.integers(75, 96)))


def srgb_table():
    """sRGB encoding (IEC 61966-2-1) of 16-bit linear light, 8-bit codes as float32."""
    v = np.arange(65536) / 65535
    return (255 * np.where(v <= 0.0031308, 12.92 * v, 1.055 * v ** (1 / 2.4) - 0.055)).astype(np.float32)


TABLE = srgb_table()


def add_noise(rng, photo, plan):
    """Shot and read noise in place, then the softer colour of a mosaic sensor."""
    for channel in range(3):
        plane = photo[:, :, channel]
        noise = rng.standard_normal(plane.shape, dtype=np.float32)
        plane += noise * np.sqrt(plan.shot * np.maximum(plane, 0) + plan.read ** 2)
    luma = cv2.transform(photo, LUMA[None, :])
    photo -= luma[:, :, None] if luma.ndim == 2 else luma
    soft = cv2.GaussianBlur(photo, (0, 0), plan.chroma_sigma)
    soft += luma[:, :, None] if luma.ndim == 2 else luma
    return soft


def encode(photo, s_curve):
    """Linear light to sRGB codes 0 to 255 in 8 bits, rounded; an S-curve makes mid-tones steeper by its strength."""
    index = (np.clip(photo, 0, 1) * 65535 + 0.5).astype(np.uint16)
    table = TABLE - 255 * s_curve / (2 * np.pi) * np.sin(2 * np.pi * TABLE / 255)
    return (table.astype(np.float32)[index] + 0.5).astype(np.uint8)


def local_tone(image, strength):
    """Pull wide-area brightness towards its mean, as phones do to open shadows."""
    h, w = image.shape[:2]
    grey = cv2.resize(cv2.cvtColor(image, cv2.COLOR_RGB2GRAY), (w // 8, h // 8), interpolation=cv2.INTER_AREA).astype(np.float32)
    base = cv2.GaussianBlur(grey, (0, 0), h / 8 / 12)
    gain = (base.mean() / np.maximum(base, 8)) ** strength
    gain = cv2.resize(np.clip(gain, 0.7, 1.4), (w, h), interpolation=cv2.INTER_LINEAR)
    return np.clip(image * gain[:, :, None] + 0.5, 0, 255).astype(np.uint8)


def finish(rng, photo, plan, s_curve=0.0):
    """Linear photo to an 8-bit RGB image."""
    photo = cv2.GaussianBlur(photo, (0, 0), plan.blur_sigma)
    photo = add_noise(rng, photo, plan)
    image = encode(photo, s_curve)
    if plan.tone:
        image = local_tone(image, plan.tone)
    if plan.denoise == "median":
        image = cv2.medianBlur(image, 3)
    elif plan.denoise == "bilateral":
        image = cv2.bilateralFilter(image, 5, 14, 1.5)
    if plan.sharpen:
        soft = cv2.GaussianBlur(image, (0, 0), plan.sharpen_sigma)
        image = cv2.addWeighted(image, 1 + plan.sharpen, soft, -plan.sharpen, 0)
    return image


def save_jpeg(rng, image, path, plan, focal35, with_exif):
    """JPEG 4:2:0 with or without EXIF date and focal length; now and then stored on its side with an orientation tag."""
    exif = Image.Exif()
    if with_exif:
        stamp = f"2026:{rng.integers(1, 13):02d}:{rng.integers(1, 29):02d} {rng.integers(7, 19):02d}:{rng.integers(60):02d}:{rng.integers(60):02d}"
        exif[0x8769] = {0x9003: stamp, 0xA405: int(focal35)}
        turn = rng.choice([1, 1, 1, 1, 6, 8, 3])
        exif[0x0112] = int(turn)
        image = np.rot90(image, {1: 0, 6: 1, 8: 3, 3: 2}[int(turn)])
    Image.fromarray(np.ascontiguousarray(image)).save(path, quality=plan.quality, subsampling=2, exif=exif.tobytes())

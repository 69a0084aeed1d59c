"""What a phone makes of the light that reaches it, and the file it writes."""

from pathlib import Path

import cv2
import numpy as np
from corner import Floats
from PIL import Image

WIDTH, HEIGHT = 4032, 3024


def take(light: Floats, camera: dict[str, object], rng: np.random.Generator) -> Floats:
    """What a phone makes of the light: lens, vignette, blur, noise, tone, sharpening."""
    focal, (cx, cy), (k1, k2) = camera["focal_px"], camera["principal_px"], camera["radial"]
    y, x = np.mgrid[0:HEIGHT, 0:WIDTH].astype(np.float64)
    xd, yd = (x + 0.5 - cx) / focal, (y + 0.5 - cy) / focal
    xu, yu = xd.copy(), yd.copy()
    for _ in range(12):  # invert the distortion by fixed-point steps
        r2 = xu * xu + yu * yu
        factor = 1 + k1 * r2 + k2 * r2 * r2
        xu, yu = xd / factor, yd / factor
    high, wide = light.shape[:2]
    seen = cv2.remap(
        light,
        (xu * focal + wide / 2 - 0.5).astype(np.float32),
        (yu * focal + high / 2 - 0.5).astype(np.float32),
        cv2.INTER_CUBIC,
        borderMode=cv2.BORDER_REFLECT,
    )
    seen *= (1 / (1 + (xd * xd + yd * yd) * 0.9) ** 1.2)[..., None]
    return expose(seen, rng)


def expose(seen: Floats, rng: np.random.Generator) -> Floats:
    """The picture that light on the sensor becomes: blur, noise, tone, sharpening."""
    seen = cv2.GaussianBlur(np.clip(seen, 0, None), (0, 0), 0.75)
    seen *= 0.62 / np.percentile(seen.mean(axis=2), 97)
    seen += rng.standard_normal(seen.shape) * np.sqrt(2.0e-5 + 1.6e-4 * seen)
    tone = np.where(
        seen <= 0.0031308, 12.92 * seen, 1.055 * np.clip(seen, 1e-6, None) ** (1 / 2.4) - 0.055
    )
    tone = tone + 0.35 * (tone - cv2.GaussianBlur(tone, (0, 0), 1.2))
    return np.clip(tone * 255 + 0.5, 0, 255).astype(np.uint8)


def save(path: Path, photo: Floats, orientation: int, equivalent_mm: float) -> None:
    """Write the photo as a phone does, with its EXIF."""
    # Orientation 6: the stored rows run down the upright picture's right side.
    stored = np.rot90(photo) if orientation == 6 else photo
    picture = Image.fromarray(np.ascontiguousarray(stored))
    exif = Image.Exif()
    exif[0x0112] = orientation
    exif[0x010F], exif[0x0110] = "Rendered", "demo phone"
    details = exif.get_ifd(0x8769)
    details[0xA405] = round(equivalent_mm)
    details[0x9003] = "2026:05:09 10:30:00"
    picture.save(path, quality=88, exif=exif)

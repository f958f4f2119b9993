"""Makes the measured report's photographs what a camera gives: JPEG, 2400 by 1800."""

from pathlib import Path

from PIL import Image

for png in Path("target/report-data").glob("photo-*.png"):
    with Image.open(png) as picture:
        picture.convert("RGB").resize((2400, 1800)).save(png.with_suffix(".jpg"), quality=85)

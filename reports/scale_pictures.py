# Scales pictures for the page: standard input and standard output hold pictures one after another,
# each behind its length (8 bytes, big-endian). Run as a child:
#   /usr/bin/python3 -I -c THIS LONGEST_SIDE MOST_BYTES
# One that fits both comes back as it is; a larger one upright, as JPEG; one that cannot be read, or
# whose size is that of no camera, with length 0.
import io
import sys
import warnings

from PIL import Image, ImageOps

LONGEST, MOST = int(sys.argv[1]), int(sys.argv[2])
Image.MAX_IMAGE_PIXELS = 80_000_000
warnings.simplefilter("error", Image.DecompressionBombWarning)
warnings.simplefilter("error", Image.DecompressionBombError)


def scaled(data):
    with Image.open(io.BytesIO(data), formats=("PNG", "JPEG")) as picture:
        fits = max(picture.size) <= LONGEST and len(data) <= MOST
        # Decodes a large JPEG at a fraction of its size, but never under what is wanted.
        picture.draft("RGB", (LONGEST, LONGEST))
        picture.load()
        turned = picture.getexif().get(0x0112, 1) != 1
        if fits and not turned:
            return data
        upright = ImageOps.exif_transpose(picture)
        if upright.mode in ("RGBA", "LA", "P", "PA"):
            clear = upright.convert("RGBA")
            upright = Image.new("RGBA", clear.size, "white")
            upright.alpha_composite(clear)
        small = upright.convert("RGB")
        small.thumbnail((LONGEST, LONGEST), Image.Resampling.LANCZOS)
        out = io.BytesIO()
        small.save(out, "JPEG", quality=85, optimize=True)
        return out.getvalue()


rest = sys.stdin.buffer
while head := rest.read(8):
    try:
        picture = scaled(rest.read(int.from_bytes(head, "big")))
    except Exception:  # Whatever a hostile file does to the decoder: it is not shown.
        picture = b""
    sys.stdout.buffer.write(len(picture).to_bytes(8, "big") + picture)

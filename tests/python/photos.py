"""Photos with everything that cameras write into them, and what is left of it.

photos.py make DIR            writes the photos, prints what they are as JSON
photos.py compare GIVEN KEPT  fails unless the pixels, profile and orientation of
                              both are the same and nothing else is left in KEPT

Judges: Pillow for pixels, EXIF, XMP and profiles, piexif for EXIF once more, and
a plain search for the marker texts. Tags are those of EXIF 2.32.
"""

import io
import json
import pathlib
import struct
import sys

import piexif
from PIL import Image, ImageCms, PngImagePlugin

PLACE = "SECRETPLACE"
XMP = (
    '<x:xmpmeta xmlns:x="adobe:ns:meta/"><rdf:RDF xmlns:rdf="http://www.w3.org/1999/02/22-rdf-syntax-ns#">'
    '<rdf:Description xmlns:exif="http://ns.adobe.com/exif/1.0/" exif:GPSLatitude="48,12.5N" '
    f'exif:GPSLongitude="16,22.4E" exif:note="{PLACE}"/></rdf:RDF></x:xmpmeta>'
).encode()


def picture():
    """No two rows or columns alike, so that any turn or shift shows."""
    image = Image.new("RGB", (64, 40))
    image.putdata([((x * 4) % 256, (y * 6) % 256, (x * y) % 256) for y in range(40) for x in range(64)])
    return image


def exif(orientation):
    return piexif.dump({
        "0th": {
            piexif.ImageIFD.Orientation: orientation,
            piexif.ImageIFD.Artist: PLACE.encode(),
            piexif.ImageIFD.Make: b"no make",
        },
        "Exif": {
            piexif.ExifIFD.DateTimeOriginal: b"2026:03:02 09:15:00",
            piexif.ExifIFD.OffsetTimeOriginal: b"+01:00",
            piexif.ExifIFD.MakerNote: PLACE.encode(),
        },
        "GPS": {
            piexif.GPSIFD.GPSLatitudeRef: b"N",
            piexif.GPSIFD.GPSLatitude: ((48, 1), (12, 1), (30, 1)),
            piexif.GPSIFD.GPSLongitudeRef: b"E",
            piexif.GPSIFD.GPSLongitude: ((16, 1), (22, 1), (24, 1)),
        },
    })


def profile():
    return ImageCms.ImageCmsProfile(ImageCms.createProfile("sRGB")).tobytes()


def jpeg(**options):
    out = io.BytesIO()
    picture().save(out, "JPEG", quality=92, exif=exif(6), icc_profile=profile(), xmp=XMP,
                   comment=PLACE.encode(), **options)
    whole = out.getvalue()
    # IPTC, as in application segment 13, right after the start.
    iptc = b"Photoshop 3.0\x008BIM\x04\x04\x00\x00\x00\x00\x00\x0bSECRETPLACE\x00"
    segment = b"\xff\xed" + struct.pack(">H", len(iptc) + 2) + iptc
    return whole[:2] + segment + whole[2:]


def with_appended_picture():
    """As cameras append a second picture or a film after the end of the first."""
    return jpeg() + jpeg()


def png():
    out = io.BytesIO()
    text = PngImagePlugin.PngInfo()
    text.add_text("Comment", PLACE)
    text.add_itxt("XML:com.adobe.xmp", XMP.decode())
    picture().save(out, "PNG", exif=exif(8), pnginfo=text, icc_profile=profile())
    return out.getvalue() + PLACE.encode()


def webp():
    out = io.BytesIO()
    picture().save(out, "WEBP", lossless=True, exif=exif(3), xmp=XMP, icc_profile=profile())
    return out.getvalue()


def heic():
    """The boxes that say what it is and how large (ISO/IEC 14496-12, 23008-12)."""
    def box(kind, *parts):
        body = b"".join(parts)
        return struct.pack(">I", len(body) + 8) + kind + body
    full = b"\0\0\0\0"
    size = box(b"ispe", full, struct.pack(">II", 640, 480))
    properties = box(b"iprp", box(b"ipco", size))
    return (box(b"ftyp", b"heic", full, b"mif1heic")
            + box(b"meta", full, properties)
            + box(b"mdat", PLACE.encode()))


def make(directory):
    files = {
        "turned.jpg": (jpeg(), "PHOTO_TYPE_JPEG", 6),
        "progressive.jpg": (jpeg(progressive=True), "PHOTO_TYPE_JPEG", 6),
        "appended.jpg": (with_appended_picture(), "PHOTO_TYPE_JPEG", 6),
        "text.png": (png(), "PHOTO_TYPE_PNG", 8),
        "lossless.webp": (webp(), "PHOTO_TYPE_WEBP", 3),
        "phone.heic": (heic(), "PHOTO_TYPE_HEIC", 1),
        # Its name and what the shop may think of it do not count.
        "a-gif.jpg": (b"GIF89a" + bytes(40), None, 1),
    }
    told = {}
    for name, (data, kind, orientation) in files.items():
        (directory / name).write_bytes(data)
        told[name] = {"type": kind, "orientation": orientation}
    print(json.dumps(told))


def compare(given, kept):
    before, after = Image.open(given), Image.open(kept)
    assert after.format == before.format, after.format
    assert after.size == before.size
    assert after.convert("RGB").tobytes() == before.convert("RGB").tobytes(), "pixels differ"
    assert after.info.get("icc_profile") == before.info["icc_profile"], "the profile differs"
    tags = dict(after.getexif())
    assert tags == {0x0112: before.getexif()[0x0112]}, tags
    assert before.getexif().get_ifd(0x8825), "the given file has a location"
    assert not after.getexif().get_ifd(0x8825), "the location is left"
    assert "xmp" not in after.info and not after.getxmp(), "XMP is left"
    assert "comment" not in after.info
    data = kept.read_bytes()
    for text in (PLACE.encode(), b"GPSL", b"no make", b"xmpmeta"):
        assert text in given.read_bytes() or text == b"no make"
        assert text not in data, f"{text} is left"
    if after.format != "PNG":
        left = piexif.load(str(kept))
        assert not left["GPS"] and not left["Exif"] and left["thumbnail"] is None, left
    print(json.dumps({"bytes": len(data), "given_bytes": len(given.read_bytes())}))


if __name__ == "__main__":
    if sys.argv[1] == "make":
        make(pathlib.Path(sys.argv[2]))
    else:
        compare(pathlib.Path(sys.argv[2]), pathlib.Path(sys.argv[3]))

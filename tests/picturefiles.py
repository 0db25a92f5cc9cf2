"""Small pictures for the tests, with what cameras and programs write into them."""

import io

from PIL import Image, PngImagePlugin

SECRET = b"taken at a secret place"
SVG = '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" viewBox="0 0 9 9">{}</svg>'


def picture(kind, mode="RGB", **how):
    image = Image.new(mode, (6, 3))
    image.putpixel((0, 0), 1 if mode in ("L", "P") else (200, 10, 10, 90)[: len(mode)])
    out = io.BytesIO()
    image.save(out, kind, **how)
    return out.getvalue()


def exif(turned=1):
    found = Image.Exif()
    found[0x0112], found[0x010E] = turned, SECRET.decode()
    return found


def texts():
    info = PngImagePlugin.PngInfo()
    info.add_text("Comment", SECRET.decode())
    return info


PNG = picture("PNG")
JPEG = picture("JPEG")

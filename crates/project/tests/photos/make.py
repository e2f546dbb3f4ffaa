"""Makes the photos of this folder: a small picture whose file says where it was taken, with what, and more.

Written with Pillow and piexif (versions.txt); they are other programs than ours, so what the test
reads back is what other people's telephones and programs write. Run it anew only to make other photos."""
import io, struct, sys
import PIL, piexif
from PIL import Image, PngImagePlugin

place = {piexif.GPSIFD.GPSLatitudeRef: "N", piexif.GPSIFD.GPSLatitude: ((51, 1), (30, 1), (2642, 100)),
         piexif.GPSIFD.GPSLongitudeRef: "W", piexif.GPSIFD.GPSLongitude: ((0, 1), (7, 1), (3999, 100))}
exif = piexif.dump({"0th": {piexif.ImageIFD.Make: "Quillfen Optics", piexif.ImageIFD.Orientation: 6},
                    "Exif": {piexif.ExifIFD.DateTimeOriginal: "2026:11:24 09:00:00"}, "GPS": place})
xmp = b'<x:xmpmeta xmlns:x="adobe:ns:meta/"><exif:GPSLatitude>51,30.44N</exif:GPSLatitude></x:xmpmeta>'
picture = Image.new("RGB", (24, 16))
picture.putdata([(x * 10, y * 15, (x * y) % 256) for y in range(16) for x in range(24)])
small = io.BytesIO()
picture.resize((12, 8)).save(small, "JPEG")
for progressive in (False, True):
    out = io.BytesIO()
    picture.save(out, "JPEG", quality=90, progressive=progressive, exif=exif, xmp=xmp, comment=b"Quillfen bench 3", icc_profile=b"profile" * 40)
    name = "telephone-progressive.jpg" if progressive else "telephone.jpg"
    # A telephone puts a second picture with its own place behind the first.
    open(name, "wb").write(out.getvalue() + small.getvalue() + exif)
notes = PngImagePlugin.PngInfo()
notes.add_text("Comment", "Quillfen bench 3")
notes.add_itxt("XML:com.adobe.xmp", xmp.decode())
picture.save("screen.png", exif=exif, pnginfo=notes)
picture.save("telephone.webp", quality=90, exif=exif, xmp=xmp)
open("versions.txt", "w").write(f"Python {sys.version.split()[0]}, Pillow {PIL.__version__}, piexif {piexif.VERSION}\n")

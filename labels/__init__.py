"""Labels: codes and words in, PDF bytes out; photos in, codes out.

The room knows nothing of catalogues, databases or screens, and imports nothing of ``stash``. It may use a QR
library, a PDF library, a picture library and a barcode reader. It holds no clock and no randomness, so that the
same labels always give the same bytes.

    qr           one address as a matrix of modules
    stocks       sheets, rolls and tags as plain dimensions
    layout       where the symbol, the code and the words stand on one label
    type         the two bundled faces: what they cover and how wide words are
    text         what a label says, fitted by measured width
    marks        a shape and a letter for a design generation
    press        one label on a page
    sheet        labels placed on pages
    calibration  a page to measure a printer by
    preview      a page of a PDF as a picture
    reading      codes found in a photo
"""

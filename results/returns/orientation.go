package returns

import (
	"bytes"
	"encoding/binary"
	"image"
)

// orientation is the value of the Exif tag Orientation, 0x0112: on which sides of
// the scene the first row and the first column of the stored picture lie
// (CIPA DC-008, Exif, section on tags of TIFF Rev. 6.0; from memory).
//
//	1 top left      2 top right     3 bottom right  4 bottom left
//	5 left top      6 right top     7 right bottom  8 left bottom
type orientation uint16

const asStored orientation = 1

const (
	orientationTag = 0x0112
	exifShort      = 3
)

// sideways reports whether rows of the stored picture are columns of the scene.
func (o orientation) sideways() bool { return o >= 5 && o <= 8 }

// upright gives the picture as the scene was.
func (o orientation) upright(from *image.RGBA) *image.RGBA {
	if o <= asStored || o > 8 {
		return from
	}
	w, h := from.Rect.Dx(), from.Rect.Dy()
	to := image.NewRGBA(image.Rect(0, 0, w, h))
	if o.sideways() {
		to = image.NewRGBA(image.Rect(0, 0, h, w))
	}
	for y := range h {
		for x := range w {
			at := o.place(x, y, w-1-x, h-1-y)
			to.SetRGBA(at.X, at.Y, from.RGBAAt(x, y))
		}
	}
	return to
}

// place is where a pixel comes to lie that is so many columns from the first and
// the last, and so many rows.
func (o orientation) place(x, y, fromLast, fromBottom int) image.Point {
	switch o {
	case 2:
		return image.Pt(fromLast, y)
	case 3:
		return image.Pt(fromLast, fromBottom)
	case 4:
		return image.Pt(x, fromBottom)
	case 5:
		return image.Pt(y, x)
	case 6:
		return image.Pt(fromBottom, x)
	case 7:
		return image.Pt(fromBottom, fromLast)
	case 8:
		return image.Pt(y, fromLast)
	}
	return image.Pt(x, y)
}

// orientationOf reads the tag of a JPEG file; asStored where there is none that
// can be read. Only the first directory is looked at and none is followed, so that
// what points round in a circle leads nowhere.
func orientationOf(content []byte) orientation {
	found := asStored
	segments(content, func(marker byte, body []byte) bool {
		tiff, is := bytes.CutPrefix(body, []byte("Exif\x00\x00"))
		if marker != 0xE1 || !is { // APP1, also used for other things
			return true
		}
		found = orientationInTIFF(tiff)
		return false
	})
	return found
}

func orientationInTIFF(tiff []byte) orientation {
	var order binary.ByteOrder
	switch {
	case bytes.HasPrefix(tiff, []byte("II*\x00")):
		order = binary.LittleEndian
	case bytes.HasPrefix(tiff, []byte("MM\x00*")):
		order = binary.BigEndian
	}
	const header, entry = 8, 12
	if order == nil || len(tiff) < header {
		return asStored
	}
	at := order.Uint32(tiff[4:])
	if uint64(at)+2 > uint64(len(tiff)) {
		return asStored
	}
	count, list := int(order.Uint16(tiff[at:])), tiff[at+2:]
	for ; count > 0 && len(list) >= entry; count, list = count-1, list[entry:] {
		if order.Uint16(list) != orientationTag {
			continue
		}
		if value := orientation(order.Uint16(list[8:])); order.Uint16(list[2:]) == exifShort && value >= 1 && value <= 8 {
			return value
		}
		return asStored
	}
	return asStored
}

// progressive reports whether a JPEG file is coded so that it gets finer by and by
// (SOF2 and its kin, ITU-T T.81 table B.1).
func progressive(content []byte) (is bool) {
	segments(content, func(marker byte, _ []byte) bool {
		is = marker == 0xC2 || marker == 0xC6 || marker == 0xCA || marker == 0xCE
		return !is
	})
	return is
}

// segments visits the segments of a JPEG file up to its first scan (ITU-T T.81,
// B.1.1), until one is enough.
func segments(content []byte, visit func(marker byte, body []byte) bool) {
	rest, is := bytes.CutPrefix(content, []byte{0xFF, 0xD8})
	for is && len(rest) >= 4 && rest[0] == 0xFF {
		marker := rest[1]
		if marker == 0xFF { // a fill byte
			rest = rest[1:]
			continue
		}
		if marker == 0x01 || marker >= 0xD0 && marker <= 0xD7 { // stands alone
			rest = rest[2:]
			continue
		}
		size := int(binary.BigEndian.Uint16(rest[2:]))
		if marker == 0xDA || marker == 0xD9 || size < 2 || 2+size > len(rest) || !visit(marker, rest[4:2+size]) {
			return
		}
		rest = rest[2+size:]
	}
}

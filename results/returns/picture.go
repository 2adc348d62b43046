package returns

import (
	"bytes"
	"encoding/binary"
	"errors"
	"fmt"
	"image"
	"image/color"
	_ "image/gif" // forms that can be made smaller
	_ "image/jpeg"
	_ "image/png"
	"net/http"
	"slices"
	"strings"

	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp"
)

// What a picture may take to be decoded, by what its header says: a small file
// can claim any size. A phone's 50 megapixels are within it.
const (
	mostPixels = 1 << 26
	mostMemory = 256 << 20 // bytes
)

// ErrPictureSize is returned for a picture that is too large to be decoded.
var ErrPictureSize = errors.New("picture too large")

// CheckPicture refuses a picture by its header, before anything is decoded. What
// is no picture known here is never decoded, and passes.
func CheckPicture(content []byte) error {
	config, form, err := image.DecodeConfig(bytes.NewReader(content))
	if err == nil && form == "webp" {
		config, _, err = image.DecodeConfig(bytes.NewReader(frameOfWebP(content)))
	}
	if err != nil {
		return nil
	}
	wide, high := int64(config.Width), int64(config.Height)
	if wide*high > mostPixels || wide*high*bytesAPixel(config.ColorModel, content) > mostMemory {
		return fmt.Errorf("%w: %d x %d pixels, at most %d million are taken, fewer in forms that need much memory; make it smaller",
			ErrPictureSize, wide, high, mostPixels/1_000_000)
	}
	return nil
}

// bytesAPixel is what the decoders take for a pixel at most.
func bytesAPixel(model color.Model, content []byte) int64 {
	switch model {
	case color.RGBA64Model, color.NRGBA64Model:
		return 8
	case color.YCbCrModel, color.CMYKModel, color.GrayModel:
		if progressive(content) { // all coefficients wait for the last scan, 32 bits each
			return 4 * (4 + 1)
		}
	}
	return 4
}

// frameOfWebP leaves the extended header of a WebP file away: the size it states
// is not the one the decoder makes room for. (RIFF chunks as in RFC 9649,
// section 2.)
func frameOfWebP(content []byte) []byte {
	const header, chunk = 12, 8
	for at := header; at+chunk <= len(content); {
		name, size := string(content[at:at+4]), int64(binary.LittleEndian.Uint32(content[at+4:]))
		if name == "VP8 " || name == "VP8L" {
			return append(bytes.Clone(content[:header]), content[at:]...)
		}
		next := int64(at) + chunk + size + size%2
		if next > int64(len(content)) {
			break
		}
		at = int(next)
	}
	return content
}

// ShrinkPicture decodes a picture and makes it at most so many pixels wide, the
// right way up.
func ShrinkPicture(content []byte, wide int) (image.Image, error) {
	if err := CheckPicture(content); err != nil {
		return nil, err
	}
	from, _, err := image.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, err
	}
	turn := orientationOf(content)
	size := from.Bounds().Size()
	if size.X < 1 || size.Y < 1 {
		return nil, errors.New("picture without a pixel")
	}
	shown := size
	if turn.sideways() {
		shown = image.Pt(size.Y, size.X)
	}
	to := image.Pt(min(wide, shown.X), 0)
	to.Y = max(1, shown.Y*to.X/shown.X)
	if turn.sideways() {
		to = image.Pt(to.Y, to.X)
	}
	small := image.NewRGBA(image.Rectangle{Max: to})
	from = halved(from, to)
	draw.CatmullRom.Scale(small, small.Bounds(), from, from.Bounds(), draw.Src, nil)
	return turn.upright(small), nil
}

// halved takes a picture together, square by square, down to not less than twice a size: what makes it small in the end keeps a row of
// numbers for each of its rows, and looks at every pixel with care. It goes by strips, so that it takes no more than one of them and
// what comes out.
func halved(from image.Image, to image.Point) image.Image {
	at := from.Bounds()
	k := min(at.Dx()/(2*to.X), at.Dy()/(2*to.Y))
	if k < 2 {
		return from
	}
	size := image.Pt(at.Dx()/k, at.Dy()/k)
	out, strip := image.NewRGBA(image.Rectangle{Max: size}), image.NewRGBA(image.Rect(0, 0, size.X*k, k))
	sums := make([]uint32, 4*size.X)
	for y := range size.Y {
		draw.Draw(strip, strip.Rect, from, image.Pt(at.Min.X, at.Min.Y+y*k), draw.Src)
		clear(sums)
		for row := range k {
			pixels := strip.Pix[row*strip.Stride : row*strip.Stride+4*size.X*k]
			for x := range size.X {
				sum, square := sums[4*x:4*x+4:4*x+4], pixels[4*x*k:4*(x+1)*k]
				for i := 0; i+4 <= len(square); i += 4 {
					sum[0] += uint32(square[i])
					sum[1] += uint32(square[i+1])
					sum[2] += uint32(square[i+2])
					sum[3] += uint32(square[i+3])
				}
			}
		}
		area := uint32(k * k)
		line := out.Pix[y*out.Stride:]
		for i, sum := range sums {
			line[i] = uint8((sum + area/2) / area)
		}
	}
	return out
}

// TellsMore reports whether a picture file may carry more than the picture, such as where it was taken:
// segments of applications and comments in JPEG (ITU-T T.81, B.2.4), chunks of text and Exif in PNG (W3C
// PNG, third edition, 11.3; from memory) and WebP (RFC 9649). What cannot be read to its end may.
func TellsMore(content []byte) (more bool) {
	segments(content, func(marker byte, _ []byte) bool {
		more = marker > 0xE0 && marker <= 0xEF && marker != 0xEE || marker == 0xFE // APP0 is JFIF's and APP14 says how colours are coded
		return !more
	})
	if png, is := bytes.CutPrefix(content, []byte("\x89PNG\r\n\x1a\n")); is {
		return chunksTell(png, binary.BigEndian.Uint32, 4, "eXIf", "tEXt", "iTXt", "zTXt", "tIME")
	}
	if len(content) >= 12 && string(content[:4]) == "RIFF" && string(content[8:12]) == "WEBP" {
		return chunksTell(content[12:], binary.LittleEndian.Uint32, 0, "EXIF", "XMP ")
	}
	return more
}

// chunksTell looks for chunks of some names: of PNG, where the name stands behind the length, or of RIFF, where it stands
// before it.
func chunksTell(rest []byte, length func([]byte) uint32, name int, told ...string) bool {
	const head = 8
	for len(rest) >= head {
		if slices.Contains(told, string(rest[name:name+4])) {
			return true
		}
		n := int64(length(rest[4-name:]))
		if name == 0 {
			n += n % 2 // RIFF fills up to even lengths
		} else {
			n += 4 // the check sum
		}
		if head+n > int64(len(rest)) {
			return true
		}
		rest = rest[head+n:]
	}
	return len(rest) > 0
}

// KindOf is the type of a picture that browsers show; what is none is refused, with what to do.
func KindOf(content []byte) (string, error) {
	kind := http.DetectContentType(content)
	switch {
	case len(content) >= 12 && string(content[4:8]) == "ftyp":
		return "", refused(ErrNoPhoto, "heic", "its form (%s) is one that browsers do not show: have the phone take JPEG (camera setting “most compatible”), or save it as JPEG",
			strings.TrimSpace(string(content[8:12])))
	case !strings.HasPrefix(kind, "image/"):
		return "", refused(ErrNoPhoto, "no picture", "it is no picture a browser shows (%s): take JPEG, PNG, WebP or GIF", kind)
	}
	return kind, nil
}

package returns

import (
	"bytes"
	"encoding/binary"
	"hash/crc32"
	"image"
	"image/color"
	"image/gif"
	"image/jpeg"
	"image/png"
	"math/rand/v2"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/store"
)

// claimed is the beginning of a PNG file that claims a size (PNG specification,
// third edition, 11.2.1: IHDR).
func claimed(wide, high uint32, depth byte) []byte {
	head := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	head = binary.BigEndian.AppendUint32(head, wide)
	head = binary.BigEndian.AppendUint32(head, high)
	head = append(head, depth, 6, 0, 0, 0)
	return binary.BigEndian.AppendUint32(head, crc32.ChecksumIEEE(head[12:]))
}

// jpegClaiming is a JPEG file whose frame header claims a size.
func jpegClaiming(t *testing.T, wide, high uint16, sof byte) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, image.NewYCbCr(image.Rect(0, 0, 16, 16), image.YCbCrSubsampleRatio444), nil))
	content := out.Bytes()
	at := bytes.Index(content, []byte{0xFF, 0xC0})
	require.Positive(t, at)
	content[at+1] = sof
	binary.BigEndian.PutUint16(content[at+5:], high)
	binary.BigEndian.PutUint16(content[at+7:], wide)
	return content
}

// webPClaiming is a lossless WebP frame of a size behind an extended header that
// states a small one.
func webPClaiming(wide, high uint32) []byte {
	bits := 0x2f | uint64(wide-1)<<8 | uint64(high-1)<<22 // RFC 9649, section 3.4
	frame := binary.LittleEndian.AppendUint64(nil, bits)
	extended := []byte{0, 0, 0, 0, 9, 0, 0, 9, 0, 0} // 10 x 10
	chunks := append([]byte("WEBPVP8X\x0a\x00\x00\x00"), extended...)
	chunks = append(chunks, "VP8L\x08\x00\x00\x00"...)
	chunks = append(chunks, frame...)
	return append(binary.LittleEndian.AppendUint32([]byte("RIFF"), uint32(len(chunks))), chunks...)
}

// exif is a JPEG file with such an APP1 segment.
func exif(t *testing.T, app []byte) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, image.NewGray(image.Rect(0, 0, 40, 20)), nil))
	head := binary.BigEndian.AppendUint16([]byte{0xFF, 0xD8, 0xFF, 0xE1}, uint16(len(app)+2))
	return append(append(head, app...), out.Bytes()[2:]...)
}

// Whatever stands where the tag should be, the picture is shown as it is stored,
// and reading it comes to an end.
func TestOddExif(t *testing.T) {
	good := []byte("Exif\x00\x00MM\x00*\x00\x00\x00\x08\x00\x01\x01\x12\x00\x03\x00\x00\x00\x01\x00\x06\x00\x00\x00\x00\x00\x08")
	require.Equal(t, orientation(6), orientationOf(exif(t, good)))
	for n := range len(good) - 8 { // the tag's value is cut off as well, or all before it
		got := orientationOf(exif(t, good[:n]))
		assert.Equal(t, asStored, got, "cut after %d", n)
	}
	change := func(at int, to ...byte) []byte {
		odd := bytes.Clone(good)
		copy(odd[at:], to)
		return odd
	}
	for name, app := range map[string][]byte{
		"a directory far away":       change(10, 0xFF, 0xFF, 0xFF, 0xFF),
		"a directory at the end":     change(10, 0, 0, 0, byte(len(good)-6-1)),
		"a directory in itself":      change(10, 0, 0, 0, 0),
		"more entries than there":    change(14, 0xFF, 0xFF, 0x01, 0x13),
		"a value of another type":    change(18, 0, 4),
		"orientation 0":              change(24, 0, 0),
		"orientation 9":              change(24, 0, 9),
		"neither order of bytes":     change(6, 'X', 'X'),
		"another use of the segment": []byte("http://ns.adobe.com/xap/1.0/\x00<x/>"),
		"nothing":                    {},
	} {
		content := exif(t, app)
		assert.Equal(t, asStored, orientationOf(content), name)
		img, err := ShrinkPicture(content, 20)
		require.NoError(t, err, name)
		assert.Equal(t, image.Pt(20, 10), img.Bounds().Size(), name)
	}
	rnd := rand.New(rand.NewPCG(1, 2))
	whole := exif(t, good)
	for range 20_000 {
		odd := bytes.Clone(whole[:rnd.IntN(len(whole))])
		for range rnd.IntN(6) {
			if len(odd) > 0 {
				odd[rnd.IntN(min(len(odd), 60))] = byte(rnd.UintN(256))
			}
		}
		orientationOf(odd)
		progressive(odd)
		frameOfWebP(odd)
	}
	loop := []byte("RIFF\xff\xff\xff\xffWEBPVP8X\xf8\xff\xff\xff........")
	assert.Equal(t, loop, frameOfWebP(loop))
}

// Every form that is taken can be made smaller, also long and thin ones.
func TestShrinkPicture(t *testing.T) {
	img := image.NewPaletted(image.Rect(5, 5, 3005, 7), color.Palette{color.White, color.Black})
	var asPNG, asGIF bytes.Buffer
	require.NoError(t, png.Encode(&asPNG, img))
	require.NoError(t, gif.Encode(&asGIF, img, nil))
	for _, content := range [][]byte{asPNG.Bytes(), asGIF.Bytes()} {
		small, err := ShrinkPicture(content, 720)
		require.NoError(t, err)
		assert.Equal(t, image.Pt(720, 1), small.Bounds().Size())
	}
	_, err := ShrinkPicture([]byte("no picture"), 720)
	assert.ErrorIs(t, err, image.ErrFormat)
}

// What claims more than can be decoded is refused by its header, and no photo is
// kept of it; what a phone makes is taken.
func TestPicturesTooLarge(t *testing.T) {
	db, err := store.Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"), store.Real())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, db.Close()) })
	s := On(db, nil, nil)
	serial, code := "24-000001", "GH-20"
	number, err := s.OpenCase(t.Context(), serial, code, Intake{Complaint: "key dead", Conditions: []string{NothingVisible}, By: "Rosa"})
	require.NoError(t, err)
	c, err := s.Case(t.Context(), number.Number)
	require.NoError(t, err)
	for name, content := range map[string][]byte{
		"PNG of 60,000 x 60,000":     claimed(60_000, 60_000, 8),
		"PNG of 20,000 x 20,000":     claimed(20_000, 20_000, 8),
		"PNG of 16 bits":             claimed(7000, 7000, 16),
		"JPEG of 65,535 x 65,535":    jpegClaiming(t, 65535, 65535, 0xC0),
		"JPEG that is progressive":   jpegClaiming(t, 8000, 6000, 0xC2),
		"WebP behind a small canvas": webPClaiming(16384, 16384),
	} {
		_, err := s.AddPhoto(t.Context(), c, content, Photo{ContentType: "image/png", Name: "p", By: "Rosa"})
		assert.ErrorIs(t, err, ErrPictureSize, name)
		_, err = ShrinkPicture(content, 720)
		assert.ErrorIs(t, err, ErrPictureSize, name)
	}
	for name, content := range map[string][]byte{
		"a phone's 50 megapixels": jpegClaiming(t, 8192, 6144, 0xC0), "a progressive one": jpegClaiming(t, 4000, 3000, 0xC2),
		"a large drawing": claimed(8000, 8000, 8), "nothing known": []byte("no picture at all"), "WebP": webPClaiming(4000, 3000),
	} {
		assert.NoError(t, CheckPicture(content), name)
	}
	_, err = ShrinkPicture(claimed(1<<31-1, 1<<31-1, 8), 720)
	assert.Error(t, err, "as large as numbers go: the decoder does not take its header")
	again, err := s.Case(t.Context(), c.Number)
	require.NoError(t, err)
	assert.Empty(t, again.Photos)
}

package returned

import (
	"bytes"
	"encoding/base64"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/color"
	"image/jpeg"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/returns"
)

// The corners of a stored picture, each with a colour of its own: [row][column].
var corners = [2][2]color.RGBA{
	{{220, 20, 20, 255}, {20, 200, 20, 255}},
	{{20, 20, 220, 255}, {230, 230, 230, 255}},
}

// phonePhoto is a JPEG file of four coloured quarters, with the Exif tag
// Orientation as a phone writes it.
func phonePhoto(t *testing.T, orientation uint16, order binary.ByteOrder) []byte {
	t.Helper()
	img := image.NewRGBA(image.Rect(0, 0, 1600, 1000))
	for y := range 1000 {
		for x := range 1600 {
			img.SetRGBA(x, y, corners[y/500][x/800])
		}
	}
	var plain bytes.Buffer
	require.NoError(t, jpeg.Encode(&plain, img, nil))
	mark := map[binary.ByteOrder]string{binary.LittleEndian: "II*\x00", binary.BigEndian: "MM\x00*"}[order]
	app := []byte("Exif\x00\x00" + mark)
	word := func(v uint16) { b := make([]byte, 2); order.PutUint16(b, v); app = append(app, b...) }
	long := func(v uint32) { b := make([]byte, 4); order.PutUint32(b, v); app = append(app, b...) }
	long(8)
	word(2)
	word(0x0100) // ImageWidth, to be passed over
	word(4)
	long(1)
	long(1600)
	word(0x0112)
	word(3)
	long(1)
	word(orientation)
	word(0)
	long(8) // the next directory is this one again
	head := []byte{0xFF, 0xD8, 0xFF, 0xE1, 0, 0}
	binary.BigEndian.PutUint16(head[4:], uint16(len(app)+2))
	return append(append(head, app...), plain.Bytes()[2:]...)
}

// What a phone writes beside a picture, such as where it was taken, does not leave with the report; the
// original stays as it came.
func TestTheReportTellsNothingThatThePictureDoesNotShow(t *testing.T) {
	photo := phonePhoto(t, 6, binary.BigEndian)
	require.Less(t, len(photo), photoSmall, "a file that would be taken as it is")
	path := filepath.Join(t.TempDir(), "photo")
	require.NoError(t, os.WriteFile(path, photo, 0o644))
	shown := show(returns.Photo{ContentType: "image/jpeg"}, path)
	_, data, _ := strings.Cut(string(shown.Data), "base64,")
	content, err := base64.StdEncoding.DecodeString(data)
	require.NoError(t, err)
	assert.NotContains(t, string(content), "Exif")
	got, err := jpeg.DecodeConfig(bytes.NewReader(content))
	require.NoError(t, err)
	assert.Greater(t, got.Height, got.Width, "turned, since nothing says how any more")
	there, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.True(t, bytes.Equal(photo, there))

	text := func(kind string, body string) []byte {
		chunk := binary.BigEndian.AppendUint32(nil, uint32(len(body)))
		chunk = append(append(chunk, kind...), body...)
		return binary.BigEndian.AppendUint32(chunk, crc32.ChecksumIEEE(chunk[4:]))
	}
	var plain bytes.Buffer
	require.NoError(t, png.Encode(&plain, image.NewGray(image.Rect(0, 0, 2, 2))))
	told := append(append(bytes.Clone(plain.Bytes()[:33]), text("tEXt", "Comment\x00at home")...), plain.Bytes()[33:]...)
	for name, c := range map[string]struct {
		content []byte
		more    bool
	}{"a picture alone": {plain.Bytes(), false}, "with a text": {told, true}, "cut off": {told[:40], true}, "nothing": {nil, false}} {
		assert.Equal(t, c.more, returns.TellsMore(c.content), name)
	}
}

// A phone stores what its sensor saw and says in the tag which way is up. In the
// report each photo is the right way up.
func TestPhotosAreUpright(t *testing.T) {
	// On which side of the scene the first row and the first column lie (CIPA
	// DC-008, Exif, tag 0x0112, from memory).
	for orientation, sides := range [][2]string{
		1: {"top", "left"}, 2: {"top", "right"}, 3: {"bottom", "right"}, 4: {"bottom", "left"},
		5: {"left", "top"}, 6: {"right", "top"}, 7: {"right", "bottom"}, 8: {"left", "bottom"},
	} {
		for _, order := range []binary.ByteOrder{binary.LittleEndian, binary.BigEndian} {
			if orientation == 0 {
				continue
			}
			t.Run(fmt.Sprintf("%d %v", orientation, order), func(t *testing.T) {
				small, err := smaller(phonePhoto(t, uint16(orientation), order))
				require.NoError(t, err)
				got, err := jpeg.Decode(bytes.NewReader(small))
				require.NoError(t, err)
				size := got.Bounds().Size()
				assert.Equal(t, photoWide, size.X)
				if orientation >= 5 {
					assert.Equal(t, photoWide*1600/1000, size.Y)
				} else {
					assert.Equal(t, photoWide*1000/1600, size.Y)
				}
				for row, of := range corners {
					for column, want := range of {
						x, y := size.X/2, size.Y/2
						for i, side := range sides {
							if other := [2]int{row, column}[i] == 1; other {
								side = map[string]string{"top": "bottom", "bottom": "top", "left": "right", "right": "left"}[side]
							}
							switch side {
							case "top":
								y = size.Y / 4
							case "bottom":
								y = size.Y * 3 / 4
							case "left":
								x = size.X / 4
							case "right":
								x = size.X * 3 / 4
							}
						}
						r, g, b, _ := got.At(x, y).RGBA()
						assert.InDelta(t, want.R, r>>8, 12, "row %d column %d at %d,%d", row, column, x, y)
						assert.InDelta(t, want.G, g>>8, 12)
						assert.InDelta(t, want.B, b>>8, 12)
					}
				}
			})
		}
	}
}

// A picture that was kept before sizes were held, and claims more pixels than
// there is memory, is named in the report and not decoded.
func TestHugePhotoInAReport(t *testing.T) {
	path := filepath.Join(t.TempDir(), "huge")
	require.NoError(t, os.WriteFile(path, hugePNG(60_000, 60_000, 300<<10), 0o600))
	got := show(returns.Photo{Name: "huge.png", ContentType: "image/png"}, path)
	assert.True(t, got.Data == "", "it is not in the page")
	assert.Contains(t, got.Missing, "60000 x 60000 pixels")
}

// hugePNG is the beginning of a PNG file that claims a size (PNG specification,
// third edition, 11.2.1: IHDR), so many bytes long.
func hugePNG(wide, high uint32, size int) []byte {
	head := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	head = binary.BigEndian.AppendUint32(head, wide)
	head = binary.BigEndian.AppendUint32(head, high)
	head = append(head, 8, 6, 0, 0, 0)
	head = binary.BigEndian.AppendUint32(head, crc32.ChecksumIEEE(head[12:]))
	return append(head, make([]byte, size)...)
}

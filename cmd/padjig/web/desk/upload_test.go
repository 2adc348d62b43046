package desk_test

import (
	"bytes"
	"encoding/binary"
	"fmt"
	"hash/crc32"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"mime/multipart"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/returns"
)

// A phone's photo of some megabytes arrives, is kept whole, and is in the report;
// one that claims more pixels than there is memory is refused with its name.
func TestPhotosByForm(t *testing.T) {
	h, _, store := webtest.Door(t)
	put := t.TempDir()
	t.Setenv("TMPDIR", put) // where uploads wait
	c, err := store.Returns.OpenCase(t.Context(), "VK-000001", "VENT-6", returns.Intake{Complaint: "key dead", Conditions: []string{"dirty"}, Received: time.Now(), By: "Rosa"})
	require.NoError(t, err)
	grain := image.NewGray(image.Rect(0, 0, 1600, 1200))
	rnd := rand.New(rand.NewPCG(1, 1))
	for i := range grain.Pix {
		grain.Pix[i] = byte(rnd.UintN(256))
	}
	var photo bytes.Buffer
	require.NoError(t, jpeg.Encode(&photo, grain, &jpeg.Options{Quality: 95}))
	require.Greater(t, photo.Len(), 1<<20, "more than a form without files may have")

	head := []byte("\x89PNG\r\n\x1a\n\x00\x00\x00\rIHDR")
	head = binary.BigEndian.AppendUint32(binary.BigEndian.AppendUint32(head, 60_000), 60_000)
	head = append(head, 8, 6, 0, 0, 0)
	huge := binary.BigEndian.AppendUint32(head, crc32.ChecksumIEEE(head[12:]))

	send := func(name string, content []byte) (int, string) {
		var body bytes.Buffer
		w := multipart.NewWriter(&body)
		require.NoError(t, w.WriteField("token", door.FormToken("token of engineer")))
		require.NoError(t, w.WriteField("case", fmt.Sprint(c.Number)))
		f, err := w.CreateFormFile("photo", name)
		require.NoError(t, err)
		_, err = f.Write(content)
		require.NoError(t, err)
		require.NoError(t, w.Close())
		got := webtest.SendBody(h, http.MethodPost, "/returns/photo", w.FormDataContentType(), bytes.NewReader(body.Bytes()), int64(body.Len()))
		return got.Code, got.Body.String()
	}
	status, _ := send("front.jpg", photo.Bytes())
	assert.Equal(t, http.StatusSeeOther, status)
	status, say := send("huge.png", huge)
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, say, "huge.png")
	assert.Contains(t, say, "60000 x 60000 pixels")
	status, say = send("IMG_0001.HEIC", []byte("\x00\x00\x00\x18ftypheic\x00\x00\x00\x00mif1heic"))
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, say, "IMG_0001.HEIC was not taken: its form (heic) is one that browsers do not show: have the phone take JPEG")
	status, say = send("list.jpg", []byte("key 7 is dead"))
	assert.Equal(t, http.StatusUnprocessableEntity, status)
	assert.Contains(t, say, "it is no picture a browser shows (text/plain; charset=utf-8)")
	left, err := filepath.Glob(filepath.Join(put, "*"))
	require.NoError(t, err)
	assert.Empty(t, left, "what uploads waited in is removed")

	kept, err := store.Returns.Case(t.Context(), c.Number)
	require.NoError(t, err)
	require.Len(t, kept.Photos, 1)
	there, err := os.ReadFile(store.Returns.PhotoFile(kept.Photos[0]))
	require.NoError(t, err)
	assert.True(t, bytes.Equal(photo.Bytes(), there), "kept as it came")
	report := webtest.Fetch(t, h, webtest.Ask{Path: fmt.Sprintf("/returns/report/%d", c.Number), Role: "engineer"})
	require.Equal(t, http.StatusOK, report.Code)
	assert.Contains(t, report.Body.String(), `<img src="data:image/jpeg;base64,`)
}

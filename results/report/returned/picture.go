package returned

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image"
	_ "image/gif" // forms that can be made smaller
	"image/jpeg"
	_ "image/png"
	"os"

	"golang.org/x/image/draw"
	_ "golang.org/x/image/webp"

	"padjig/results"
)

// shownPhoto is a photo on the page, or why it is not there.
type shownPhoto struct {
	results.Photo
	Data    template.URL // the picture itself
	Missing string
}

const (
	photoWide  = 720       // pixels that a printed photo needs
	photoSmall = 200 << 10 // bytes up to which a file is taken as it is
)

// show takes a photo into the page, made smaller where it is large.
func show(p results.Photo, path string) shownPhoto {
	content, err := os.ReadFile(path)
	if err != nil {
		return shownPhoto{Photo: p, Missing: "the file is not there: padjig records check"}
	}
	kind := p.ContentType
	if len(content) > photoSmall {
		if small, err := smaller(content); err == nil {
			content, kind = small, "image/jpeg"
		}
	}
	data := fmt.Sprintf("data:%s;base64,%s", kind, base64.StdEncoding.EncodeToString(content))
	return shownPhoto{Photo: p, Data: template.URL(data)} // made of bytes, not of anybody's text
}

func smaller(content []byte) ([]byte, error) {
	from, _, err := image.Decode(bytes.NewReader(content))
	if err != nil {
		return nil, err
	}
	size := from.Bounds()
	wide := min(photoWide, size.Dx())
	to := image.NewRGBA(image.Rect(0, 0, wide, max(1, size.Dy()*wide/max(1, size.Dx()))))
	draw.CatmullRom.Scale(to, to.Bounds(), from, size, draw.Src, nil)
	var out bytes.Buffer
	err = jpeg.Encode(&out, to, &jpeg.Options{Quality: 80})
	return out.Bytes(), err
}

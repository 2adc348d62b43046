package returned

import (
	"bytes"
	"encoding/base64"
	"fmt"
	"html/template"
	"image/jpeg"
	"os"

	"padjig/results/returns"
)

// shownPhoto is a photo on the page, or why it is not there.
type shownPhoto struct {
	returns.Photo
	Data    template.URL // the picture itself
	Missing string
}

const (
	photoWide  = 720       // pixels that a printed photo needs
	photoSmall = 200 << 10 // bytes up to which a file is taken as it is
)

// show takes a photo into the page, made smaller where it is large, and without what its file tells besides the picture.
func show(p returns.Photo, path string) shownPhoto {
	content, err := os.ReadFile(path)
	if err != nil {
		return shownPhoto{Photo: p, Missing: "the file is not there: padjig records check"}
	}
	kind := p.ContentType
	if err := returns.CheckPicture(content); err != nil { // it would take the reader's browser down in place of us
		return shownPhoto{Photo: p, Missing: err.Error()}
	}
	more := returns.TellsMore(content) // where it was taken, say: the report goes out of the house
	if len(content) > photoSmall || more {
		small, err := smaller(content)
		switch {
		case err == nil:
			content, kind = small, "image/jpeg"
		case more:
			return shownPhoto{Photo: p, Missing: "it cannot be decoded: see it with the records"}
		}
	}
	data := fmt.Sprintf("data:%s;base64,%s", kind, base64.StdEncoding.EncodeToString(content))
	return shownPhoto{Photo: p, Data: template.URL(data)} // made of bytes, not of anybody's text
}

func smaller(content []byte) ([]byte, error) {
	small, err := returns.ShrinkPicture(content, photoWide)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = jpeg.Encode(&out, small, &jpeg.Options{Quality: 80})
	return out.Bytes(), err
}

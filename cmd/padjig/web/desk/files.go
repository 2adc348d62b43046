package desk

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"mime/multipart"
	"os"
	"path/filepath"
	"slices"
	"strconv"
	"sync"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/report/returned"
	"padjig/results/returns"
)

// reportPolicy lets a report be as package returned makes it: with a style of
// its own in it, pictures of this site, and no script at all.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"

// files are what is kept of a case, to be had as it stands.
type files struct {
	finder
	decoding sync.Mutex // of photos: reports asked for together would each take the room of a large one
}

// report is the report of a case on one page, to be printed.
func (f *files) report(v *page.Visit, c returns.Case) (any, error) {
	life, err := returned.Of(v.Ctx(), f.store, c)
	if err != nil {
		return nil, err
	}
	if len(c.Photos) > 0 {
		f.decoding.Lock()
		defer f.decoding.Unlock()
	}
	var out bytes.Buffer
	err = life.HTML(&out, f.store.Returns.PhotoFile, time.Now())
	return page.Document{Kind: "text/html; charset=utf-8", Policy: reportPolicy, Body: out.Bytes()}, err
}

func photoAddress(c returns.Case, p returns.Photo) string {
	return "/returns/photo/" + strconv.FormatInt(c.Number, 10) + "/" + p.Sum()
}

// photo is a photo of a case.
func (f *files) photo(v *page.Visit, c returns.Case) (any, error) {
	i := slices.IndexFunc(c.Photos, func(p returns.Photo) bool { return p.Sum() == v.Place("sum") })
	if i < 0 {
		return nil, page.NotFound(v.Say("error.nowhere"))
	}
	body, err := os.ReadFile(filepath.Clean(f.store.Returns.PhotoFile(c.Photos[i])))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, page.NotFound(v.Say("returns.photolost"))
	}
	return page.Document{Kind: c.Photos[i].ContentType, Body: body}, err
}

func readAll(header *multipart.FileHeader) ([]byte, error) {
	file, err := header.Open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, returns.MaxPhoto+1))
}

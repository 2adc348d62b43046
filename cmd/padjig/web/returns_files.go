package web

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
	"time"

	"padjig/results/report/returned"
	"padjig/results/returns"
)

// document is a view that is a file as it stands.
type document struct {
	kind, policy string
	body         []byte
}

// reportPolicy lets a report be as package returned makes it: with a style of
// its own in it, pictures of this site, and no script at all.
const reportPolicy = "default-src 'none'; style-src 'unsafe-inline'; img-src 'self' data:; frame-ancestors 'none'; base-uri 'none'; form-action 'none'"

// reportPage is the report of a case on one page, to be printed.
var reportPage = page{path: "/returns/report/{case}", name: "unit", who: desk, view: func(v *visit) (any, error) {
	c, err := v.caseOfPath()
	if err != nil {
		return nil, err
	}
	life, err := returned.Of(v.ctx(), v.site.Store, c)
	if err != nil {
		return nil, err
	}
	var out bytes.Buffer
	err = life.HTML(&out, v.site.Store.Returns.PhotoFile, time.Now())
	return document{"text/html; charset=utf-8", reportPolicy, out.Bytes()}, err
}}

func photoAddress(c returns.Case, p returns.Photo) string {
	return "/returns/photo/" + strconv.FormatInt(c.Number, 10) + "/" + p.Sum()
}

// photoPage is a photo of a case.
var photoPage = page{path: "/returns/photo/{case}/{sum}", name: "unit", who: desk, view: func(v *visit) (any, error) {
	c, err := v.caseOfPath()
	if err != nil {
		return nil, err
	}
	i := slices.IndexFunc(c.Photos, func(p returns.Photo) bool { return p.Sum() == v.r.PathValue("sum") })
	if i < 0 {
		return nil, notFound(v.say("error.nowhere"))
	}
	body, err := os.ReadFile(filepath.Clean(v.site.Store.Returns.PhotoFile(c.Photos[i])))
	if errors.Is(err, fs.ErrNotExist) {
		return nil, notFound(v.say("returns.photolost"))
	}
	return document{c.Photos[i].ContentType, "", body}, err
}}

func (v *visit) caseOfPath() (returns.Case, error) { return v.caseNumbered(v.r.PathValue("case")) }

// sendDocument answers with a file.
func (v *visit) sendDocument(d document) {
	v.w.Header().Set("Content-Type", d.kind)
	if d.policy != "" {
		v.w.Header().Set("Content-Security-Policy", d.policy)
	}
	_, _ = v.w.Write(d.body) // an error means that nobody listens any more
}

func readAll(header *multipart.FileHeader) ([]byte, error) {
	file, err := header.Open()
	if err != nil {
		return nil, err
	}
	defer file.Close()
	return io.ReadAll(io.LimitReader(file, returns.MaxPhoto+1))
}

// asStage turns what cannot be done at this point of a case into something a
// person is told.
func (v *visit) asStage(err error) error {
	if errors.Is(err, returns.ErrStage) || errors.Is(err, returns.ErrWords) {
		return wrong(err.Error())
	}
	return err
}

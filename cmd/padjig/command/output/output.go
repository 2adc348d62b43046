// Package output opens every file that a person names to be written. A new one is
// made; one that is there is replaced only when it can be seen that this program
// wrote it in the same form; a store never. What is made in one go is written
// beside and gets its name when it is whole.
package output

import (
	"crypto/rand"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"syscall"

	"padjig/cmd/padjig/command"
	"padjig/fixture/link"
	"padjig/results/report"
	"padjig/results/report/returned"
	"padjig/results/report/tag"
	"padjig/results/store"
)

// form is what is written, the flag that names the file, and how a file that
// this program wrote in it is known again; nil where nothing tells.
type form struct {
	what, flag string
	ours       func(f io.ReaderAt, size int64) bool
}

var (
	recordingForm = form{"a recording", "--record", func(f io.ReaderAt, size int64) bool {
		return link.IsRecording(io.NewSectionReader(f, 0, size))
	}}
	QualityPage  = form{"a page", "--html", begins(report.IsPage)}
	TagPage      = form{"a tag", "--html", begins(tag.IsPage)}
	ReturnsSheet = form{"a report", "--to", begins(returned.IsPage)}
	ReturnsText  = form{what: "a report as text", flag: "--to"}
	ProductDraft = form{what: "a product file", flag: "--out"}
	DemoFile     = form{what: "the demo's product", flag: "--dir"}
	CSVRows      = form{"rows as CSV", "--out", begins(report.IsCSV)}
	ParquetRows  = form{"rows as Parquet", "--out", report.IsParquet}
)

// headLength is how much of a file is looked at to tell what it is.
const headLength = 1024

func begins(is func(head []byte) bool) func(io.ReaderAt, int64) bool {
	return func(f io.ReaderAt, _ int64) bool { return is(headOf(f)) }
}

func headOf(f io.ReaderAt) []byte {
	head := make([]byte, headLength)
	n, _ := f.ReadAt(head, 0) // what cannot be read is nothing that is known
	return head[:n]
}

// refused is an output that is not written, with what to do about it.
func (f form) refused(path, why, remedy string) error {
	return command.Fail(command.Wrong, fmt.Errorf("write %s to %s: %s", f.what, path, why), remedy)
}

func (f form) failed(path string, err error) error {
	remedy := f.flag + " with another path"
	if cause, ok := errors.AsType[*fs.PathError](err); ok {
		err = cause.Err // the path that was given says more than that of the file beside
	}
	switch {
	case errors.Is(err, fs.ErrNotExist):
		remedy = fmt.Sprintf("mkdir -p %s first, or %s", filepath.Dir(path), remedy)
	case errors.Is(err, fs.ErrPermission):
		remedy = fmt.Sprintf("%s, in a folder that this user may write in", remedy)
	}
	return command.Fail(command.Wrong, fmt.Errorf("write %s to %s: %w", f.what, path, err), remedy)
}

func (f form) isThere(path string) error {
	why := "it is there already and stays"
	if f.ours != nil {
		why += ", for this program did not write it as " + f.what
	}
	return f.refused(path, why, fmt.Sprintf("%s with another path, or remove %s first if nobody needs it", f.flag, path))
}

// place is where an output goes.
type place struct {
	form
	path string      // as it was named
	file string      // where that leads
	old  fs.FileInfo // what is there and may be replaced; nil for nothing
	to   *os.File    // a stream, where nothing is replaced; nil for a file
}

// findPlace looks where a path leads, and refuses what is not ours to replace.
// store is that of the running command, "" for none: opening its file for a look
// would drop the locks this process has on it.
func findPlace(path string, as form, records string) (place, error) {
	p := place{form: as, path: path, file: path}
	if store.IsCompanion(path) {
		return p, as.refused(path, "it has the name of a file beside a store", as.flag+" with another name")
	}
	if _, err := os.Lstat(path); errors.Is(err, fs.ErrNotExist) {
		return p, nil
	}
	info, err := os.Stat(path)
	switch {
	case errors.Is(err, fs.ErrNotExist):
		return p, as.refused(path, "it is a link that leads nowhere", "remove the link, or "+as.flag+" with another path")
	case err != nil:
		return p, as.failed(path, err)
	case info.IsDir():
		return p, as.refused(path, "it is a folder", as.flag+" with the name of a file in it")
	}
	if p.to = standard(path, info); p.to != nil {
		return p, nil
	}
	if !info.Mode().IsRegular() {
		p.to, err = as.stream(path, info)
		return p, err
	}
	if p.file, err = filepath.EvalSymlinks(path); err != nil {
		return p, as.failed(path, err)
	}
	p.old = info
	return p, p.checkExisting(records)
}

// checkExisting refuses an existing file that is not ours.
func (p *place) checkExisting(records string) error {
	if held, err := os.Stat(records); err == nil && os.SameFile(held, p.old) {
		return p.isStore()
	}
	if store.IsCompanion(p.file) || p.old.Mode().Perm()&0o222 == 0 {
		return p.isThere(p.path)
	}
	f, err := os.Open(p.file)
	if err != nil {
		return p.failed(p.path, err)
	}
	defer f.Close()
	switch {
	case store.IsStore(headOf(f)):
		return p.isStore()
	case p.ours == nil || !p.ours(f, p.old.Size()):
		return p.isThere(p.path)
	}
	return nil
}

func (p *place) isStore() error {
	return p.refused(p.path, "it is a store of records, which nothing may overwrite", p.flag+" with another path")
}

// standard is the standard output or error, where a path names it.
func standard(path string, info fs.FileInfo) *os.File {
	switch filepath.Dir(path) {
	case "/dev", "/dev/fd", "/proc/self/fd":
	default:
		return nil
	}
	for _, f := range []*os.File{os.Stdout, os.Stderr} {
		if open, err := f.Stat(); err == nil && os.SameFile(open, info) {
			return f
		}
	}
	return nil
}

// stream opens a pipe that somebody reads, or what swallows everything. A jig's
// port and a disk are devices too.
func (f form) stream(path string, info fs.FileInfo) (*os.File, error) {
	null, err := os.Stat(os.DevNull)
	swallows := err == nil && os.SameFile(null, info)
	if info.Mode()&fs.ModeNamedPipe == 0 && !swallows {
		return nil, f.refused(path, "it is a device", f.flag+" with the path of a file")
	}
	to, err := os.OpenFile(path, os.O_WRONLY|syscall.O_NONBLOCK, 0) // waits for no reader
	if errors.Is(err, syscall.ENXIO) {
		return nil, f.refused(path, "it is a pipe that nobody reads", "start the reader first")
	}
	if err != nil {
		return nil, f.failed(path, err)
	}
	return to, nil
}

// output is a file that gets its name when it is whole.
type output struct {
	place
	*os.File
}

// New begins a file. Whoever calls it drops it at the end, kept or not.
func New(path string, as form, store string) (*output, error) {
	p, err := findPlace(path, as, store)
	if err != nil {
		return nil, err
	}
	if p.to != nil {
		return &output{p, p.to}, nil
	}
	beside := filepath.Join(filepath.Dir(p.file), ".unfinished-"+rand.Text())
	f, err := os.OpenFile(beside, os.O_RDWR|os.O_CREATE|os.O_EXCL, 0o666)
	if err != nil {
		return nil, as.failed(path, err)
	}
	return &output{p, f}, nil
}

// Drop takes away what was not kept.
func (o *output) Drop() {
	if o.to != nil {
		return
	}
	_ = o.File.Close() // closed already when it was kept
	_ = os.Remove(o.File.Name())
}

// Keep gives the file its name.
func (o *output) Keep() error {
	if o.to != nil {
		return nil
	}
	if err := errors.Join(o.likeOld(), o.Sync(), o.File.Close()); err != nil {
		return command.Fail(command.NotRecorded, fmt.Errorf("write %s to %s: %w", o.what, o.path, err),
			o.flag+" with a path on a disk with room")
	}
	if err := o.takeName(); err != nil {
		if errors.Is(err, fs.ErrExist) {
			return o.isThere(o.path)
		}
		return o.failed(o.path, err)
	}
	return nil
}

// likeOld lets those read the file who could read the one before.
func (o *output) likeOld() error {
	if o.old == nil {
		return nil
	}
	return o.Chmod(o.old.Mode().Perm())
}

// takeName replaces what may be replaced, and otherwise nothing, also when it
// came meanwhile.
func (o *output) takeName() error {
	if o.old != nil {
		if now, err := os.Lstat(o.file); err != nil || !os.SameFile(now, o.old) {
			return fs.ErrExist
		}
		return os.Rename(o.File.Name(), o.file)
	}
	err := os.Link(o.File.Name(), o.file)
	if err == nil || errors.Is(err, fs.ErrExist) || errors.Is(err, fs.ErrNotExist) {
		return err
	}
	claim, err := os.OpenFile(o.file, os.O_WRONLY|os.O_CREATE|os.O_EXCL, 0o666) // a disk without hard links
	if err != nil {
		return err
	}
	return errors.Join(claim.Close(), os.Rename(o.File.Name(), o.file))
}

// recording is a file that grows while it is written: what a program that was
// cut short has recorded is there. An earlier recording stays until the first
// frame of this one, and nothing is left where there was none.
type recording struct {
	place
	*os.File
	begun bool
}

// NewRecording begins a recording.
func NewRecording(path, store string) (*recording, error) {
	p, err := findPlace(path, recordingForm, store)
	if err != nil {
		return nil, err
	}
	if p.to != nil {
		return &recording{p, p.to, true}, nil
	}
	how := os.O_WRONLY
	if p.old == nil {
		how |= os.O_CREATE | os.O_EXCL
	}
	f, err := os.OpenFile(p.file, how, 0o666)
	switch {
	case errors.Is(err, fs.ErrExist):
		return nil, p.isThere(path)
	case err != nil:
		return nil, p.failed(path, err)
	}
	if now, err := f.Stat(); err != nil || p.old != nil && !os.SameFile(now, p.old) {
		return nil, errors.Join(p.isThere(path), f.Close())
	}
	return &recording{place: p, File: f}, nil
}

func (r *recording) Write(b []byte) (int, error) {
	if !r.begun {
		if err := r.Truncate(0); err != nil {
			return 0, err
		}
		r.begun = true
	}
	return r.File.Write(b)
}

func (r *recording) Close() error {
	if r.to == os.Stdout || r.to == os.Stderr {
		return nil
	}
	var gone error
	mine, err := r.Stat()
	if now, failed := os.Lstat(r.file); !r.begun && r.old == nil && errors.Join(err, failed) == nil && os.SameFile(now, mine) {
		gone = os.Remove(r.file)
	}
	return errors.Join(gone, r.File.Close())
}

// Write writes a whole output in one go.
func Write(path string, as form, store string, write func(io.Writer) error) error {
	o, err := New(path, as, store)
	if err != nil {
		return err
	}
	defer o.Drop()
	if err := write(o); err != nil {
		return as.failed(path, err)
	}
	return o.Keep()
}

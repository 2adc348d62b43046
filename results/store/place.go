package store

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"sync"
	"sync/atomic"
)

// ErrMoved is returned, from then on until the store is opened anew, when the
// file that lies under the store's name is no longer the one that was opened:
// what is written then is found by nobody.
var ErrMoved = errors.New("the records file was moved, deleted or replaced")

// place is what lay under the store's names when it was opened. SQLite holds on
// to the files it has opened, whatever becomes of their names, and reports
// success for writes that nobody will ever read. So device and inode under each
// name are compared with those of then, by name alone: opening the file to look
// would drop SQLite's locks (https://www.sqlite.org/howtocorrupt.html, 2.2).
type place struct {
	lost atomic.Pointer[error] // found once, and true from then on

	mu   sync.Mutex
	main os.FileInfo    // as last seen; nil before the file was opened
	logs [2]os.FileInfo // beside it, by logNames; nil while there is none
	left bool           // the connections must never be closed: that would write

	secured bool // nothing more is to be done about the loss
}

// gone is the error of a store that lost its place, nil of one that did not.
func (p *place) gone() error {
	if err := p.lost.Load(); err != nil {
		return *err
	}
	return nil
}

// before is what lies there just before the connections are made. Where the
// file was open before it must be the same, or nothing is opened at all.
func (p *place) before(path string) (os.FileInfo, error) {
	p.mu.Lock()
	defer p.mu.Unlock()
	now, err := os.Stat(path)
	if p.main == nil {
		if err != nil {
			return nil, nil // to be created
		}
		return now, nil
	}
	return p.main, p.compare(path, now, err)
}

// settle remembers what lies there when the connections are made; before is
// what lay there just before, so that it is known to be what was opened.
func (p *place) settle(path string, before os.FileInfo) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	now, err := os.Stat(path)
	if p.main = before; before == nil {
		p.main = now
	}
	if err := p.compare(path, now, err); err != nil {
		return err
	}
	p.main, p.logs = now, [2]os.FileInfo{}
	for i, name := range logNames {
		if log, err := os.Stat(path + name); err == nil {
			p.logs[i] = log
		}
	}
	return nil
}

// known reports whether it was seen which file was opened.
func (p *place) known() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	return p.main != nil
}

// same fails unless the file that was opened lies there.
func (p *place) same(path string) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	now, err := os.Stat(path)
	return p.compare(path, now, err)
}

func (p *place) compare(path string, now os.FileInfo, failed error) error {
	var err error
	switch {
	case failed != nil:
		err = movedError("%s is gone", path)
	case !os.SameFile(p.main, now):
		err = movedError("another file was put in place of %s", path)
	default:
		return nil
	}
	p.lost.CompareAndSwap(nil, &err)
	return err
}

func movedError(format string, args ...any) error {
	return fmt.Errorf("%w: %s; end padjig, put the right file back, then start it again",
		ErrMoved, fmt.Sprintf(format, args...))
}

// trouble is what is wrong with the place, and how much may be saved then.
type trouble struct {
	err      error
	restored bool // the file under our name may be somebody's copy: it is not to be written to
	ourLog   bool // our log still lies there, where it would be played into a file put in our place
}

// look compares names and files.
func (p *place) look(path string) *trouble {
	main, err := os.Stat(path)
	if err := p.compare(path, main, err); err != nil {
		return &trouble{err: err}
	}
	lost := p.lostLog(path)
	switch {
	case main.Size() < p.main.Size(): // it never shrinks: nothing is removed
		return &trouble{err: movedError("%s was overwritten", path), restored: true, ourLog: lost != logNames[0] && p.logs[0] != nil}
	case lost != "":
		touched := !main.ModTime().Equal(p.main.ModTime())
		return &trouble{err: movedError("%s%s beside it was deleted or replaced", path, lost), restored: touched}
	}
	p.main = main
	return nil
}

// logNames are what SQLite keeps beside the file: the log and its index. They
// stay as long as anybody has the file open.
var logNames = [2]string{"-wal", "-shm"}

// lostLog names the first of them that is not the one of before, empty if all are.
func (p *place) lostLog(path string) string {
	for i, name := range logNames {
		log, err := os.Stat(path + name)
		switch {
		case p.logs[i] == nil && err == nil:
			p.logs[i] = log
		case p.logs[i] != nil && (err != nil || !os.SameFile(p.logs[i], log)):
			return name
		}
	}
	return ""
}

// inPlace fails when the store lost its place; what was committed is then not
// to be acknowledged. It is called with no transaction open on the writing
// connection.
func (s *DB) inPlace(ctx context.Context) error { return s.place.check(ctx, s.path, s.write) }

func (p *place) check(ctx context.Context, path string, write *sql.DB) error {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.main == nil || p.secured {
		return p.gone()
	}
	wrong := p.look(path)
	if wrong == nil {
		return p.gone() // it may have been away, and is back
	}
	p.lost.CompareAndSwap(nil, &wrong.err)
	p.secure(ctx, path, write, wrong)
	return p.gone()
}

// secure keeps what is in the log, without touching a file that was put in
// place of ours. SQLite writes through what it has opened, so emptying the log
// carries it into our own file wherever that is now, and leaves nothing that
// would be played into another one. Nothing more can be done for what fails here.
func (p *place) secure(ctx context.Context, path string, write *sql.DB, wrong *trouble) {
	p.secured = true
	if write == nil {
		return
	}
	if !wrong.restored {
		var busy, inLog, moved int64
		_ = write.QueryRowContext(ctx, `PRAGMA wal_checkpoint(TRUNCATE)`).Scan(&busy, &inLog, &moved)
		return
	}
	p.left = true
	if wrong.ourLog {
		_ = os.Rename(path+"-wal", path+"-wal.overwritten")
	}
}

// abandon gives a connection up without closing it where closing would write.
func (p *place) abandon(db *sql.DB) error {
	if p.left {
		return nil
	}
	return db.Close()
}

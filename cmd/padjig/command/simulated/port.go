//go:build unix

package simulated

import (
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"

	"github.com/creack/pty"
	"golang.org/x/sys/unix"
	"golang.org/x/term"
)

// Port is a pseudo-terminal that stands for a serial port: a simulated
// jig has the one end, whoever opens the path has the other.
type Port struct {
	*os.File          // the jig's end
	far      *os.File // held open, so that a client who goes away does not end it
	link     string   // symbolic link to it, empty for none
}

// OpenPort opens a pseudo-terminal that passes every byte as it is. With a
// link, that path leads to it; nothing but a link to another terminal is replaced.
func OpenPort(link string) (*Port, error) {
	near, far, err := pty.Open()
	if err != nil {
		return nil, fmt.Errorf("open pseudo-terminal: %w", err)
	}
	p := &Port{File: near, far: far}
	// Before anybody can open it: a terminal would echo what comes and wait for
	// the ends of lines.
	raw := func(fd int) error { _, err := term.MakeRaw(fd); return err }
	if err := p.onFar(raw); err != nil {
		return nil, errors.Join(fmt.Errorf("make pseudo-terminal raw: %w", err), p.Close())
	}
	if link == "" {
		return p, nil
	}
	if err := placeLink(far.Name(), link); err != nil {
		return nil, errors.Join(err, p.Close())
	}
	p.link = link
	return p, nil
}

// Read reads what the client wrote. A client takes the port for itself, and one
// that is killed cannot give it back: that is done here, as soon as it has
// spoken. Its lock file keeps a second client out all the same.
func (p *Port) Read(b []byte) (int, error) {
	n, err := p.File.Read(b)
	_ = p.onFar(func(fd int) error { return unix.IoctlSetInt(fd, unix.TIOCNXCL, 0) }) // fails only when closed
	return n, err
}

// onFar does something with the far end's descriptor, which stays open meanwhile.
func (p *Port) onFar(do func(fd int) error) error {
	raw, err := p.far.SyscallConn()
	if err != nil {
		return err
	}
	var done error
	err = raw.Control(func(fd uintptr) { done = do(int(fd)) })
	return errors.Join(err, done)
}

// Path is what a client opens.
func (p *Port) Path() string {
	if p.link != "" {
		return p.link
	}
	return p.far.Name()
}

// Close hangs up, and takes the link away unless it leads elsewhere by now.
func (p *Port) Close() error {
	var unlinked error
	if target, err := os.Readlink(p.link); p.link != "" && err == nil && target == p.far.Name() {
		unlinked = os.Remove(p.link)
	}
	return errors.Join(unlinked, p.far.Close(), p.File.Close())
}

func placeLink(target, link string) error {
	info, err := os.Lstat(link)
	switch {
	case errors.Is(err, fs.ErrNotExist):
	case err != nil:
		return fmt.Errorf("link %s: %w", link, err)
	case info.Mode()&fs.ModeSymlink == 0:
		return fmt.Errorf("link %s: there is something that is no link, and it stays; choose another path", link)
	}
	if there, err := os.Readlink(link); err == nil && filepath.Dir(there) != filepath.Dir(target) {
		return fmt.Errorf("link %s: it is a link to %s, and it stays; choose another path", link, there)
	}
	// Renamed into place, so that a client never finds the path missing.
	fresh := fmt.Sprintf("%s.%d", link, os.Getpid())
	if err := os.Symlink(target, fresh); err != nil {
		return fmt.Errorf("link %s: %w", link, err)
	}
	if err := os.Rename(fresh, link); err != nil {
		return errors.Join(fmt.Errorf("link %s: %w", link, err), os.Remove(fresh))
	}
	return nil
}

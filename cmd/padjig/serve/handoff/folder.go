package handoff

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
)

// folder writes each event as a file of its own, which is whole from the moment it is there.
type folder struct{ path string }

func (f folder) Send(_ context.Context, m Message) error {
	name := fileName(m)
	there, err := os.ReadFile(filepath.Join(f.path, name))
	switch {
	case err == nil && bytes.Equal(there, m.Body):
		return nil // written, and then the power failed
	case err == nil:
		return &RefusedError{"file " + name + " is there with something else in it"}
	case !errors.Is(err, fs.ErrNotExist):
		return err
	}
	if _, err := os.Stat(f.path); err != nil {
		return err // it is never made: what was mounted there may be missing
	}
	return f.write(name, m.Body)
}

// write has the file on the disk before it gets its name, and the name before it returns.
func (f folder) write(name string, body []byte) (err error) {
	part := filepath.Join(f.path, "."+name+".part") // what a crash left of it is written over
	file, err := os.OpenFile(part, os.O_WRONLY|os.O_CREATE|os.O_TRUNC, 0o644)
	if err != nil {
		return err
	}
	_, err = file.Write(body)
	if err = errors.Join(err, file.Sync(), file.Close()); err != nil {
		return errors.Join(err, os.Remove(part)) // a full disk stays no fuller for it
	}
	if err := named(part, filepath.Join(f.path, name)); err != nil {
		return errors.Join(err, os.Remove(part))
	}
	return syncFolder(f.path)
}

// named gives a file its name unless there is one of that name: a link does so in one step.
// Where the disk has no links it is looked for before.
func named(part, whole string) error {
	err := os.Link(part, whole)
	switch {
	case err == nil:
		return os.Remove(part)
	case errors.Is(err, fs.ErrExist), errors.Is(err, fs.ErrNotExist):
		return err
	}
	if _, err := os.Lstat(whole); !errors.Is(err, fs.ErrNotExist) {
		return fmt.Errorf("%s: %w", whole, fs.ErrExist)
	}
	return os.Rename(part, whole)
}

func syncFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// fileName sorts in the order of the events. The serial number is for people: what no file
// name should have in it is replaced. The id tells files of two stations in one folder apart.
func fileName(m Message) string {
	unit := strings.Map(func(r rune) rune {
		if strings.ContainsRune("ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-_", r) {
			return r
		}
		return '_'
	}, m.Unit)
	return fmt.Sprintf("%012d-%s-%s-%s.json", m.Number, unit[:min(len(unit), 60)], m.Kind, m.ID[:8])
}

func (folder) Close() {}

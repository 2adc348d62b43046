package backup

import (
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"

	"padjig/results/store"
)

// photos brings the photos beside the copy. One that the backup before has shares its room with it, where the
// disk can do that; all are read and must be what their name says.
func (w work) photos(ctx context.Context, all []Photo, m *Manifest) (linked int, err error) {
	if len(all) == 0 {
		return 0, nil
	}
	before := w.before(*m)
	for _, p := range all {
		to := p.At(filepath.Join(w.temp, store.BackupName))
		if err := os.MkdirAll(filepath.Dir(to), 0o755); err != nil {
			return linked, err
		}
		size, shared, err := w.photo(ctx, p, to, before)
		switch {
		case ctx.Err() != nil:
			return linked, ctx.Err()
		case errors.Is(err, errLacking):
			m.Lacking = append(m.Lacking, p.Sum)
			continue
		case err != nil:
			return linked, err
		}
		if shared {
			linked++
		}
		name, err := filepath.Rel(w.temp, to)
		if err != nil {
			return linked, err
		}
		m.Files = append(m.Files, File{filepath.ToSlash(name), size, p.Sum})
	}
	return linked, nil
}

// errLacking is returned for a photo that the records speak of and that is not there.
var errLacking = errors.New("photo is lacking")

func (w work) photo(ctx context.Context, p Photo, to, before string) (size int64, shared bool, err error) {
	if before != "" && os.Link(p.At(before), to) == nil {
		if sum, size, err := sumOf(ctx, to); err == nil && sum == p.Sum {
			return size, true, nil
		}
		if err := os.Remove(to); err != nil {
			return 0, false, err
		}
	}
	sum, size, err := copyFile(ctx, p.At(w.db.Path()), to)
	if errors.Is(err, errSource) || err == nil && sum != p.Sum {
		return 0, false, errors.Join(errLacking, os.Remove(to))
	}
	return size, false, err
}

// before is the file of the records in the backup before of the same records; empty if there is none.
func (w work) before(m Manifest) string {
	all, err := List(w.folder)
	if err != nil {
		return ""
	}
	for i := len(all) - 1; i >= 0; i-- {
		if all[i].of(m) {
			return filepath.Join(all[i].Path, store.BackupName)
		}
	}
	return ""
}

// errSource is returned where it is the file to be copied that cannot be read.
var errSource = errors.New("cannot be read")

// copyFile copies a file to a new one on the disk, and gives the sum of what was read.
func copyFile(ctx context.Context, from, to string) (sum string, n int64, err error) {
	made, err := os.OpenFile(to, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return "", 0, err
	}
	source, err := os.Open(from)
	if err != nil {
		return "", 0, errors.Join(fmt.Errorf("%w: %w", errSource, err), made.Close())
	}
	defer source.Close()
	hash := sha256.New()
	n, err = io.Copy(made, io.TeeReader(stoppable{ctx, source}, hash))
	if err == nil {
		err = made.Sync()
	}
	return fmt.Sprintf("%x", hash.Sum(nil)), n, errors.Join(err, made.Close())
}

func writeSynced(path string, content []byte) error {
	f, err := os.OpenFile(path, os.O_CREATE|os.O_EXCL|os.O_WRONLY, 0o644)
	if err != nil {
		return err
	}
	if _, err = f.Write(content); err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

// syncFolders brings the names in a folder and in all below it to the disk.
func syncFolders(folder string) error {
	return filepath.WalkDir(folder, func(path string, entry fs.DirEntry, err error) error {
		if err != nil || !entry.IsDir() {
			return err
		}
		return store.SyncFile(path)
	})
}

package returns

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"time"

	"padjig/results/store"
)

// Photo is a picture of a returned unit. The file lies beside the database,
// named after the SHA-256 of what is in it.
type Photo struct {
	SHA256      [32]byte
	Bytes       int64
	ContentType string // such as image/jpeg
	Name        string // of the file it came from
	Note        string
	By          string
	At          time.Time // set by the store
}

// MaxPhoto is the largest photo taken, in bytes.
const MaxPhoto = 64 << 20

// AddPhoto keeps a photo of a case: first the file, on the disk for sure, then
// the row that speaks of it. The same picture is kept once however often it is
// added. SHA256, Bytes and At of p are set here.
func (s *Records) AddPhoto(ctx context.Context, c Case, content []byte, p Photo) (Photo, error) {
	p.SHA256, p.Bytes = sha256.Sum256(content), int64(len(content))
	err := s.db.Writable()
	switch {
	case err != nil:
	case len(content) == 0, len(content) > MaxPhoto:
		err = fmt.Errorf("%w: it has %d bytes, allowed are 1 to %d", ErrNoPhoto, len(content), MaxPhoto)
	case !strings.HasPrefix(p.ContentType, "image/"):
		err = fmt.Errorf("%w: %s", ErrNoPhoto, p.ContentType)
	default:
		if err = CheckPicture(content); err == nil {
			err = s.keepPhoto(s.PhotoFile(p), content)
		}
	}
	if err == nil {
		_, err = s.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) {
			p.At = s.db.Now().UTC()
			return []store.Entry{p.entry(c.Number)}, nil
		})
	}
	if err != nil {
		return Photo{}, s.ofCase(c, fmt.Sprintf("keep photo %s", p.Name), err)
	}
	return p, nil
}

// ErrNoPhoto is returned for a file that cannot be kept as a photo.
var ErrNoPhoto = errors.New("no photo")

func (p Photo) entry(number int64) store.Entry {
	e := store.Entry{Table: "return_photo"}
	e.Set("return_case", number)
	e.Set("sha256", p.SHA256[:])
	e.Set("bytes", p.Bytes)
	e.Set("content_type", p.ContentType)
	e.Set("name", p.Name)
	e.Set("note", p.Note)
	e.Set("by", p.By)
	e.Set("at_us", p.At)
	return e
}

// Sum is the SHA-256 as hexadecimal text.
func (p Photo) Sum() string { return fmt.Sprintf("%x", p.SHA256) }

// PhotoFile is where a photo lies: in a folder beside the database, spread
// over folders by the first two digits.
func (s *Records) PhotoFile(p Photo) string { return PhotoAt(s.db.Path(), p.Sum()) }

// PhotoAt is where the photo of a sum lies that belongs to the records at a path.
func PhotoAt(records, sum string) string {
	return filepath.Join(records+".photos", sum[:2], sum[2:])
}

// PhotoSums are the sums of all photos.
func PhotoSums(ctx context.Context, tx *sql.Tx) ([]string, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (string, error) {
		var sum []byte
		err := rows.Scan(&sum)
		return hex.EncodeToString(sum), err
	}, `SELECT DISTINCT sha256 FROM return_photo ORDER BY 1`)
}

// keepPhoto writes the file under its name when it is on the disk whole, and
// brings the folders above it there too. A good copy that is there stays.
func (s *Records) keepPhoto(path string, content []byte) error {
	there, err := os.ReadFile(path)
	if err == nil && bytes.Equal(there, content) {
		return nil
	}
	if err != nil && !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	folder := filepath.Dir(path)
	if err := os.MkdirAll(folder, 0o755); err != nil {
		return err
	}
	if err := writeSynced(folder, path, content); err != nil {
		return err
	}
	for _, dir := range []string{folder, filepath.Dir(folder), filepath.Dir(s.db.Path())} {
		if err := store.SyncFile(dir); err != nil {
			return err
		}
	}
	return nil
}

func writeSynced(folder, path string, content []byte) error {
	f, err := os.CreateTemp(folder, ".unfinished-*")
	if err != nil {
		return err
	}
	defer os.Remove(f.Name()) // no longer there under that name when all went well
	_, err = f.Write(content)
	if err == nil {
		err = f.Sync()
	}
	if err := errors.Join(err, f.Close()); err != nil {
		return err
	}
	return os.Rename(f.Name(), path)
}

// Checks are how the records of returns are looked at; photos take [Records.CheckPhotos].
func Checks() []store.Check {
	return []store.Check{store.Entries("return_case", "return_intake", "return_photo", "return_diagnosis", "return_disposition", "rework",
		"return_no_photo", "return_unlock", "return_disposal", "rework_deed")}
}

// CheckPhotos reads every photo and tells those that are gone or are not what
// was stored.
func (s *Records) CheckPhotos(ctx context.Context) (found []string, err error) {
	scan := func(rows *sql.Rows) (p Photo, err error) {
		var sum []byte
		err = rows.Scan(&sum, &p.Name)
		copy(p.SHA256[:], sum)
		return p, err
	}
	var photos []Photo
	err = s.db.View(ctx, func(tx *sql.Tx) (err error) {
		photos, err = store.Collect(ctx, tx, scan, `SELECT sha256, min(name) FROM return_photo GROUP BY sha256`)
		return err
	})
	for _, p := range photos {
		content, failed := os.ReadFile(s.PhotoFile(p))
		switch {
		case failed != nil:
			found = append(found, fmt.Sprintf("photo %s cannot be read: %v", p.Name, failed))
		case sha256.Sum256(content) != p.SHA256:
			found = append(found, fmt.Sprintf("photo %s is not what was stored: %s", p.Name, s.PhotoFile(p)))
		}
	}
	return found, err
}

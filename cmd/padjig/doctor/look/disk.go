package look

import (
	"errors"
	"os"
	"time"
)

// syncsIn measures how long a disk takes until it has what was written: a line is appended to a
// file that is removed afterwards, so often, and each time the disk is waited for.
func syncsIn(folder string) (took []time.Duration, err error) {
	f, err := os.CreateTemp(folder, ".padjig-doctor-*")
	if err != nil {
		return nil, err
	}
	defer func() { err = errors.Join(err, f.Close(), os.Remove(f.Name())) }()
	line := make([]byte, 4096) // a page of the records
	for range 9 {
		began := time.Now()
		if _, err := f.Write(line); err != nil {
			return nil, err
		}
		if err := f.Sync(); err != nil {
			return nil, err
		}
		took = append(took, time.Since(began))
	}
	return took, nil
}

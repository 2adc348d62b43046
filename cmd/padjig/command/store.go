package command

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"strings"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/store"
)

// OpenStore opens the records for testing, and creates them and the default
// folder when there are none.
func OpenStore(ctx context.Context, path string) (*results.Store, error) {
	if AtPlant(path) {
		return nil, Fail(Wrong, errors.New("--store: the records of a plant are not written from here: they come from its stations"),
			"the same on the station that it is about, --store with its file")
	}
	full, err := storePath(path)
	if err != nil {
		return nil, err
	}
	if path == "" {
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return nil, Fail(NotRecorded, fmt.Errorf("open store: %w", err), "--store with another path")
		}
	}
	store, err := results.Open(ctx, full)
	if err != nil {
		return nil, Fail(NotRecorded, err, "")
	}
	return store, nil
}

// ReadStore opens records that are there already: those of a station, or of a plant by the address of its database.
func ReadStore(ctx context.Context, path string) (*results.Store, error) {
	if AtPlant(path) {
		return readPlant(ctx, "--store", path, path)
	}
	return ReadOwnStore(ctx, path)
}

// ReadOwnStore opens those of a station, for what a plant does not have.
func ReadOwnStore(ctx context.Context, path string) (*results.Store, error) {
	if err := notAtPlant(path); err != nil {
		return nil, err
	}
	full, err := storePath(path)
	if err != nil {
		return nil, err
	}
	if store.IsBackup(full) {
		full = filepath.Join(full, store.BackupName)
	}
	records, err := results.OpenReadOnly(ctx, full)
	if errors.Is(err, store.ErrNoStore) || errors.Is(err, store.ErrForeign) {
		return nil, Fail(Wrong, err, "--store with the path of the records")
	}
	if err != nil {
		return nil, Fail(NotRecorded, err, "")
	}
	return records, nil
}

func storePath(path string) (string, error) {
	if path != "" {
		return path, nil
	}
	if dir := os.Getenv("XDG_DATA_HOME"); filepath.IsAbs(dir) {
		return filepath.Join(dir, "padjig", "records.sqlite"), nil
	}
	home, err := os.UserHomeDir()
	if err != nil {
		return "", Fail(NotRecorded, fmt.Errorf("find the records: %w", err), "--store with a path")
	}
	return filepath.Join(home, ".local", "share", "padjig", "records.sqlite"), nil
}

// RecordsOf are the records of a store, for whoever has units tested.
func RecordsOf(s *results.Store) station.Records {
	return station.Records{Store: s, At: StoreArgument(s)}
}

// StoreArgument is what a suggested command needs to reach the same records.
func StoreArgument(s *results.Store) string {
	usual, err := storePath("")
	if err == nil && usual == s.Path() {
		return ""
	}
	if strings.ContainsAny(s.Path(), " '") {
		return " --store '" + strings.ReplaceAll(s.Path(), "'", `'\''`) + "'"
	}
	return " --store " + s.Path()
}

// BesideStore is the path of the store a command has open, for an output that must not be it.
func BesideStore(flag string) string {
	path, err := storePath(flag)
	if err != nil {
		return "" // a command that needs it has said so
	}
	return path
}

// RecordsFailed is an error of a store that was open: its records are what to look at.
func RecordsFailed(s *results.Store, err error) error {
	if s.OfMany() {
		return Fail(NotRecorded, err, "the address in --store, and whether the database runs")
	}
	return Fail(NotRecorded, err, "padjig records check"+StoreArgument(s))
}

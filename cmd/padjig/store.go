package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/store"
)

// openStore opens the records for testing, and creates them and the default
// folder when there are none.
func openStore(ctx context.Context, path string) (*results.Store, error) {
	full, err := storePath(path)
	if err != nil {
		return nil, err
	}
	if path == "" {
		if err := os.MkdirAll(filepath.Dir(full), 0o755); err != nil {
			return nil, fail(statusNotRecorded, fmt.Errorf("open store: %w", err), "--store with another path")
		}
	}
	store, err := results.Open(ctx, full)
	if err != nil {
		return nil, fail(statusNotRecorded, err, "")
	}
	return store, nil
}

// readStore opens records that are there already.
func readStore(ctx context.Context, path string) (*results.Store, error) {
	full, err := storePath(path)
	if err != nil {
		return nil, err
	}
	records, err := results.OpenReadOnly(ctx, full)
	if errors.Is(err, store.ErrNoStore) || errors.Is(err, store.ErrForeign) {
		return nil, fail(statusWrong, err, "--store with the path of the records")
	}
	if err != nil {
		return nil, fail(statusNotRecorded, err, "")
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
		return "", fail(statusNotRecorded, fmt.Errorf("find the records: %w", err), "--store with a path")
	}
	return filepath.Join(home, ".local", "share", "padjig", "records.sqlite"), nil
}

// recordsOf are the records of a store, for whoever has units tested.
func recordsOf(s *results.Store) station.Records {
	return station.Records{Store: s, At: storeArgument(s)}
}

// storeArgument is what a suggested command needs to reach the same records.
func storeArgument(s *results.Store) string {
	usual, err := storePath("")
	if err == nil && usual == s.Path() {
		return ""
	}
	return " --store " + s.Path()
}

// besideStore is the path of the store a command has open, for an output that must not be it.
func besideStore(flag string) string {
	path, err := storePath(flag)
	if err != nil {
		return "" // a command that needs it has said so
	}
	return path
}

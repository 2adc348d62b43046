package serve

// What a station hears of its plant.

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"slices"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/serve/notices"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/plant/notice"
)

// hearing has what the plant decided meanwhile taken before the lanes begin, and gives what goes on
// taking it beside them, and in turn what ends that.
func (o *stationFlags) hearing(ctx context.Context, store *results.Store, db *sql.DB) (begin func(context.Context, []*station.Lane) (end func()), err error) {
	if o.plantKey == "" {
		return func(context.Context, []*station.Lane) func() { return func() {} }, nil
	}
	if db == nil {
		return nil, command.WrongUsef("--plant-key says whom to believe, and nothing says where to read: give --plant as well")
	}
	pinned, err := publicKeys(o.plantKey)
	if err != nil {
		return nil, err
	}
	pump := &notices.Pump{Plant: db, Records: store.Notices, Pinned: pinned, Stale: o.plantStale, Member: o.member}
	if err := pump.First(ctx); err != nil {
		return nil, otherPlant(store, err)
	}
	return func(ctx context.Context, lanes []*station.Lane) func() {
		pump.Changed = func(products []string) { follow(ctx, store, lanes, products) }
		return pump.Start(ctx)
	}, nil
}

// publicKeys reads the file with a plant's public keys.
func publicKeys(path string) ([]ed25519.PublicKey, error) {
	text, err := os.ReadFile(path)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("--plant-key: %w", err), "the file that padjig plant key --public printed at the plant's office")
	}
	keys, err := notice.ReadPublic(text)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("--plant-key %s: %w", path, err), "the file that padjig plant key --public printed at the plant's office")
	}
	return keys, nil
}

// otherPlant says why the notices that the records have are not those of the plant whose keys are pinned.
func otherPlant(store *results.Store, err error) error {
	wrong, is := errors.AsType[notice.Mistake](err)
	switch {
	case !is:
		return command.RecordsFailed(store, err)
	case wrong.Code == notice.OtherOffice:
		return command.Fail(command.Wrong, fmt.Errorf("%s are the records of a plant's office, which takes no notices", store.Path()), "--store with the station's own records")
	}
	return command.Fail(command.Wrong, fmt.Errorf("the notices in %s are not signed by the keys in --plant-key (%w)", store.Path(), wrong),
		"the keys of the plant that this station belongs to; compare the fingerprint with padjig plant key at its office")
}

// follow has the lanes test by what came into force, from the next unit on. What cannot be read is
// said when the next unit is scanned.
func follow(ctx context.Context, store *results.Store, lanes []*station.Lane, products []string) {
	for _, lane := range lanes {
		code := lane.State().Product.Code
		if slices.Contains(products, code) {
			if p, err := (station.Records{Store: store}).Released(ctx, code); err == nil && p != nil {
				lane.Release(p)
			}
		}
		lane.Refresh()
	}
}

package notices

import (
	"context"
	"crypto/ed25519"
	"database/sql"

	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/store"
)

// Publisher issues what an office decided, and puts it up at the plant.
type Publisher struct {
	Plant   *sql.DB
	Records *notices.Records
	Key     ed25519.PrivateKey // that signs
}

// Published is what came of it once.
type Published struct {
	Issued []notice.Notice // made now
	Put    int             // put up now
	Head   notice.Head
}

// Once does so once. What was issued and not put up, since the plant was away, is put up next time.
// With another key in further, next signs from then on.
func (p *Publisher) Once(ctx context.Context, further notices.Further, next ed25519.PrivateKey) (done Published, err error) {
	if done.Issued, err = p.Records.Issue(ctx, p.Key, further); err != nil {
		return done, err
	}
	if further.Next != nil {
		p.Key = next
	}
	done.Put, done.Head, err = board.Put(ctx, p.Plant, board.Office{
		Own:  p.own(ctx),
		Head: func() (notice.Head, error) { return p.Records.Head(ctx, p.Key) },
	})
	return done, err
}

func (p *Publisher) own(ctx context.Context) func(after int64) ([]notice.Notice, error) {
	return func(after int64) ([]notice.Notice, error) {
		const all = 1 << 30
		list, err := p.Records.List(ctx, after, all)
		return store.Each(list, func(k notices.Kept) notice.Notice { return k.Notice }), err
	}
}

// TakeOver takes over what hangs at the plant and these records did not issue.
func (p *Publisher) TakeOver(ctx context.Context) (taken int, err error) {
	const all = 1 << 30
	_, keys, err := p.Records.Plant(ctx)
	if err != nil || len(keys) == 0 {
		return 0, err
	}
	own, err := p.own(ctx)(0)
	if err != nil {
		return 0, err
	}
	list, _, err := board.Read(ctx, p.Plant, int64(len(own)), all)
	if err != nil || len(list) == 0 {
		return 0, err
	}
	return len(list), p.Records.TakeOver(ctx, list)
}

package plant

// padjig plant office add, and what the pages of an office know of its notices.

import (
	"context"
	"database/sql"
	"errors"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	publishing "padjig/cmd/padjig/serve/notices"
	"padjig/cmd/padjig/web/notices"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	records "padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/plant/postgres"
	"padjig/results/plant/roles"
)

func newOffice() *cobra.Command {
	return command.Noun("office", "The offices of a plant", `  padjig plant office add pages --plant "host=/run/postgresql dbname=plant user=plant_owner"`,
		addsLogin(&cobra.Command{
			Use:   "add NAME --plant ADDRESS",
			Short: "Make a role that reads a plant and puts notices up",
			Long: `Makes a role of the database for padjig plant serve --key and padjig plant publish: it
reads all records of the plant, puts notices up behind those that hang there, and
changes nothing else. What it puts up is believed by its signature alone: who has the
role and not the key decides nothing. Its name is that of the database, _office_ and
NAME, which is of small letters and digits.`,
			Example: `  padjig plant office add pages --plant "host=/run/postgresql dbname=plant user=plant_owner"
  padjig plant office add pages --plant postgres://plant_owner@/plant --password-file o.password`,
			Args: command.Exactly(1, "the name of an office"),
		}, func(ctx context.Context, p *roles.Plant, name, verifier string) (roles.Login, error) {
			l, err := p.AddOffice(ctx, name, verifier)
			if errors.Is(err, roles.ErrReaderName) {
				err = command.WrongUse(err)
			}
			return l, err
		}))
}

// Notices are the page of an office's notices; by is nil where it does not publish them itself.
func Notices(db *sql.DB, store *results.Store, by *publishing.Office) page.Set {
	plant := notices.Plant{
		Stations: func(ctx context.Context) ([]board.Taken, error) { return board.Stations(ctx, db) },
		Away:     func(err error) bool { return postgres.Away(err) || postgres.Untrusted(err) },
	}
	if by == nil {
		return notices.Set(store, plant, nil)
	}
	return notices.Set(store, plant, &notices.Publishing{
		Every: by.Every(),
		State: func() notices.State { return stateOf(by.State()) },
		Now:   func(ctx context.Context) notices.State { return stateOf(by.Now(ctx)) },
	})
}

func stateOf(s publishing.State) notices.State {
	return notices.State{Last: s.Last, Tried: s.Tried, Count: s.Count, Why: why(s.Trouble), Since: s.Since}
}

// why says by a code why nothing was put up.
func why(err error) notices.Why {
	_, broken := errors.AsType[notice.Mistake](err)
	switch {
	case err == nil:
		return ""
	case postgres.Untrusted(err):
		return notices.Untrusted
	case postgres.Away(err), errors.Is(err, context.DeadlineExceeded):
		return notices.Away
	case errors.Is(err, board.ErrOtherNotices):
		return notices.OtherOffice
	case errors.Is(err, records.ErrOtherKey):
		return notices.OtherKey
	case errors.Is(err, records.ErrStation):
		return notices.OfAStation
	case broken:
		return notices.Broken
	}
	switch postgres.Code(err) {
	case postgres.NotPermitted:
		return notices.NotPermitted
	case postgres.UndefinedTable:
		return notices.OtherTables
	}
	return notices.Unknown
}

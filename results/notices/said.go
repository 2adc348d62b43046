package notices

import (
	"context"
	"database/sql"
	"fmt"
	"strconv"
	"time"

	"padjig/results/plant/notice"
	"padjig/results/store"
)

// Code names what a person should know of the plant before a unit is tested.
type Code string

// The codes, each with its arguments.
const (
	Ahead       Code = "plant ahead"        // product, number of its notice that was not taken, number of the last that was: blocks
	LabelIsUsed Code = "plant label"        // product, label: blocks
	DateOver    Code = "plant date over"    // what it is of, its name, the day: blocks
	DateSoon    Code = "plant date soon"    // likewise
	NotBelieved Code = "plant not believed" // code of the mistake, number of the notice or head
	NotHeard    Code = "plant not heard"    // for how many hours
	NeverHeard  Code = "plant never heard"  // none
)

// Said is one thing to know.
type Said struct {
	Code   Code
	Args   []string
	Text   string // in words, for a terminal
	Blocks bool   // no unit of the product is tested until it is mended
}

// About is what is asked about: a unit of a product on a jig.
type About struct {
	Product, Jig string
	Units        []string // reference units of the product
	Now          time.Time
}

// dateSoon is how long before its last day something is said of it.
const dateSoon = 7 * 24 * time.Hour

// Said says what there is to know of the plant before a unit is tested; nothing where the
// records never had to do with one.
func (s *Records) Said(ctx context.Context, a About) (list []Said, err error) {
	err = s.db.Ask(ctx, "look up what the plant says", func(tx *sql.Tx) error {
		st, err := standing(ctx, tx)
		if err != nil || st == nil {
			return err
		}
		add := func(blocks bool, code Code, text string, args ...string) {
			list = append(list, Said{code, args, text, blocks})
		}
		if st.Head != nil && st.Head.Products[a.Product] > st.Taken {
			number := st.Head.Products[a.Product]
			add(true, Ahead, fmt.Sprintf("the plant decided about %s in notice %d, and this station has notices up to %d", a.Product, number, st.Taken),
				a.Product, fmt.Sprint(number), fmt.Sprint(st.Taken))
		}
		if err := labelUsed(ctx, tx, a.Product, add); err != nil {
			return err
		}
		if st.Trouble != nil {
			add(false, NotBelieved, fmt.Sprintf("what comes of the plant is not believed (%s, number %d); what is here stays in force", st.Trouble.Code, st.Trouble.Number),
				string(st.Trouble.Code), fmt.Sprint(st.Trouble.Number))
		}
		if silent, over := st.Silent(a.Now); over && st.Heard.IsZero() {
			add(false, NeverHeard, "nothing was ever heard of the plant; what is here is in force")
		} else if over {
			hours := strconv.Itoa(int(silent.Hours()))
			add(false, NotHeard, "nothing new was heard of the plant for "+hours+" h; what is here stays in force", hours)
		}
		a.Now = st.surely(a.Now)
		return dated(ctx, tx, a, add)
	})
	return list, err
}

type adding func(blocks bool, code Code, text string, args ...string)

// labelUsed tells of a product whose newest release by the plant is not in force here.
func labelUsed(ctx context.Context, tx *sql.Tx, product string, add adding) error {
	var body, outcome string
	found, err := store.RowOf(ctx, tx, `
		SELECT body, coalesce(outcome, '') FROM notice LEFT JOIN notice_effect ON notice = notice.seq
		WHERE notice.kind IN ('release', 'return') AND subject = ? ORDER BY notice.seq DESC LIMIT 1`, []any{product}, &body, &outcome)
	if err != nil || !found || Outcome(outcome) != LabelTaken {
		return err
	}
	b, err := notice.Notice{Body: []byte(body)}.AsRelease()
	if err == nil {
		add(true, LabelIsUsed, fmt.Sprintf("the plant released %s revision %q, and this station knows another definition by that label", product, b.Label), product, b.Label)
	}
	return err
}

// dated tells of what the plant gave a last day that is over, or soon is.
func dated(ctx context.Context, tx *sql.Tx, a About, add adding) error {
	for i, name := range append([]string{a.Jig}, a.Units...) {
		of := "unit"
		if i == 0 {
			of = "jig"
		}
		b, err := dateOf(ctx, tx, of, name)
		if err != nil {
			return err
		}
		if b == nil {
			continue
		}
		last, err := b.LastDay()
		if err != nil {
			return err
		}
		switch left := last.AddDate(0, 0, 1).Sub(a.Now); {
		case left <= 0:
			add(true, DateOver, fmt.Sprintf("%s %s was to be used until %s, by the plant", of, name, b.Due), of, name, b.Due)
		case left <= dateSoon:
			add(false, DateSoon, fmt.Sprintf("%s %s is to be used until %s, by the plant", of, name, b.Due), of, name, b.Due)
		}
	}
	return nil
}

// dateOf is what the plant said last of when something may be used; nil for nothing.
func dateOf(ctx context.Context, tx *sql.Tx, of, name string) (*notice.DatesBody, error) {
	list, err := store.Collect(ctx, tx, store.ScanText, `SELECT body FROM notice WHERE kind = 'dates' AND subject = ? ORDER BY seq DESC`, name)
	for _, body := range list {
		if b, failed := (notice.Notice{Body: []byte(body)}).AsDates(); failed != nil || b.Of == of {
			return &b, failed
		}
	}
	return nil, err
}

// surely is the time that it is at least, by the clock of this computer and by the newest head of the plant's that is believed: a
// clock that was put back makes nothing good again whose last day is over.
func (s *Contact) surely(now time.Time) time.Time {
	if s.Head != nil && s.Head.Issued.After(now) {
		return s.Head.Issued
	}
	return now
}

// Limit is the last day on which something may be used that goes by any of some names, when the station itself has a last day of
// it: the earliest that is said. A later one of the plant's lengthens no certificate, and of the plant's the one that was said
// last counts. now is the time that it is at least.
func (s *Records) Limit(ctx context.Context, of string, own, clock time.Time, names ...string) (last, now time.Time, err error) {
	last, now = own, clock
	err = s.db.Ask(ctx, "look up until when it may be used", func(tx *sql.Tx) error {
		st, err := standing(ctx, tx)
		if err != nil || st == nil {
			return err
		}
		now = st.surely(clock)
		for _, name := range names {
			b, err := dateOf(ctx, tx, of, name)
			if err != nil || b == nil {
				if err != nil {
					return err
				}
				continue
			}
			day, err := b.LastDay()
			if err != nil {
				return err
			}
			if day.Before(last) {
				last = day
			}
		}
		return nil
	})
	return last, now, err
}

// Date is what the plant said last of when a reference box, a reference unit or a jig may be used; nil for nothing.
func (s *Records) Date(ctx context.Context, of, name string) (b *notice.DatesBody, err error) {
	err = s.db.Ask(ctx, "look up until when it may be used", func(tx *sql.Tx) error {
		b, err = dateOf(ctx, tx, of, name)
		return err
	})
	return b, err
}

package returns

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
	"padjig/sequence/fields"
)

// Search is what cases are asked for; what is empty asks for nothing. Parts are found whatever their
// letters' case.
type Search struct {
	Serial    string // part of it
	Customer  string // likewise
	Complaint string // one of Complaints
	Words     string // part of what was written at the intake, or of the complaint's word
	State     string // open or closed
	Older     int    // came back more than so many days ago
	Sort      string // one of SortedBy, "-" before it from the top down; newest case first
	Most      int    // of those found are given
}

// The states that cases are asked for.
const (
	Open   = "open"
	Closed = "closed"
)

// SortedBy is what cases can be sorted by.
var SortedBy = []string{"case", "serial", "product", "received", "customer", "complaint", "state"}

// ErrSearch is returned for a search that asks for what there cannot be.
var ErrSearch = errors.New("search refused")

func (q Search) check() error {
	sorted := strings.TrimPrefix(q.Sort, "-")
	no := func(what, given string, known []string) error {
		near := fields.Suggest(given, known).Nearest()
		if len(near) == 0 {
			near = known
		}
		return fmt.Errorf("%w: %s %q: write %s", ErrSearch, what, given, strings.Join(near, " or "))
	}
	switch {
	case q.Complaint != "" && !slices.Contains(Complaints, q.Complaint):
		return no("complaint", q.Complaint, Complaints)
	case q.State != "" && q.State != Open && q.State != Closed:
		return no("state", q.State, []string{Open, Closed})
	case sorted != "" && !slices.Contains(SortedBy, sorted):
		return no("sorted by", sorted, SortedBy)
	case q.Older < 0:
		return fmt.Errorf("%w: older than %d days: write a number of days", ErrSearch, q.Older)
	}
	return nil
}

// summary is a case as far as it is asked for.
type summary struct {
	number                                                     int64
	serial, product, customer, complaint, text, seen, disposed string
	received                                                   time.Time
}

func (s summary) closed() bool { return s.disposed != "" && s.disposed != Reopened }

// answers reports whether the case is one that was asked for.
func (q Search) answers(s summary, now time.Time) bool {
	holds := func(in, part string) bool {
		return strings.Contains(strings.ToLower(in), strings.ToLower(strings.TrimSpace(part)))
	}
	return holds(s.serial, q.Serial) && holds(s.customer, q.Customer) && (q.Complaint == "" || s.complaint == q.Complaint) &&
		(holds(s.complaint, q.Words) || holds(s.text, q.Words) || holds(s.seen, q.Words)) &&
		(q.State == "" || s.closed() == (q.State == Closed)) &&
		(q.Older == 0 || now.Sub(s.received) > time.Duration(q.Older)*24*time.Hour)
}

// order sorts what was found.
func (q Search) order(list []summary) {
	by, down := strings.CutPrefix(q.Sort, "-")
	slices.SortStableFunc(list, func(a, b summary) int {
		order := 0
		switch by {
		case "case":
			order = cmp.Compare(a.number, b.number)
		case "serial":
			order = strings.Compare(a.serial, b.serial)
		case "product":
			order = strings.Compare(a.product, b.product)
		case "received":
			order = a.received.Compare(b.received)
		case "customer":
			order = strings.Compare(strings.ToLower(a.customer), strings.ToLower(b.customer))
		case "complaint":
			order = strings.Compare(a.complaint, b.complaint)
		case "state":
			order = strings.Compare(a.state(), b.state())
		}
		if down {
			order = -order
		}
		return cmp.Or(order, cmp.Compare(b.number, a.number))
	})
}

func (s summary) state() string {
	if !s.closed() {
		return "" // open ones stand together, before all others
	}
	return s.disposed
}

// Found are the cases that a search found, and how many there are beyond Most.
type Found struct {
	Cases []Case
	All   int
}

// Find gives the cases that are asked for.
func (s *Records) Find(ctx context.Context, q Search) (found Found, err error) {
	if err := q.check(); err != nil {
		return found, err
	}
	err = s.db.Ask(ctx, "search the returns cases", func(tx *sql.Tx) error {
		all, err := store.Collect(ctx, tx, func(rows *sql.Rows) (c summary, err error) {
			return c, rows.Scan(&c.number, &c.serial, &c.product, &c.customer, &c.complaint, &c.text, &c.seen, store.Time(&c.received), &c.disposed)
		}, `SELECT return_case.seq, serial, product, customer, complaint, complaint_text, condition_text, received_us,
		           coalesce((SELECT disposition FROM return_disposition WHERE return_case = return_case.seq ORDER BY seq DESC LIMIT 1), '')
		    FROM return_case JOIN return_intake AS intake ON intake.seq =
		      (SELECT max(seq) FROM return_intake WHERE return_case = return_case.seq)`)
		if err != nil {
			return err
		}
		now := s.db.Now()
		all = slices.DeleteFunc(all, func(c summary) bool { return !q.answers(c, now) })
		q.order(all)
		found.All = len(all)
		for _, c := range all[:min(max(q.Most, 0), len(all))] {
			one, err := caseIn(ctx, tx, c.number)
			if err != nil {
				return err
			}
			found.Cases = append(found.Cases, one)
		}
		return nil
	})
	return found, err
}

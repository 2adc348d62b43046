package desk

import (
	"context"
	"crypto/rand"
	"fmt"
	"maps"
	"net/url"
	"sync"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// How often a key that is watched is read, for how long at most, and for how
// long the permission to begin is good.
const (
	ohmsEvery = 250 * time.Millisecond
	ohmsLong  = 60 * time.Second
	ohmsBegin = 10 * time.Second
)

// watches lets a key be watched.
type watches struct {
	finder
	lanes   *control.Lanes
	permits permits
}

// page shows the resistance of one key as it is now.
func (w *watches) page(v *page.Visit) (any, error) {
	u, err := w.unit(v)
	if err != nil {
		return nil, err
	}
	view := ohmsView{Case: u.of.Number, Serial: u.of.Serial, Simulated: u.simulated, Key: v.Value("key"), Lane: v.Value("lane"),
		Watch: v.Value("watch"), Seconds: int(ohmsLong.Seconds()), Lanes: w.lanes.Testing(v.Words, u.of.Product)}
	for _, k := range u.product.Keys {
		view.Keys = append(view.Keys, page.Option{Value: k.Label, Text: k.Label, Chosen: k.Label == view.Key})
	}
	if err := u.of.Allows(sequence.ReturnTest); err != nil {
		view.Refused, view.Lanes = err.Error(), nil
	} else if len(view.Lanes) == 0 {
		view.Refused = v.Say("nextcheck.nolane", u.of.Product)
	}
	if k := u.product.Key(view.Key); k >= 0 {
		view.Limit = v.Near(float64(u.product.Keys[k].Limits.ClosedMax)) + " Ω"
	}
	return view, nil
}

type ohmsView struct {
	Case      int64         `json:"case"`
	Serial    string        `json:"serial"`
	Simulated bool          `json:"simulated"`
	Refused   string        `json:"refused,omitempty"`
	Key       string        `json:"key,omitempty"`
	Limit     string        `json:"limit,omitempty"` // the most it may have closed
	Lane      string        `json:"-"`
	Watch     string        `json:"-"` // the permission to begin; empty: a form
	Seconds   int           `json:"-"`
	Keys      []page.Option `json:"-"`
	Lanes     []page.Option `json:"-"`
}

// permit permits one page to watch a key. The jig moves when that page's
// stream begins, so that nothing is held that nobody sees.
func (w *watches) permit(v *page.Visit) (page.Answer, error) {
	u, err := w.unit(v)
	if err != nil {
		return page.Answer{}, err
	}
	n, _, err := w.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	key := v.Value("key")
	if u.product.Key(key) < 0 {
		return page.Answer{}, page.Wrong(v.Say("ohms.nokey", key))
	}
	if err := said(v.Words, u.of.Allows(sequence.ReturnTest)); err != nil {
		return page.Answer{}, err
	}
	id := w.permits.give(heldKey{by: v.Person.Name, of: u, lane: n, key: key, until: time.Now().Add(ohmsBegin)})
	return page.Answer{Go: fmt.Sprintf("/returns/ohms?case=%d&lane=%d&key=%s&watch=%s", u.of.Number, n, url.QueryEscape(key), id)}, nil
}

// watchedUnit is a unit as it was measured last.
type watchedUnit struct {
	of        returns.Case
	product   *product.Product
	simulated bool
}

func (w *watches) unit(v *page.Visit) (u watchedUnit, err error) {
	if u.of, err = w.asked(v); err != nil {
		return u, err
	}
	runs, err := w.store.Runs.Unit(v.Ctx(), u.of.Serial)
	if err != nil {
		return u, err
	}
	if len(runs) == 0 {
		return u, page.Wrong(v.Say("unit.noruns"))
	}
	last := runs[len(runs)-1]
	u.simulated = last.Simulated
	if u.product, err = w.store.Runs.Product(v.Ctx(), last); err != nil {
		return u, page.Wrong(v.Say("nextcheck.gone"))
	}
	return u, nil
}

// heldKey is one permission to watch a key.
type heldKey struct {
	by    string
	of    watchedUnit
	lane  int
	key   string
	until time.Time
}

// permits are the permissions that nobody has used yet, by a random word.
type permits struct {
	mu      sync.Mutex
	waiting map[string]heldKey
}

func (w *permits) give(one heldKey) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.waiting == nil {
		w.waiting = map[string]heldKey{}
	}
	maps.DeleteFunc(w.waiting, func(_ string, old heldKey) bool { return time.Now().After(old.until) })
	id := rand.Text()
	w.waiting[id] = one
	return id
}

// take uses a permission up.
func (w *permits) take(id, by string) (one heldKey, ok bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	one, ok = w.waiting[id]
	delete(w.waiting, id)
	return one, ok && one.by == by && time.Now().Before(one.until)
}

// live holds a key and sends what it reads, until the page goes, the time
// is over or the lane says no. A stream that breaks does not begin again.
func (w *watches) live(v *page.Visit, e *page.Events) error {
	key, ok := w.permits.take(v.Place("watch"), v.Person.Name)
	if !ok {
		return e.Send("over", map[string]string{"say": v.Say("ohms.used")})
	}
	news, over := make(chan sequence.Live, 1), make(chan error, 1)
	go func() { over <- runExclusive(v, w.lanes, key.of.of, key.lane, key.task(news)) }() // ends with the request at the latest
	for {
		select {
		case reading := <-news:
			if err := e.Send("ohms", nowReads(v.Words, reading)); err != nil {
				return err
			}
		case err := <-over:
			say := v.Say("ohms.over")
			if err != nil {
				say = err.Error()
			}
			return e.Send("over", map[string]string{"say": say})
		case <-e.Over:
			return nil
		}
	}
}

// task watches the key; a reading that the page has no time for is left out.
func (w heldKey) task(news chan<- sequence.Live) station.ExclusiveTask {
	return station.ExclusiveTask{Product: w.of.product, Simulated: w.of.simulated,
		Do: func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) error {
			return plan.Follow(ctx, jig, w.of.product.Key(w.key), ohmsEvery, ohmsLong, func(r sequence.Live) {
				select {
				case news <- r:
				default:
				}
			})
		}}
}

// nowReads is a reading as the page shows it, with its expanded uncertainty.
func nowReads(v page.Words, r sequence.Live) map[string]any {
	word := v.Say("ohms.open")
	if r.Closed {
		word = v.Say("ohms.closed")
	}
	return map[string]any{"ohm": exact(v, &r.Ohm), "word": word, "left": fmt.Sprintf("%.0f s", (ohmsLong - r.At).Seconds())}
}

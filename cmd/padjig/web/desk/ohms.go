package desk

import (
	"context"
	"crypto/rand"
	"errors"
	"fmt"
	"maps"
	"net/url"
	"strconv"
	"sync"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// How often a key that is watched is read, for how long at most, and for how
// long the permission to begin is good. A line of 115200 baud carries 78 readings a
// second, and 22 where the adapter holds bytes back for 16 ms each way (sequence/runner/live_test.go).
const (
	ohmsEvery = 50 * time.Millisecond
	ohmsLong  = 60 * time.Second
	ohmsBegin = 10 * time.Second
)

// watches lets a key be watched, of a unit in a jig: one of a case, or any other.
type watches struct {
	finder
	lanes   *control.Lanes
	permits permits
}

// page shows the resistance of one key as it is now.
func (w *watches) page(v *page.Visit) (any, error) {
	view := ohmsView{Key: v.Value("key"), Watch: v.Value("watch"), Seconds: int(ohmsLong.Seconds()), Rate: int(time.Second / ohmsEvery)}
	if v.Value("case") == "" && v.Text("serial") == "" {
		return view, nil // which unit?
	}
	u, err := w.unit(v)
	if err != nil {
		return nil, err
	}
	view.Case, view.Serial, view.Simulated, view.Back = u.number, u.serial, u.simulated != nil && *u.simulated, u.address()+"&key="+url.QueryEscape(view.Key)
	for _, k := range u.product.Keys {
		view.Keys = append(view.Keys, page.Option{Value: k.Label, Text: k.Label, Chosen: k.Label == view.Key})
	}
	view.Jigs = jigs(v, w.lanes, u.product.Code, u.simulated)
	for _, jig := range view.Jigs {
		if jig.Refused == "" {
			view.Free++
		}
	}
	if err := w.pressable(v, u.serial); err != nil {
		if _, told := errors.AsType[*page.Problem](err); !told {
			return nil, err
		}
		view.Refused = err.Error()
	} else if len(view.Jigs) == 0 {
		view.Refused = v.Say("nextcheck.nolane", u.product.Code)
	}
	if k := u.product.Key(view.Key); k >= 0 {
		view.Limit = v.Near(float64(u.product.Keys[k].Limits.ClosedMax)) + " Ω"
	}
	return view, nil
}

type ohmsView struct {
	Case      int64         `json:"case,omitempty"` // 0 for a unit without one
	Serial    string        `json:"serial,omitempty"`
	Simulated bool          `json:"simulated"`
	Refused   string        `json:"refused,omitempty"`
	Key       string        `json:"key,omitempty"`
	Limit     string        `json:"limit,omitempty"` // the most it may have closed
	Watch     string        `json:"-"`               // the permission to begin; empty: a form
	Seconds   int           `json:"-"`
	Rate      int           `json:"-"`
	Keys      []page.Option `json:"-"`
	Jigs      []jigView     `json:"jigs,omitempty"`
	Free      int           `json:"-"`
	Back      string        `json:"-"` // the address of this page without a watch
}

// permit permits one page to watch a key. The jig moves when that page's
// stream begins, so that nothing is held that nobody sees.
func (w *watches) permit(v *page.Visit) (page.Answer, error) {
	u, err := w.unit(v)
	if err != nil {
		return page.Answer{}, err
	}
	n, lane, err := w.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	key := v.Value("key")
	if u.product.Key(key) < 0 {
		return page.Answer{}, page.Wrong(v.Say("ohms.nokey", key))
	}
	if err := w.pressable(v, u.serial); err != nil {
		return page.Answer{}, err
	}
	if u.simulated == nil { // it was never measured
		u.simulated = new(lane.State().Jig.Simulated)
	}
	id := w.permits.give(heldKey{by: v.Person.Name, of: u, lane: n, key: key, until: time.Now().Add(ohmsBegin)})
	return page.Answer{Go: fmt.Sprintf("%s&lane=%d&key=%s&watch=%s", u.address(), n, url.QueryEscape(key), id)}, nil
}

// watchedUnit is a unit as it was measured last, or as its number says.
type watchedUnit struct {
	number    int64 // of its case, 0 for none
	serial    string
	product   *product.Product
	simulated *bool // what is known of it is from simulated jigs; nil where nothing is known
}

// address is the page for it.
func (u watchedUnit) address() string {
	if u.number > 0 {
		return "/returns/ohms?case=" + strconv.FormatInt(u.number, 10)
	}
	return "/returns/ohms?serial=" + url.QueryEscape(u.serial)
}

func (w *watches) unit(v *page.Visit) (u watchedUnit, err error) {
	u.serial = v.Text("serial")
	if v.Value("case") != "" {
		c, err := w.asked(v)
		if err != nil {
			return u, err
		}
		u.number, u.serial = c.Number, c.Serial
	}
	if u.serial == "" {
		return u, page.Wrong(v.Say("returns.which"))
	}
	made, err := w.store.Runs.Unit(v.Ctx(), u.serial)
	switch {
	case err != nil:
		return u, err
	case len(made) > 0:
		last := made[len(made)-1]
		u.simulated = new(last.Simulated)
		u.product, err = w.store.Runs.Product(v.Ctx(), last)
	case u.number > 0:
		return u, page.Wrong(v.Say("unit.noruns"))
	default:
		u.product, err = w.madeAs(v, w.lanes, u.serial)
	}
	if errors.Is(err, store.ErrNotFound) {
		err = page.Wrong(v.Say("nextcheck.gone"))
	}
	return u, err
}

// heldKey is one permission to watch a key.
type heldKey struct {
	by    string
	of    watchedUnit
	lane  int
	key   string
	until time.Time
}

// permits are the permissions that nobody has used yet, by a random word, and what
// came of those that are being used.
type permits struct {
	mu      sync.Mutex
	waiting map[string]heldKey
	running map[string]*extremes
}

func (w *permits) give(one heldKey) string {
	w.mu.Lock()
	defer w.mu.Unlock()
	if w.waiting == nil {
		w.waiting, w.running = map[string]heldKey{}, map[string]*extremes{}
	}
	maps.DeleteFunc(w.waiting, func(_ string, old heldKey) bool { return time.Now().After(old.until) })
	id := rand.Text()
	w.waiting[id] = one
	return id
}

// take uses a permission up; it is running until it is over.
func (w *permits) take(id, by string) (one heldKey, seen *extremes, ok bool) {
	w.mu.Lock()
	defer w.mu.Unlock()
	one, ok = w.waiting[id]
	delete(w.waiting, id)
	if ok = ok && one.by == by && time.Now().Before(one.until); ok {
		seen = &extremes{by: by}
		w.running[id] = seen
	}
	return one, seen, ok
}

func (w *permits) over(id string) {
	w.mu.Lock()
	defer w.mu.Unlock()
	delete(w.running, id)
}

// reset lets what a key read least and most, and how often it dropped out, begin anew.
func (w *watches) reset(v *page.Visit) (page.Answer, error) {
	w.permits.mu.Lock()
	seen := w.permits.running[v.Value("watch")]
	w.permits.mu.Unlock()
	if seen == nil || seen.by != v.Person.Name {
		return page.Answer{}, page.Wrong(v.Say("ohms.used"))
	}
	seen.reset()
	return page.Answer{}, nil
}

// extremes are what a key that is watched reads now, and what it read since somebody said so.
type extremes struct {
	by string

	mu          sync.Mutex
	now         sequence.Live
	least, most *fixture.Resistance // of what it read closed
	drops       int                 // times it opened
	count       int
}

func (x *extremes) note(r sequence.Live) {
	x.mu.Lock()
	defer x.mu.Unlock()
	if x.now.Rests = r.Rests; r.Rests {
		x.now.At = r.At
		return
	}
	if x.count > 0 && x.now.Closed && !r.Closed {
		x.drops++
	}
	x.now = r
	x.count++
	if !r.Closed {
		return
	}
	if x.least == nil || r.Ohm.Value < x.least.Value {
		x.least = &r.Ohm
	}
	if x.most == nil || r.Ohm.Value > x.most.Value {
		x.most = &r.Ohm
	}
}

func (x *extremes) reset() {
	x.mu.Lock()
	defer x.mu.Unlock()
	x.least, x.most, x.drops, x.count = nil, nil, 0, 0
}

// say is what the page shows of it, with expanded uncertainties.
func (x *extremes) say(v page.Words) map[string]any {
	x.mu.Lock()
	defer x.mu.Unlock()
	word := v.Say("ohms.open")
	switch {
	case x.now.Rests:
		word = v.Say("ohms.rests")
	case x.now.Closed:
		word = v.Say("ohms.closed")
	}
	return map[string]any{"ohm": exact(v, &x.now.Ohm), "word": word, "left": fmt.Sprintf("%.0f s", (ohmsLong - x.now.At).Seconds()),
		"least": exact(v, x.least), "most": exact(v, x.most), "drops": v.Num(0, float64(x.drops)), "count": v.Num(0, float64(x.count))}
}

// live holds a key and sends what it reads, until the page goes, the time
// is over or the lane says no. A stream that breaks does not begin again.
func (w *watches) live(v *page.Visit, e *page.Events) error {
	over := func(say string) error { return e.Send("over", map[string]string{"say": say}) }
	id := v.Place("watch")
	key, seen, ok := w.permits.take(id, v.Person.Name)
	if !ok {
		return over(v.Say("ohms.used"))
	}
	defer w.permits.over(id)
	if err := w.pressable(v, key.of.serial); err != nil { // it may have been taken in meanwhile
		return over(err.Error())
	}
	news, done := make(chan struct{}, 1), make(chan error, 1)
	go func() { done <- runExclusive(v, w.lanes, key.of.serial, key.lane, key.task(seen, news)) }() // ends with the request at the latest
	for {
		select {
		case <-news:
			if err := e.Send("ohms", seen.say(v.Words)); err != nil {
				return err
			}
		case err := <-done:
			if err != nil {
				return over(err.Error())
			}
			return over(v.Say("ohms.over"))
		case <-e.Over:
			return nil
		}
	}
}

// task watches the key. Every reading counts; one that the page has no time for is not shown.
func (w heldKey) task(seen *extremes, news chan<- struct{}) station.ExclusiveTask {
	return station.ExclusiveTask{Product: w.of.product, Simulated: *w.of.simulated,
		Do: func(ctx context.Context, jig *fixture.Jig, plan *runner.Plan) error {
			return plan.Follow(ctx, jig, w.of.product.Key(w.key), ohmsEvery, ohmsLong, func(r sequence.Live) {
				seen.note(r)
				select {
				case news <- struct{}{}:
				default:
				}
			})
		}}
}

package web

import (
	"context"
	"crypto/rand"
	"fmt"
	"maps"
	"sync"
	"time"

	"padjig/cmd/padjig/bench"
	"padjig/fixture"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/product"
)

// How often a key that is watched is read, for how long at most, and for how
// long the permission to begin is good.
const (
	ohmsEvery = 250 * time.Millisecond
	ohmsLong  = 60 * time.Second
	ohmsBegin = 10 * time.Second
)

// ohmsPage shows the resistance of one key as it is now.
var ohmsPage = page{path: "/returns/ohms", name: "ohms", who: desk, view: func(v *visit) (any, error) {
	u, err := v.watched()
	if err != nil {
		return nil, err
	}
	view := ohmsView{Case: u.of.Number, Serial: u.of.Serial, Simulated: u.simulated, Key: v.r.FormValue("key"), Lane: v.r.FormValue("lane"),
		Watch: v.r.FormValue("watch"), Seconds: int(ohmsLong.Seconds()), Lanes: v.lanesFor(u.of.Product)}
	for _, k := range u.product.Keys {
		view.Keys = append(view.Keys, option{Value: k.Label, Text: k.Label, Chosen: k.Label == view.Key})
	}
	if err := u.of.Allows(sequence.ReturnTest); err != nil {
		view.Refused, view.Lanes = err.Error(), nil
	} else if len(view.Lanes) == 0 {
		view.Refused = v.say("nextcheck.nolane", u.of.Product)
	}
	if k := u.product.Key(view.Key); k >= 0 {
		view.Limit = v.near(float64(u.product.Keys[k].Limits.ClosedMax)).Text + " Ω"
	}
	return view, nil
}}

type ohmsView struct {
	Case      int64    `json:"case"`
	Serial    string   `json:"serial"`
	Simulated bool     `json:"simulated"`
	Refused   string   `json:"refused,omitempty"`
	Key       string   `json:"key,omitempty"`
	Limit     string   `json:"limit,omitempty"` // the most it may have closed
	Lane      string   `json:"-"`
	Watch     string   `json:"-"` // the permission to begin; empty: a form
	Seconds   int      `json:"-"`
	Keys      []option `json:"-"`
	Lanes     []option `json:"-"`
}

// ohmsAction permits one page to watch a key. The jig moves when that page's
// stream begins, so that nothing is held that nobody sees.
var ohmsAction = action{path: "/returns/ohms", who: desk, do: func(v *visit) (answer, error) {
	u, err := v.watched()
	if err != nil {
		return answer{}, err
	}
	n, _, err := v.laneOfForm()
	if err != nil {
		return answer{}, err
	}
	key := v.r.FormValue("key")
	if u.product.Key(key) < 0 {
		return answer{}, wrong(v.say("ohms.nokey", key))
	}
	if err := v.asStage(u.of.Allows(sequence.ReturnTest)); err != nil {
		return answer{}, err
	}
	id := v.site.permits.permit(heldKey{by: v.Person.Name, of: u, lane: n, key: key, until: time.Now().Add(ohmsBegin)})
	return answer{Go: fmt.Sprintf("/returns/ohms?case=%d&lane=%d&key=%s&watch=%s", u.of.Number, n, queryOf(key), id)}, nil
}}

// watchedUnit is a unit as it was measured last.
type watchedUnit struct {
	of        returns.Case
	product   *product.Product
	simulated bool
}

func (v *visit) watched() (u watchedUnit, err error) {
	if u.of, err = v.caseOfForm(); err != nil {
		return u, err
	}
	runs, err := v.site.Store.Runs.Unit(v.ctx(), u.of.Serial)
	if err != nil {
		return u, err
	}
	if len(runs) == 0 {
		return u, wrong(v.say("unit.noruns"))
	}
	last := runs[len(runs)-1]
	u.simulated = last.Simulated
	if u.product, err = v.site.Store.Runs.Product(v.ctx(), last); err != nil {
		return u, wrong(v.say("nextcheck.gone"))
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

func (w *permits) permit(one heldKey) string {
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

// ohmsStream holds a key and sends what it reads, until the page goes, the time
// is over or the lane says no. A stream that breaks does not begin again.
var ohmsStream = stream{path: "/returns/ohms/{watch}/live", who: desk, run: func(v *visit, e *events) error {
	w, ok := v.site.permits.take(v.r.PathValue("watch"), v.Person.Name)
	if !ok {
		return e.send("over", map[string]string{"say": v.say("ohms.used")})
	}
	news, over := make(chan sequence.Live, 1), make(chan error, 1)
	go func() { over <- v.lend(w.of.of, w.lane, w.errand(news)) }() // ends with the request at the latest
	for {
		select {
		case reading := <-news:
			if err := e.send("ohms", v.reading(reading)); err != nil {
				return err
			}
		case err := <-over:
			say := v.say("ohms.over")
			if err != nil {
				say = err.Error()
			}
			return e.send("over", map[string]string{"say": say})
		case <-v.site.over:
			return nil
		}
	}
}}

// errand watches the key; a reading that the page has no time for is left out.
func (w heldKey) errand(news chan<- sequence.Live) bench.Errand {
	return bench.Errand{Product: w.of.product, Simulated: w.of.simulated,
		Do: func(ctx context.Context, jig *fixture.Jig, plan *sequence.Plan) error {
			return plan.Follow(ctx, jig, w.of.product.Key(w.key), ohmsEvery, ohmsLong, func(r sequence.Live) {
				select {
				case news <- r:
				default:
				}
			})
		}}
}

// reading is a reading as the page shows it, with its expanded uncertainty.
func (v *visit) reading(r sequence.Live) map[string]any {
	word := v.say("ohms.open")
	if r.Closed {
		word = v.say("ohms.closed")
	}
	return map[string]any{"ohm": v.exact(&r.Ohm), "word": word, "left": fmt.Sprintf("%.0f s", (ohmsLong - r.At).Seconds())}
}

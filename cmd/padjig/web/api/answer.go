package api

import (
	"context"
	"encoding/json"
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/web/metrics"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/listing"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// answering gives the answers.
type answering struct {
	Config
	room *lately
}

// lately remembers for a moment whether records could be written: anybody may ask, as often as they like.
type lately struct {
	mu   sync.Mutex
	at   time.Time
	fine bool
}

func (l *lately) good(ctx context.Context, look func(context.Context) error) bool {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now := time.Now(); l.at.IsZero() || now.Sub(l.at) >= 2*time.Second {
		ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), 2*time.Second)
		defer cancel()
		l.at, l.fine = now, look(ctx) == nil
	}
	return l.fine
}

func (a answering) unit(ctx context.Context, c Call) (Answer, error) {
	life, err := asked.LifeOf(ctx, a.Store, c.Path("serial"))
	if err != nil {
		return Answer{}, err
	}
	if !life.Known() {
		return Answer{}, missing("no such unit", "the records have nothing of such a unit", "the number on the label, letter by letter")
	}
	return printed(life.Object())
}

func (a answering) run(ctx context.Context, c Call) (Answer, error) {
	none := missing("no such run", "the records have no run of that id", "an id from "+Base+"/runs")
	id, err := store.ParseID(c.Path("run"))
	if err != nil {
		return Answer{}, none
	}
	run, err := a.Store.Runs.Run(ctx, id)
	if errors.Is(err, store.ErrNotFound) {
		return Answer{}, none
	}
	if err != nil {
		return Answer{}, err
	}
	o := object.RunOf(run)
	if o.RecordHash, err = a.Store.Listing.Hash(ctx, run.Seq); err != nil {
		return Answer{}, err
	}
	return printed(o)
}

// How many runs a page has.
const (
	usualPage   = 100
	largestPage = 1000
)

var verdicts = []string{string(sequence.Pass), string(sequence.Fail), string(sequence.Reseat), string(sequence.Incomplete), string(sequence.Aborted),
	string(sequence.HarnessGood), string(sequence.NothingFound)}

var runParams = []Param{
	{Name: "product", About: "code of a product"},
	{Name: "jig", About: "serial number of a jig"},
	{Name: "verdict", About: "what came of the run", Of: verdicts},
	{Name: "from", About: "started at this time or later: RFC 3339, or a day or time of the plant's clock such as 2026-03-02"},
	{Name: "to", About: "started before this time: RFC 3339, or a day of the plant's clock, which is taken in whole"},
	{Name: "after", About: "id of the run before the first: next of the page before"},
	{Name: "limit", About: "how many runs at most, 100 where nothing is said", Whole: [2]int{1, largestPage}},
}

func (a answering) runs(ctx context.Context, c Call) (Answer, error) {
	f, limit, err := a.filter(ctx, c.Query)
	if err != nil {
		return Answer{}, err
	}
	page, more, err := a.Store.Listing.Page(ctx, f, limit)
	if errors.Is(err, store.ErrNotFound) {
		return Answer{}, missing("no such run", "after: the records have no run of that id", "next of a page of these records")
	}
	if err != nil {
		return Answer{}, err
	}
	return printed(object.RunsOf(page, more))
}

func (a answering) filter(ctx context.Context, v url.Values) (f listing.Filter, limit int, err error) {
	clock, err := a.Store.Floor.Clock(ctx)
	if err != nil {
		return f, 0, err
	}
	times, err := lines.ParseFilter(url.Values{"from": v["from"], "to": v["to"]}, clock.Zone())
	if err != nil {
		return f, 0, wrong("%s", "a time such as 2026-03-02T14:00:00Z, or a day such as 2026-03-02", said(err))
	}
	f = listing.Filter{Product: v.Get("product"), Jig: v.Get("jig"), Verdict: sequence.Outcome(v.Get("verdict")), From: times.From, To: times.To}
	if f.Verdict != "" && !slices.Contains(verdicts, string(f.Verdict)) {
		return f, 0, wrong("verdict %q is none", "one of: "+strings.Join(verdicts, ", "), f.Verdict)
	}
	if v.Has("after") {
		if f.After, err = store.ParseID(v.Get("after")); err != nil {
			return f, 0, wrong("after %q is no id of a run", "next of the page before", v.Get("after"))
		}
	}
	limit = usualPage
	if v.Has("limit") {
		limit, err = strconv.Atoi(v.Get("limit"))
		if err != nil || limit < 1 || limit > largestPage {
			return f, 0, wrong("limit %q is not from 1 to %d", "a number from 1 to 1000, and next for what comes after", v.Get("limit"), largestPage)
		}
	}
	return f, limit, nil
}

var yieldParams = slices.Concat(choiceParams(), []Param{
	{Name: "by", About: "group by this", Many: true, Of: texts(lines.Dimensions)},
	{Name: "zone", About: "time zone of days and times, such as Europe/Vienna; that of the plant where nothing is said"},
	{Name: "confidence", About: "of the intervals", Number: true},
	{Name: "interval", About: "of shares", Of: []string{"wilson", "exact"}},
	{Name: "target", About: "first-pass yield that is asked for", Number: true},
	{Name: "last", About: "stop when of this many of the newest units ...", Whole: [2]int{1, 1_000_000}},
	{Name: "least", About: "... less than this share passed", Number: true},
	{Name: "same", About: "stop when this many in a row failed with the same defect", Whole: [2]int{1, 1_000_000}},
})

func texts[T ~string](list []T) []string {
	return store.Each(list, func(v T) string { return string(v) })
}

// choiceParams are those of [choice.Parse].
func choiceParams() (list []Param) {
	one := []string{"product", "actuation", "from", "to", "simulated", choice.Since}
	for _, name := range choice.Params {
		p := Param{Name: name, Many: !slices.Contains(one, name), About: "only these runs, as --" + name + " of padjig quality yield"}
		switch name {
		case "simulated":
			p.Of = []string{"0", "1"}
		case "operator":
			p.About = "only tested by these operators, as --tested-by of padjig quality yield"
		}
		list = append(list, p)
	}
	return list
}

func (a answering) yields(ctx context.Context, c Call) (Answer, error) {
	y, sure, err := yieldOf(c.Query)
	if err != nil {
		return Answer{}, wrong("%s", "the parameters as "+Base+"/openapi.json has them", said(err))
	}
	clock, err := a.Store.Floor.Clock(ctx)
	if err != nil {
		return Answer{}, err
	}
	zone, err := asked.Zone(c.Query.Get("zone"), clock.Zone())
	if err != nil {
		return Answer{}, wrong("%s", "a name of the IANA list", said(err))
	}
	choosing, err := asked.Choice(c.Query, zone)
	if err != nil {
		return Answer{}, wrong("%s", "the parameters as "+Base+"/openapi.json has them", said(err))
	}
	chosen, err := sure.Of(ctx, a.Store, choosing, y.Of(), c.Now)
	if errors.Is(err, choice.ErrNoShift) {
		return Answer{}, unanswerable(said(err), "span with days")
	}
	if err != nil {
		return Answer{}, unanswered(err)
	}
	d, err := y.Answer(ctx, a.Store, chosen)
	if err != nil {
		return Answer{}, unanswered(err)
	}
	return printed(asked.Told(d, chosen).Object())
}

// yieldOf reads what is asked of yields; the error says every mistake at once.
func yieldOf(v url.Values) (y asked.Yield, sure asked.Certainty, err error) {
	var wrong []error
	y.Rule, sure = answers.DefaultRule, asked.Usual
	for _, name := range v["by"] {
		by, err := lines.ParseDimension(strings.TrimSpace(name))
		wrong = append(wrong, err)
		y.By = append(y.By, by)
	}
	number := func(name string, into *float64, least, most float64) {
		if !v.Has(name) {
			return
		}
		n, err := strconv.ParseFloat(v.Get(name), 64)
		if *into = n; err != nil || !(n >= least && n <= most) {
			wrong = append(wrong, errors.New(name+" "+strconv.Quote(v.Get(name))+": write a number from 0 to 1"))
		}
	}
	whole := func(name string, into *int) {
		if !v.Has(name) {
			return
		}
		n, err := strconv.Atoi(v.Get(name))
		if *into = n; err != nil || n < 1 || n > 1_000_000 {
			wrong = append(wrong, errors.New(name+" "+strconv.Quote(v.Get(name))+": write a number from 1 to 1000000"))
		}
	}
	number("target", &y.Target, 0, 1)
	number("least", &y.Rule.MinYield, 0, 1)
	number("confidence", &sure.Confidence, 0, 1)
	whole("last", &y.Rule.Window)
	whole("same", &y.Rule.SameRun)
	if v.Has("interval") {
		sure.Interval = v.Get("interval")
	}
	return y, sure, errors.Join(append(wrong, sure.Check())...)
}

// unanswered tells a question that these runs do not answer from records that cannot be read.
func unanswered(err error) error {
	mixed, isMixed := errors.AsType[*lines.MixedError](err)
	_, isFew := errors.AsType[*answers.TooFewError](err)
	switch {
	case isMixed && len(mixed.Products) > 1:
		return unanswerable(said(mixed), "product="+mixed.Products[0])
	case isMixed:
		return unanswerable(said(mixed), "revision="+mixed.Revisions[len(mixed.Revisions)-1].Label)
	case errors.Is(err, lines.ErrOneStation):
		return unanswerable(said(err), "the plant's office, or leave station out")
	case errors.Is(err, lines.ErrNoUnits), isFew, errors.Is(err, answers.ErrNoSpread), errors.Is(err, answers.ErrEmpty):
		return unanswerable(said(err), "a wider selection, or simulated=1 for simulated runs")
	}
	return err
}

// said is an error in one line.
func said(err error) string { return strings.Join(strings.Fields(err.Error()), " ") }

func (a answering) products(ctx context.Context, _ Call) (Answer, error) {
	codes, err := a.Own.Releases.Codes(ctx)
	if err != nil {
		return Answer{}, err
	}
	var holds []runs.Release
	for _, code := range codes {
		list, err := a.Own.Runs.Releases(ctx, code)
		if err != nil {
			return Answer{}, err
		}
		if len(list) > 0 {
			holds = append(holds, list[0])
		}
	}
	return printed(object.ProductsOf(holds))
}

func (a answering) jigs(ctx context.Context, c Call) (Answer, error) {
	clock, err := a.Store.Floor.Clock(ctx)
	if err != nil {
		return Answer{}, err
	}
	_, d, err := asked.Jigs(ctx, a.Store, clock.Zone(), c.Now)
	if err != nil {
		return Answer{}, err
	}
	return printed(d.Object())
}

// readiness is the name of the shape of [Ready] in the document.
const readiness = "readiness-1"

// Ready is whether the station can work. It says of lanes whether a jig is there, by their number and by
// no other name, for anybody may ask.
type Ready struct {
	Schema  string      `json:"schema"`
	Ready   bool        `json:"ready"` // records can be written and pages are up; one jig that is absent stops one lane, not the station
	Records string      `json:"records"`
	Pages   string      `json:"pages"`
	Plant   string      `json:"plant,omitempty"` // answers or away, at a plant's office: without its database nothing is answered
	Lanes   []LaneReady `json:"lanes"`
}

// LaneReady is a lane as anybody may know it.
type LaneReady struct {
	Lane int    `json:"lane"` // from 1
	Jig  string `json:"jig"`  // there or absent
}

func (a answering) ready(ctx context.Context, _ Call) (Answer, error) {
	r := Ready{Schema: readiness, Ready: true, Records: "writable", Pages: "up", Lanes: []LaneReady{}}
	if !a.room.good(ctx, a.Own.Room) {
		r.Ready, r.Records = false, "not writable"
	}
	if a.Answers != nil {
		if r.Plant = "answers"; !a.Answers(ctx) {
			r.Ready, r.Plant = false, "away"
		}
	}
	for i, l := range a.Lanes() {
		r.Lanes = append(r.Lanes, LaneReady{i + 1, map[bool]string{true: "there", false: "absent"}[l.Present]})
	}
	text, err := json.MarshalIndent(r, "", "  ")
	answer := Answer{Kind: JSON, Body: append(text, '\n')}
	if !r.Ready {
		answer.Status = http.StatusServiceUnavailable
	}
	return answer, err
}

func (a answering) metrics(ctx context.Context, c Call) (Answer, error) {
	families, err := a.Metrics.Collect(ctx)
	if err != nil {
		return Answer{}, err
	}
	kind, text := metrics.Write(families, c.Accept)
	return Answer{Kind: kind, Body: text}, nil
}

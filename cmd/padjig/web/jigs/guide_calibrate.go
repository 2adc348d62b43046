package jigs

import (
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/calibration"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/refbox"
)

var kinds = map[string]sequence.CalibrationKind{"zero": sequence.KindZero, "verify": sequence.KindVerify}

// boxes are the reference boxes at hand: those the station was started with, and those whose
// files were brought since.
type boxes struct {
	mu  sync.Mutex
	all []*refbox.Box
}

func (b *boxes) list() []*refbox.Box {
	b.mu.Lock()
	defer b.mu.Unlock()
	return slices.Clone(b.all)
}

// bring puts a box in place of one of the same serial number, whose certificate it may renew.
func (b *boxes) bring(box *refbox.Box) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.all = slices.DeleteFunc(slices.Clone(b.all), func(o *refbox.Box) bool { return o.Serial == box.Serial })
	b.all = append([]*refbox.Box{box}, b.all...)
}

// of is the box that a form names, or brings the file of.
func (b *boxes) of(v *page.Visit) (*refbox.Box, error) {
	if files := v.Files("boxfile"); len(files) > 0 && files[0].Size > 0 {
		f, err := files[0].Open()
		if err != nil {
			return nil, err
		}
		defer f.Close()
		text, err := io.ReadAll(io.LimitReader(f, refbox.MaxSize+1))
		if err != nil {
			return nil, err
		}
		box, err := refbox.Parse(files[0].Filename, text)
		if err != nil {
			return nil, page.WrongField("boxfile", v.Say("guide.box.wrong", err))
		}
		b.bring(box)
		return box, nil
	}
	for _, box := range b.list() {
		if box.Serial == v.Value("box") {
			return box, nil
		}
	}
	return nil, page.WrongField("boxfile", v.Say("guide.box.none"))
}

// calibrationGuide is that of a zero or a verification.
type calibrationGuide struct {
	p      *pages
	keeper *calibration.Keeper
	kind   sequence.CalibrationKind
	state  care.DueState
}

func (c *calibrationGuide) moves() bool { return false }

func (c *calibrationGuide) load(ctx context.Context, s station.State) (err error) {
	c.state, err = c.p.store.Care.DueState(ctx, s.Jig.Serial, s.Jig.Simulated, time.Now())
	return err
}

func (c *calibrationGuide) view(w page.Words, n int, s station.State) Guide {
	g, now := begun(w, n, s, string(c.kind)), c.keeper.State()
	at, mine := 0, now.Kind == c.kind
	switch {
	case mine && now.Under() && now.Stage == calibration.Reads:
		at, g.Busy, g.Wait, g.Done, g.Total = 2, true, w.Say("guide.reads"), now.Done, now.Total
	case mine && now.Under():
		at, g.Busy, g.Wait = 1, true, stilled(w, now.Stilled)
	case now.Under():
		g.Why = w.Say("guide.calibrated")
	case s.Phase.Busy():
		g.Why = busy(w, s)
	case mine && now.Result != nil:
		at = 3
		g.Result = taken(w, *now.Result)
		g.Go = c.next(w, n, *now.Result)
	case mine:
		g.notTaken(w, now.Why)
	}
	g.step(w, at, "guide.put."+string(c.kind), "guide.shut", "guide.await", "guide.seen")
	if g.Busy || s.Phase.Busy() || !s.Jig.Present || !s.LetGo.IsZero() {
		return g
	}
	g.Start = &startForm{Action: fmt.Sprintf("/jigs/%d/%s", n, c.kind), Button: w.Say("guide.start." + string(c.kind))}
	if at == 3 {
		g.Start.Button = w.Say("guide.again")
	}
	if c.kind == sequence.KindVerify {
		if !c.state.Zero.Holds() { // asked again, by the same rule, when it begins
			g.Start, g.Why, g.Go = nil, w.Say("guide.zerofirst"), &goView{fmt.Sprintf("/jigs/%d/do/zero", n), w.Say("guide.start.zero")}
			return g
		}
		g.Start.Box = true
		for _, b := range c.p.boxes.list() {
			g.Start.Boxes = append(g.Start.Boxes, page.Option{Value: b.Serial, Text: w.Say("guide.box.option", b, b.Certificate, b.Due.Format(time.DateOnly))})
		}
	}
	return g
}

// notTaken says why there is no result.
func (g *Guide) notTaken(w page.Words, err error) {
	if err == nil {
		return
	}
	if remedy := calibrate.RemedyOf(err); remedy != "" {
		g.Why, g.Lang, g.Remedy = w.Say("guide.nothing", err), "en", remedy
		return
	}
	if _, is := errors.AsType[*calibration.ZeroFirstError](err); is {
		g.Why = w.Say("guide.zerofirst")
		return
	}
	if code := station.RefusalOf(err).Code; w.Has("guide.ended." + string(code)) {
		g.Why = w.Say("guide.ended." + string(code))
		return
	}
	g.refused(w, err)
}

// next is what follows a calibration: a zero is followed by what it was taken for.
func (c *calibrationGuide) next(w page.Words, n int, done sequence.Calibration) *goView {
	if done.Good && c.kind == sequence.KindZero && !c.state.Verify.Holds() {
		return &goView{fmt.Sprintf("/jigs/%d/do/verify", n), w.Say("guide.start.verify")}
	}
	return &goView{fmt.Sprintf("/jigs/%d", n), w.Say("guide.backtojig")}
}

// taken shows a calibration with every value against its limit.
func taken(w page.Words, c sequence.Calibration) *resultView {
	out := &resultView{Good: c.Good, Why: c.Reason, Head: w.Say("guide.bad."+string(c.Kind), c.Jig.Serial)}
	if c.Good {
		out.Head = w.Say("guide.good."+string(c.Kind), c.Jig.Serial, w.Date(c.Due()))
	}
	for _, r := range calibrate.Ranges(c) {
		out.Rows = append(out.Rows, readRow{w.Say("guide.range", r.Reference), percent(w, r.Deviation), percent(w, r.U), percent(w, r.Limit),
			abs(r.Deviation / r.Limit), r.Good})
	}
	for _, ch := range calibrate.Channels(c) {
		r := ch.Worst
		out.Rows = append(out.Rows, readRow{w.Say("guide.channel", ch.Channel), w.Near(float64(r.Deviation.Value)) + " Ω",
			w.Near(2*float64(r.Deviation.U)) + " Ω", w.Near(float64(r.Limit)) + " Ω", abs(float64(r.Deviation.Value / r.Limit)), r.Good})
	}
	return out
}

func abs(x float64) float64 { return max(x, -x) }

// calibrate begins a zero or a verification, which goes on whether this page stays or not.
func (p *pages) calibrate(kind sequence.CalibrationKind) func(*page.Visit, int, *station.Lane) (page.Answer, error) {
	return func(v *page.Visit, n int, _ *station.Lane) (page.Answer, error) {
		what := calibration.Order{Kind: kind, Operator: v.Person.Name, Interval: sequence.ZeroInterval}
		if kind == sequence.KindVerify {
			box, err := p.boxes.of(v)
			if err != nil {
				return page.Answer{}, err
			}
			what.Box, what.Interval = box, sequence.VerifyInterval
		}
		if err := p.lanes.UseAtDesk(v, n); err != nil {
			return page.Answer{}, err
		}
		if err := p.keepers[n-1].Begin(what); err != nil {
			return page.Answer{}, p.notBegun(v, err)
		}
		return page.Answer{Go: fmt.Sprintf("/jigs/%d/do/%s", n, kind)}, nil
	}
}

// notBegun says why a lane did not take something on.
func (p *pages) notBegun(v *page.Visit, err error) error {
	var g Guide
	g.refused(v.Words, err)
	return page.Conflict(strings.TrimSpace(g.Why))
}

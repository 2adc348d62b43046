package jigs

import (
	"context"
	"errors"
	"fmt"
	"strconv"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/sequence"
)

// studyGuide is that of a gauge study: each reading in its turn.
type studyGuide struct {
	p      *pages
	study  studies.Study
	person string
}

func (g *studyGuide) moves() bool { return true }

// study is the one that a path names.
func (p *pages) study(v *page.Visit) (*studyGuide, error) {
	number, err := strconv.ParseInt(v.Place("study"), 10, 64)
	if err != nil {
		return nil, page.NotFound(v.Say("gauge.nosuch", v.Place("study")))
	}
	study, err := p.store.Studies.Study(v.Ctx(), number)
	if errors.Is(err, store.ErrNotFound) {
		return nil, page.NotFound(v.Say("gauge.nosuch", v.Place("study")))
	}
	return &studyGuide{p, study, v.Person.Name}, err
}

func (g *studyGuide) load(ctx context.Context, _ station.State) (err error) {
	g.study, err = g.p.store.Studies.Study(ctx, g.study.Number)
	return err
}

// turn is whose turn it is, and the place in the plan: of whoever measures here where one is
// left, else the first that is left to anybody.
func (g *studyGuide) turn(s station.State) (place int, here, left bool) {
	who, planned := g.study.Appraiser(s.Jig.Serial, g.person)
	if planned {
		if place, left = g.study.Next(who); left {
			return place, true, true
		}
	}
	place, left = g.study.Next("")
	return place, false, left
}

func (g *studyGuide) view(w page.Words, n int, s station.State) Guide {
	out, of := begun(w, n, s, "study"), g.study
	out.Address, out.Moves = g.address(n), true
	out.Title = w.Say("guide.title.study", of.Number, of.Product+" "+of.Revision)
	place, here, left := g.turn(s)
	at, unit := 0, ""
	if left {
		p := of.Plan[place]
		unit = of.Parts[p.Part]
		out.Wait = w.Say("guide.turn", of.Appraisers[p.Appraiser], unit, p.Repeat+1, of.Repeats, place+1, len(of.Plan))
	}
	switch {
	case s.Phase.Busy() && unit != s.Unit.Serial:
		out.Why = busy(w, s)
	case s.Phase == station.Lid && s.Refusal != nil:
		at, out.Busy, out.Wait = 1, true, lidSays(w, s)
	case s.Phase == station.Armed:
		at = 1
		out.armed(w, n, s)
	case s.Phase.Busy():
		at, out.Busy, out.Wait, out.Done, out.Total = 2, true, w.Say("guide.tests", s.Unit.Serial), s.Done, s.Total
	case s.Phase == station.Refused && s.Unit.Serial == unit && unit != "":
		out.Why = control.Refusal(w, s.Refusal)
	case s.Phase == station.Ended && s.Verdict.Purpose == sequence.GaugeStudy && !studies.Taken(s.Verdict.Stored):
		out.Why = w.Say("guide.noreading", s.Verdict.Serial, w.Say("outcome."+string(s.Verdict.Outcome)))
	}
	switch {
	case !left:
		at, out.Go = 4, &goView{fmt.Sprintf("/quality/gauge?study=%d", of.Number), w.Say("guide.study.over")}
	case of.Hash != s.Product.Hash():
		out.Why, here = w.Say("guide.study.other", of.Product+" "+of.Revision, s.Product.Code+" "+s.Product.Revision), false
	case !here:
		out.Why = w.Say("guide.study.elsewhere", of.Appraisers[of.Plan[place].Appraiser])
	}
	out.step(w, at, "guide.put.study", "guide.shut.moves", "guide.await", "guide.seen")
	if here {
		out.offer(w, s, unit, fmt.Sprintf("/jigs/%d/study/%d", n, of.Number), w.Say("guide.start.study", unit))
	}
	if out.Start != nil {
		out.Start.Fields = append(out.Start.Fields, page.Option{Text: "place", Value: strconv.Itoa(place)})
	}
	out.List = g.plan(w, place, left)
	return out
}

func (g *studyGuide) address(n int) string {
	return fmt.Sprintf("/jigs/%d/study/%d", n, g.study.Number)
}

// plan is the order of the readings, with what came of those that were taken.
func (g *studyGuide) plan(w page.Words, next int, left bool) []listed {
	done := map[int]studies.StudyReading{}
	for _, r := range g.study.Readings {
		done[r.Place] = r
	}
	var out []listed
	for i, p := range g.study.Plan {
		l := listed{Name: g.study.Parts[p.Part], By: g.study.Appraisers[p.Appraiser], Say: w.Say("guide.trial", p.Repeat+1), Mark: "later"}
		if r, is := done[i]; is {
			l.Mark, l.Say = "done", l.Say+": "+w.Say("outcome."+string(r.Outcome))
		} else if left && i == next {
			l.Mark = "now"
		}
		out = append(out, l)
	}
	return out
}

// read has the lane take the reading at a place of the plan: the one whose turn it is, as the
// page that was sent showed it.
func (p *pages) read(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	g, err := p.study(v)
	if err != nil {
		return page.Answer{}, err
	}
	s := lane.State()
	place, here, _ := g.turn(s)
	switch {
	case !here:
		return page.Answer{}, page.Conflict(v.Say("guide.study.notyours"))
	case g.study.Hash != s.Product.Hash():
		return page.Answer{}, page.Conflict(v.Say("guide.study.other", g.study.Product+" "+g.study.Revision, s.Product.Code+" "+s.Product.Revision))
	case v.Value("place") != strconv.Itoa(place):
		return page.Answer{}, page.Conflict(v.Say("guide.study.old"))
	}
	scan := station.Scan{Serial: g.study.Parts[g.study.Plan[place].Part], Operator: v.Person.Name,
		Reading: &station.Reading{Study: g.study.Number, Place: place}}
	return p.press(v, n, lane, scan, g.address(n))
}

package jigs

import (
	"cmp"
	"errors"
	"fmt"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
)

// PartView is a part of a jig, and how worn it is.
type PartView struct {
	Part, Uses, Warn, Block, Replaced string
	Called                            string `json:"-"`           // the part, in words
	Before                            string `json:"uses_before"` // of uses: before it was fitted here
	What                              string `json:"what"`        // name, lot, tips and channels of what was put in
	State                             string // "", "soon" or "now"
	Worn                              int    `json:"worn"` // percent of its limit

	tip string // what its tips are like
}

// Long is how long the bar of its uses is.
func (p PartView) Long() int { return p.Worn }

// Over reports whether it must be replaced.
func (p PartView) Over() bool { return p.State == "now" }

// parts are the parts of a jig, those that need something done first.
func (p *pages) parts(v *page.Visit, jig station.JigState) ([]PartView, error) {
	list, err := p.store.Care.Wear(v.Ctx(), jig.Serial, jig.Simulated)
	out := []PartView{}
	for _, p := range list {
		row := PartView{Part: p.Part, Called: called(v.Words, p.Part), Uses: strconv.Itoa(p.Uses), Warn: "–", Block: "–", Replaced: "–", What: "–"}
		if p.Block > 0 {
			row.Warn, row.Block, row.Worn = strconv.Itoa(p.Warn), strconv.Itoa(p.Block), bar(p.Of())
		}
		if p.Before > 0 {
			row.Before = strconv.Itoa(p.Before)
		}
		if p.Replaced != nil {
			row.Replaced = v.Date(p.Replaced.At) + " " + p.Replaced.By
			row.What, row.tip = what(v.Words, *p.Replaced), p.Replaced.Tip
		}
		switch {
		case p.Worn():
			row.State = "now"
		case p.Wearing():
			row.State = "soon"
		}
		out = append(out, row)
	}
	return out, err
}

// called is a part in words, with the number that it may have.
func called(w page.Words, part string) string {
	kind := strings.TrimRight(part, " 0123456789")
	return w.Say("jigpart."+kind) + strings.TrimPrefix(part, kind)
}

func what(w page.Words, e care.WearEvent) string {
	words := []string{e.Name}
	for _, a := range [][2]string{{"lot", e.Lot}, {"tip", shape(w, e.Tip)}, {"serves", care.Channels(e.Serves)}} {
		if a[1] != "" {
			words = append(words, w.Say("jig.part."+a[0])+" "+a[1])
		}
	}
	return cmp.Or(strings.Join(slices.DeleteFunc(words, func(s string) bool { return s == "" }), ", "), "–")
}

// places are those that a jig has parts in, and those that it may have them in.
func places(w page.Words, parts []PartView) (all []page.Option) {
	has := func(part string) bool {
		return slices.ContainsFunc(all, func(o page.Option) bool { return o.Value == part })
	}
	add := func(part string) {
		if !has(part) {
			all = append(all, page.Option{Value: part, Text: called(w, part)})
		}
	}
	for _, p := range parts {
		add(p.Part)
	}
	for _, kind := range []string{care.Adapter, care.ProbeSet, care.Cable} {
		add(kind)
	}
	for _, kind := range []string{care.ProbeSet, care.Cable} { // of which there may be several: the next one
		number := 2
		for has(fmt.Sprint(kind, " ", number)) {
			number++
		}
		add(fmt.Sprint(kind, " ", number))
	}
	return all
}

// wear records what was put in or taken out of the jig of a lane, or limits.
func (p *pages) wear(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	jig := lane.State().Jig
	if jig.Serial == "" { // it was never there: nobody knows whose part it is
		return page.Answer{}, page.Conflict(v.Say("code.no jig", jig.Name))
	}
	err := p.saveWear(v, jig)
	if err == nil {
		lane.Refresh()
	}
	return page.Answer{Go: fmt.Sprintf("/jigs/%d#wear", n)}, err
}

// wearOfKept likewise of a jig that is at no lane, as on a shelf.
func (p *pages) wearOfKept(v *page.Visit) (page.Answer, error) {
	simulated := v.Value("simulated") == "true"
	s, err := p.state(v, v.Value("serial"), simulated)
	if err == nil {
		err = p.saveWear(v, s.Jig)
	}
	to := url.Values{"serial": {s.Jig.Serial}, "simulated": {fmt.Sprint(simulated)}}
	return page.Answer{Go: "/jig?" + to.Encode() + "#wear"}, err
}

// tips are the shapes there are, and those that are on the jig already: a word that nobody
// else writes would be a group of its own in every comparison of tips. Common practice, no source.
func tips(w page.Words, parts []PartView) (all []page.Option) {
	names := []string{"crown", "round", "flat", "point", "cup", "spear"}
	for _, p := range parts {
		if p.tip != "" && !slices.Contains(names, p.tip) {
			names = append(names, p.tip)
		}
	}
	for _, name := range names {
		all = append(all, page.Option{Value: name, Text: shape(w, name)})
	}
	return all
}

// shape is that of a tip in words; one of somebody's own as it was written.
func shape(w page.Words, tip string) string {
	if w.Has("jigtip." + tip) {
		return w.Say("jigtip." + tip)
	}
	return tip
}

// chosen reports whether a value is among those that were offered, and what they are called.
func chosen(value string, offered []page.Option) (is bool, called string) {
	var all []string
	for _, o := range offered {
		is = is || o.Value == value
		all = append(all, o.Text)
	}
	return is, strings.Join(all, ", ")
}

func (p *pages) saveWear(v *page.Visit, jig station.JigState) error {
	parts, err := p.parts(v, jig)
	if err != nil {
		return err
	}
	part := v.Value("part")
	if is, all := chosen(part, places(v.Words, parts)); !is {
		return page.WrongField("part", v.Say("jig.part.none", jig.Serial, part, all))
	}
	tip := v.Text("tip")
	if is, all := chosen(tip, tips(v.Words, parts)); !is && tip != "" {
		return page.WrongField("tip", v.Say("jig.part.tip.none", tip, all))
	}
	e := care.WearEvent{Jig: jig.Serial, Part: part, Simulated: jig.Simulated, By: v.Person.Name, Note: v.Text("note")}
	switch {
	case v.Value("warn")+v.Value("block") != "": // half of it is no replacement
		e.Warn, _ = strconv.Atoi(v.Value("warn"))
		e.Block, _ = strconv.Atoi(v.Value("block"))
		if e.Warn < 1 || e.Block < e.Warn {
			return page.WrongField("block", v.Say("jig.limits.wrong"))
		}
	case v.Value("removed") != "":
		e.Removed = true
	default:
		e.Name, e.Lot, e.Tip = v.Text("name"), v.Text("lot"), tip
		if e.Serves, err = care.ParseChannels(v.Value("serves")); err != nil {
			return page.WrongField("serves", v.Told(err))
		}
		if most := jig.Caps.Channels; most > 0 && len(e.Serves) > 0 && slices.Max(e.Serves) > most {
			return page.WrongField("serves", v.Say("jig.part.channels", jig.Serial, most))
		}
	}
	err = p.store.Care.SaveWear(v.Ctx(), e)
	if refused, ok := errors.AsType[*care.PartError](err); ok {
		say := v.Said(refused.What)
		return &page.Problem{Status: http.StatusConflict, Say: say, Fields: []page.Mistake{{Field: refused.Field, Say: say}}}
	}
	return err
}

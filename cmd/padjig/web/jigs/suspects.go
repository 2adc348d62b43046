package jigs

import (
	"cmp"
	"fmt"
	"net/url"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
)

// windowView is a time in which the jig was not known to be good.
type windowView struct {
	Number  int        `json:"number"`
	Open    bool       `json:"open"`
	Since   *time.Time `json:"since"` // the last good verification before; none for the beginning
	Until   *time.Time `json:"until"` // the one that ended it
	Failed  []string   `json:"failed"`
	Tested  int        `json:"tested"`
	Shipped int        `json:"shipped"`
	Cleared int        `json:"cleared"`
	Lots    string     `json:"lots"`
	Left    []unitView `json:"left"` // shipped, the nearest to its limit first
	Here    []unitView `json:"here"` // all others
	More    int        `json:"more"` // that are not listed
}

type unitView struct {
	Serial  string `json:"serial"`
	Outcome string `json:"outcome"`
	Key     string `json:"key"`
	Margin  string `json:"margin"` // in percent of the limit, corrected
	Where   string `json:"where"`
	Lots    string `json:"lots"`
	Cleared bool   `json:"cleared"`
}

// mostUnits are listed of a window on the page; the command lists all.
const mostUnits = 40

// windows are those in which units may have been misjudged: every one that a failed
// verification made, and the open one.
func (p *pages) windows(v *page.Visit, jig station.JigState) ([]windowView, error) {
	all, err := p.store.Care.Suspects(v.Ctx(), jig.Serial, jig.Simulated)
	out := []windowView{}
	for _, w := range all {
		if len(w.Units) > 0 || len(w.Failed) > 0 {
			out = append(out, windowOf(v.Words, w))
		}
	}
	return out, err
}

func windowOf(words page.Words, w care.Window) windowView {
	at := func(c *care.StoredCalibration) *time.Time {
		if c == nil {
			return nil
		}
		return &c.Performed
	}
	out := windowView{Number: w.Number, Open: w.Open(), Since: at(w.Since), Until: at(w.Until), Failed: []string{},
		Tested: len(w.Units), Shipped: w.Shipped(), Cleared: w.Cleared(), Left: []unitView{}, Here: []unitView{}}
	for _, f := range w.Failed {
		out.Failed = append(out.Failed, f.Reason)
	}
	var lots []string
	for _, l := range w.Lots() {
		lots = append(lots, fmt.Sprintf("%s %s: %d", words.Say("ask.material."+l.Material), l.Lot, l.Units))
	}
	out.Lots = strings.Join(lots, ", ")
	for _, u := range w.Units {
		list := &out.Here
		if u.Left() {
			list = &out.Left
		}
		if len(*list) == mostUnits {
			out.More++
			continue
		}
		*list = append(*list, unitOf(words, u))
	}
	return out
}

// Doubts is the page of the units in doubt of a jig, chosen and as a file.
type Doubts struct {
	Serial    string        `json:"serial"`
	Simulated bool          `json:"simulated"`
	Path      string        `json:"path"` // of the jig
	Windows   []page.Option `json:"-"`
	Shows     []page.Option `json:"-"`
	Lot       string        `json:"lot"`
	Units     page.Table    `json:"units"`
	CSV       string        `json:"-"`
}

// Tables are those that can be had as files.
func (d Doubts) Tables() []page.Table { return []page.Table{d.Units} }

// suspects lists every unit in doubt of a jig, of one window or of all.
func (p *pages) suspects(v *page.Visit) (any, error) {
	serial, simulated, window, show := v.Value("serial"), v.Value("simulated") == "true", v.Value("window"), cmp.Or(v.Value("show"), "all")
	if serial == "" {
		return page.Elsewhere("/jigs"), nil
	}
	all, err := p.store.Care.Suspects(v.Ctx(), serial, simulated)
	if err != nil {
		return nil, err
	}
	again := url.Values{"serial": {serial}, "simulated": {fmt.Sprint(simulated)}, "window": {window}, "show": {show}, "lot": {v.Text("lot")}}
	out := Doubts{Serial: serial, Simulated: simulated, Lot: v.Text("lot"), Units: doubtTable(v.Words),
		Path: "/jig?" + url.Values{"serial": again["serial"], "simulated": again["simulated"]}.Encode()}
	out.Windows = append(out.Windows, page.Option{Text: v.Say("jig.suspects.all"), Chosen: window == ""})
	for _, w := range all {
		number := strconv.Itoa(w.Number)
		name := v.Say("jig.suspects.window", w.Number)
		if w.Open() {
			name = v.Say("jig.suspects.open")
		}
		out.Windows = append(out.Windows, page.Option{Value: number, Text: name, Chosen: window == number})
		if window != "" && window != number {
			continue
		}
		for _, u := range w.Units {
			if doubted(u, show, out.Lot) {
				out.Units.Rows = append(out.Units.Rows, doubtRow(v.Words, w.Number, u))
			}
		}
	}
	out.Shows = options(v.Words, "jig.suspects.show.", show, "all", "left", "here", "open")
	again.Set("csv", out.Units.Name)
	out.CSV = "/jig/suspects?" + again.Encode()
	return out, nil
}

// doubted reports whether a unit is among those chosen.
func doubted(u care.Suspect, show, lot string) bool {
	if lot != "" && !strings.Contains(u.Lots.String(), lot) {
		return false
	}
	switch show {
	case "left":
		return u.Left()
	case "here":
		return !u.Left()
	case "open":
		return u.Cleared == nil
	}
	return true
}

func doubtTable(w page.Words) page.Table {
	return page.Table{Name: "units-in-doubt", Caption: w.Say("jig.suspects"), Open: true, Columns: []page.Column{
		page.Col("serial", w.Say("jig.unit")), page.NumCol("window", w.Say("jig.suspects.number")), page.Col("outcome", w.Say("jig.result")),
		page.Col("key", w.Say("jig.suspects.key")), page.NumCol("margin_percent", w.Say("jig.suspects.margin")),
		page.Col("shipment", w.Say("jig.suspects.where")), page.Col("consignee", w.Say("jig.suspects.to")), page.Col("lots", w.Say("jig.suspects.lot")),
		page.Col("cleared", w.Say("jig.suspects.cleared")),
	}}
}

func doubtRow(w page.Words, window int, u care.Suspect) []page.Cell {
	margin, where, consignee, cleared := page.Cell{Text: "–"}, page.Plain("–"), page.Plain(""), page.Cell{Text: "–", Value: false}
	if u.Key != "" {
		margin = page.Cell{Text: w.Num(1, 100*u.OfLimit()), Value: 100 * u.OfLimit(), Mark: u.OfLimit() < 0}
	}
	if s := u.Shipment; s != nil {
		where, consignee = page.Cell{Text: w.Say("jig.suspects." + s.Where()), Value: s.Where()}, page.Plain(s.Consignee)
	}
	if u.Cleared != nil {
		cleared = page.Cell{Text: w.Say("word.yes"), Value: true}
	}
	return []page.Cell{{Text: u.Serial, Value: u.Serial, Link: "/unit?serial=" + url.QueryEscape(u.Serial)}, page.Count(window),
		{Text: w.Say("outcome." + string(u.Outcome)), Value: string(u.Outcome)}, page.Plain(u.Key), margin, where, consignee,
		page.Plain(u.Lots.String()), cleared}
}

func unitOf(words page.Words, u care.Suspect) unitView {
	out := unitView{Serial: u.Serial, Outcome: words.Say("outcome." + string(u.Outcome)), Key: u.Key, Margin: "–", Where: "–", Lots: u.Lots.String(),
		Cleared: u.Cleared != nil}
	if u.Key != "" {
		out.Margin = words.Num(1, 100*u.OfLimit())
	}
	if s := u.Shipment; s != nil {
		out.Where = strings.TrimSpace(words.Say("jig.suspects."+s.Where()) + " " + words.Date(s.At) + " " + s.Consignee)
	}
	return out
}

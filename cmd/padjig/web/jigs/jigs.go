// Package jigs is the care of jigs: which there are and how they stand, their
// calibrations, their worn parts, and what goes over the line to them.
package jigs

import (
	"cmp"
	"fmt"
	"maps"
	"math"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/calibration"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/answers/upkeep"
	"padjig/results/care"
	"padjig/results/report"
	"padjig/sequence"
	"padjig/sequence/refbox"
)

// pages are those of the jigs.
type pages struct {
	store   *results.Store
	lanes   *control.Lanes
	boxes   *boxes
	keepers []*calibration.Keeper // by lane
}

// Set is what there is to see and to do. At hand are the reference boxes that the station was
// started with.
func Set(store *results.Store, lanes *control.Lanes, atHand []*refbox.Box, load func(int, sequence.CalibrationKind)) page.Set {
	p := &pages{store: store, lanes: lanes, boxes: &boxes{all: atHand}}
	for i, lane := range lanes.All() {
		var loads func(sequence.CalibrationKind)
		if load != nil {
			loads = func(kind sequence.CalibrationKind) { load(i, kind) }
		}
		p.keepers = append(p.keepers, calibration.NewKeeper(lane, store, loads))
	}
	at := func(path string, who page.Roles, do func(*page.Visit, int, *station.Lane) (page.Answer, error)) page.Action {
		return page.Action{Path: path, Who: who, Do: control.Named(p.lanes, do)}
	}
	verify := at("/jigs/{lane}/verify", page.Engineers, p.calibrate(sequence.KindVerify))
	verify.Files = true // the certificate of the box
	return page.Set{
		Pages: []page.Page{
			{Path: "/jigs", Name: "jigs", Menu: "menu.jigs", Below: "/jig", Who: page.Engineers, View: p.list},
			{Path: "/jigs/{lane}", Name: "jig", Who: page.Engineers, View: control.Named(p.lanes, p.jig)},
			{Path: "/jig", Name: "jig", Who: page.Engineers, View: p.kept},
			{Path: "/jig/suspects", Name: "suspects", Who: page.Engineers, View: p.suspects},
			{Path: "/jigs/{lane}/traffic", Name: "traffic", Who: page.Engineers, View: control.Named(p.lanes, p.traffic)},
			{Path: "/jigs/{lane}/do/{what}", Name: "guide", Who: page.Engineers, View: control.Named(p.lanes, p.guide)},
			{Path: "/jigs/{lane}/study/{study}", Name: "guide", Who: page.Everyone, View: control.Named(p.lanes, p.guide)},
		},
		Actions: []page.Action{
			{Path: "/jig/wear", Who: page.Engineers, Do: p.wearOfKept},
			at("/jigs/{lane}/wear", page.Engineers, p.wear), at("/jigs/{lane}/letgo", page.Engineers, p.letGo),
			at("/jigs/{lane}/zero", page.Engineers, p.calibrate(sequence.KindZero)), verify,
			at("/jigs/{lane}/reference", page.Engineers, p.reference),
			at("/jigs/{lane}/study/{study}", page.Everyone, p.read),
			at("/jigs/{lane}/halt", page.Everyone, p.halt), at("/jigs/{lane}/start", page.Everyone, p.startUnit),
		},
		Streams: []page.Stream{
			{Path: "/jigs/{lane}/traffic/live", Who: page.Engineers, Run: p.live},
			{Path: "/jigs/{lane}/do/{what}/live", Who: page.Engineers, Run: p.follow},
			{Path: "/jigs/{lane}/study/{study}/live", Who: page.Everyone, Run: p.follow},
		},
	}
}

// List is all jigs: those that the records know, and those that the lanes look for.
type List struct {
	Jigs   []Row         `json:"jigs"`
	Said   string        `json:"-"`
	Find   string        `json:"-"`
	Shows  []page.Option `json:"-"`
	Orders []page.Option `json:"-"`
	More   int           `json:"-"` // that the choice leaves out
	table  page.Table
}

// Tables are those that can be had as files: all jigs, whatever is chosen.
func (l List) Tables() []page.Table { return []page.Table{l.table} }

// Sort is the address of the list in an order, with what is chosen besides.
func (l List) Sort(order string) string {
	v := url.Values{"order": {order}}
	if l.Find != "" {
		v.Set("find", l.Find)
	}
	for _, o := range l.Shows {
		if o.Chosen && o.Value != "all" {
			v.Set("show", o.Value)
		}
	}
	return "/jigs?" + v.Encode()
}

// Sorted says which way the list is sorted by an order, nothing where it is not.
func (l List) Sorted(order string) string {
	i := slices.IndexFunc(l.Orders, func(o page.Option) bool { return o.Chosen && o.Value == order })
	switch {
	case i < 0:
		return ""
	case order == "worn", order == "drift", order == "tested":
		return "descending"
	}
	return "ascending"
}

// Row is a jig in one line.
type Row struct {
	Lane       int                 `json:"lane"` // 0: at none here
	Path       string              `json:"path"` // of its page
	Serial     string              `json:"serial"`
	Model      string              `json:"model"`
	Firmware   string              `json:"firmware"`
	Port       string              `json:"port"`
	Product    string              `json:"product"`
	Simulated  bool                `json:"simulated"`
	Present    bool                `json:"present"`
	Zero       dueView             `json:"zero"`
	Verify     dueView             `json:"verify"`
	Reference  string              `json:"reference"` // what is left until the first unit is due
	Troubles   []troubleView       `json:"troubles"`
	Part       string              `json:"part"` // the most worn one
	Called     string              `json:"-"`    // in words
	Worn       readRow             `json:"worn"`
	Drift      driftView           `json:"drift"`
	Tested     time.Time           `json:"tested,omitzero"`
	Conditions []control.Condition `json:"conditions"`

	kept upkeep.Jig
}

// dueView is how a jig stands with one kind of calibration.
type dueView struct {
	Status string    `json:"standing"`
	Say    string    `json:"say"`
	Due    time.Time `json:"due,omitzero"` // zero for never
	Left   string    `json:"left"`         // until then
	Days   float64   `json:"days"`
}

type troubleView struct {
	Code  string `json:"code"`
	Say   string `json:"say"`
	Stops bool   `json:"stops"`
}

// driftView is a small line of readings between their limits.
type driftView struct {
	Of     string `json:"of"` // what was read
	Points string `json:"-"`  // of a drawing 100 wide, 24 high
	Last   string `json:"last"`
	Far    bool   `json:"far"`
	X, Y   string `json:"-"` // of the last point
}

const absent = "absent"

// list shows every jig, those that need something done first.
func (p *pages) list(v *page.Visit) (any, error) {
	all, err := upkeep.Of(v.Ctx(), p.store, upkeep.Asked{Now: time.Now()})
	if err != nil {
		return nil, err
	}
	rows, seen := []Row{}, map[int]bool{}
	for _, k := range all.Jigs {
		n := p.laneOf(k.Jig.Serial, k.Simulated)
		seen[n] = true
		rows = append(rows, p.row(v.Words, k, n))
	}
	for i, lane := range p.lanes.All() {
		if s := lane.State(); !seen[i+1] {
			k, err := upkeep.OfJig(v.Ctx(), p.store, upkeep.Asked{Now: time.Now()}, s.Jig.Serial, s.Jig.Simulated)
			if err != nil {
				return nil, err
			}
			rows = append(rows, p.row(v.Words, k, i+1))
		}
	}
	out := List{Jigs: []Row{}, Find: v.Text("find"), table: *v.TableOf(report.UpkeepTable(all), v.Say("title.jigs"))}
	show, order := cmp.Or(v.Value("show"), "all"), cmp.Or(v.Value("order"), "trouble")
	out.Shows, out.Orders = options(v.Words, "jigs.show.", show, "all", "trouble", "here", "away"),
		options(v.Words, "jigs.order.", order, slices.Sorted(maps.Keys(orders))...)
	stopped := 0
	for _, r := range rows {
		if r.rank() <= stops {
			stopped++
		}
		if r.shown(show, out.Find) {
			out.Jigs = append(out.Jigs, r)
		}
	}
	out.More = len(rows) - len(out.Jigs)
	out.Said = v.Say("jigs.said", len(rows), stopped)
	less, known := orders[order]
	if !known {
		less = orders["trouble"]
	}
	slices.SortStableFunc(out.Jigs, less)
	return out, nil
}

// options are what can be chosen for a field, by the keys of their words.
func options(w page.Words, key, chosen string, names ...string) (out []page.Option) {
	for _, name := range names {
		out = append(out, page.Option{Value: name, Text: w.Say(key + name), Chosen: name == chosen})
	}
	return out
}

// orders are the ways to sort the list.
var orders = map[string]func(a, b Row) int{
	"trouble": func(a, b Row) int {
		return cmp.Or(cmp.Compare(a.rank(), b.rank()), cmp.Compare(a.soonest(), b.soonest()))
	},
	"serial": func(a, b Row) int { return cmp.Compare(a.Serial, b.Serial) },
	"zero":   func(a, b Row) int { return cmp.Compare(a.Zero.Days, b.Zero.Days) },
	"verify": func(a, b Row) int { return cmp.Compare(a.Verify.Days, b.Verify.Days) },
	"worn":   func(a, b Row) int { return cmp.Compare(b.Worn.Part, a.Worn.Part) },
	"drift":  func(a, b Row) int { return cmp.Compare(b.far(), a.far()) },
	"tested": func(a, b Row) int { return b.Tested.Compare(a.Tested) },
}

// Ranks of rows; an absent jig comes behind what stops one and before what only nears a limit.
const (
	stops      = 100
	absentRank = 101
	fineRank   = 999
)

func (r Row) rank() int {
	rank := fineRank
	for _, t := range r.Troubles {
		switch {
		case t.Code == absent:
			rank = min(rank, absentRank)
		case t.Stops, t.Code == string(upkeep.Suspects):
			rank = min(rank, r.kept.Rank())
		default:
			rank = min(rank, absentRank+1+r.kept.Rank())
		}
	}
	return rank
}

func (r Row) soonest() float64 { return min(r.Zero.Days, r.Verify.Days) }

func (r Row) far() float64 {
	if len(r.kept.Drift.Points) == 0 {
		return -1
	}
	return abs(r.kept.Drift.Last())
}

// shown reports whether a row is among those chosen.
func (r Row) shown(show, find string) bool {
	find = strings.ToLower(find)
	if !strings.Contains(strings.ToLower(r.Serial+" "+r.Product+" "+r.Port), find) {
		return false
	}
	switch show {
	case "trouble":
		return len(r.Troubles) > 0
	case "here":
		return r.Lane > 0 && r.Present
	case "away":
		return r.Lane == 0 || !r.Present
	}
	return true
}

// laneOf is the lane that has a jig, or last had it; 0 for none.
func (p *pages) laneOf(serial string, simulated bool) int {
	for i, lane := range p.lanes.All() {
		if s := lane.State(); s.Jig.Serial == serial && s.Jig.Simulated == simulated {
			return i + 1
		}
	}
	return 0
}

// row is a jig as the records know it, at a lane or at none.
func (p *pages) row(w page.Words, k upkeep.Jig, n int) Row {
	now := time.Now()
	out := Row{Lane: n, Serial: k.Jig.Serial, Model: k.Jig.Model, Firmware: k.Jig.Firmware, Product: k.Product, Simulated: k.Simulated,
		Path: "/jig?" + url.Values{"serial": {k.Jig.Serial}, "simulated": {fmt.Sprint(k.Simulated)}}.Encode(),
		Zero: dueOf(w, k.Zero, now), Verify: dueOf(w, k.Verify, now), Reference: firstReference(w, k),
		Troubles: []troubleView{}, Drift: driftOf(w, k.Drift), Tested: k.Tested, Conditions: []control.Condition{}, kept: k}
	for _, t := range k.Troubles {
		out.Troubles = append(out.Troubles, troubleView{string(t.Code), report.Say(w.Lang, t.Words()), t.Stops()})
	}
	if part := k.Part; part != nil {
		out.Part, out.Called = part.Part, called(w, part.Part)
		out.Worn = readRow{Part: part.Of(), Value: w.Num(0, 100*part.Of()) + " %", Good: !part.Wearing()}
	}
	if n > 0 {
		out.at(w, n, p.lanes.All()[n-1].State())
	}
	return out
}

// told are conditions of a lane that stand among what is due already.
var told = map[station.Code]bool{station.CalibrationDue: true, station.CalibrationBad: true, station.CalibrationSoon: true,
	station.NotCalibrated: true, station.ReferenceDue: true, station.ReferenceBad: true, station.PartWorn: true, station.PartWearing: true}

// at says where a jig is, and what its lane knows of it.
func (r *Row) at(w page.Words, n int, s station.State) {
	r.Path, r.Port, r.Present = fmt.Sprintf("/jigs/%d", n), s.Jig.Port, s.Jig.Present
	r.Product = s.Product.Code + " " + s.Product.Revision
	r.Conditions = control.Conditions(w, slices.DeleteFunc(s.Conditions, func(c station.Condition) bool { return told[c.Code] }))
	if s.Jig.Model != "" {
		r.Model, r.Firmware = s.Jig.Model, s.Jig.Firmware
	}
	if r.Serial == "" {
		r.Serial = s.Jig.Name
	}
	if !r.Present {
		r.Troubles = append(r.Troubles, troubleView{absent, w.Say("jigs.absent"), false})
	}
}

func dueOf(v page.Words, d care.Due, now time.Time) dueView {
	out := dueView{Status: string(d.Status), Say: v.Say("jigs.standing." + string(d.Status)), Days: math.MaxFloat64}
	if d.Last != nil && d.Status != care.StatusBad {
		left := d.Last.Due().Sub(now)
		out.Due, out.Left, out.Days = d.Last.Due(), hours(v, left), left.Hours()/24
		if left < 0 {
			out.Left = v.Say("jigs.over", hours(v, -left))
		}
	}
	if d.Status == care.StatusBad {
		out.Days = -math.MaxFloat64
	}
	return out
}

// firstReference is what is left until the first reference unit is due.
func firstReference(w page.Words, k upkeep.Jig) string {
	if len(k.References) == 0 {
		return ""
	}
	first := k.References[0].Left
	for _, r := range k.References[1:] {
		if r.Left.Over() || r.Left.Timed && r.Left.Time < first.Time || r.Left.Counted && r.Left.Units < first.Units {
			first = r.Left
		}
	}
	if first.Over() {
		return w.Say("jigs.duenow")
	}
	return leftOf(w, first)
}

// driftOf draws a drift: the limits lie a sixth of the height from the edges.
func driftOf(w page.Words, d upkeep.Drift) driftView {
	out := driftView{Of: w.Say("jigs.drift.verify"), Far: d.Far()}
	if d.Of != "" {
		out.Of = w.Say("jigs.drift.reference", d.Of)
	}
	var points []string
	for i, part := range d.Points {
		x := 2.0
		if len(d.Points) > 1 {
			x += 96 * float64(i) / float64(len(d.Points)-1)
		}
		out.X, out.Y = fmt.Sprintf("%.1f", x), fmt.Sprintf("%.1f", 12-8*min(max(part, -1.4), 1.4))
		points = append(points, out.X+","+out.Y)
	}
	if len(points) > 0 {
		out.Points, out.Last = strings.Join(points, " "), w.Num(0, 100*d.Last())+" %"
	}
	return out
}

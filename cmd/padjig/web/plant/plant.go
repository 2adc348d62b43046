// Package plant are the pages of an office that say of all stations together what padjig plant says:
// each is a document of package report as it stands, its tables and its sentences.
package plant

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	answer "padjig/results/answers/plant"
	"padjig/results/answers/upkeep"
	"padjig/results/lines"
	"padjig/results/plant/conflict"
	"padjig/results/report"
	"padjig/results/store"
)

// Path is where the pages are, each by the name of its question.
const Path = "/plant/"

// questions are the pages, in their order.
var questions = []string{"stations", "compare", "due", "drift", "suspects", "life", "identify", "conflicts"}

// tabs are the ways to all of them, one of which is here.
func tabs(v *page.Visit, here string) (all []page.Entry) {
	for _, name := range questions {
		all = append(all, page.Entry{Path: Path + name, Text: v.Say("plantpage." + name), Here: name == here})
	}
	return all
}

// Decide writes down what came of a conflict.
type Decide func(context.Context, conflict.Decision) (conflict.Conflict, error)

// Set is what there is to see of the records of a plant, and to say of its conflicts.
func Set(s *results.Store, decide Decide) page.Set {
	p := pages{s, decide}
	return page.Set{Pages: []page.Page{
		{Path: Path + "{question}", Name: "plant", Who: page.Everyone, View: p.view},
		{Path: Path + "conflicts", Name: "conflicts", Who: page.Everyone, View: p.conflicts},
	}, Actions: []page.Action{
		{Path: Path + "conflicts/close", Who: page.Deciding, Do: func(v *page.Visit) (page.Answer, error) { return p.decides(v, false) }},
		{Path: Path + "conflicts/reopen", Who: page.Deciding, Do: func(v *page.Visit) (page.Answer, error) { return p.decides(v, true) }},
	}}
}

type pages struct {
	store  *results.Store
	decide Decide
}

// View is an answer.
type View struct {
	Question string       `json:"question"`
	Heading  string       `json:"heading"`
	Tabs     []page.Entry `json:"-"`
	Says     []says       `json:"says"`
	Sheets   []sheet      `json:"tables"`
	Serial   string       `json:"serial,omitempty"` // of the unit that was asked for
	Life     bool         `json:"-"`
	Identify bool         `json:"-"`
	Chosen   chosen       `json:"chosen,omitzero"` // which units are searched
	About    string       `json:"about,omitempty"` // which units
	// Simulated: of simulated jigs. Other is the same of the others.
	Simulated bool   `json:"simulated"`
	Other     string `json:"-"`
}

// says is a sentence.
type says struct {
	Text string `json:"text"`
	Warn bool   `json:"attention"`
}

// sheet is a table with its address as a file.
type sheet struct {
	*page.Table
	CSV string `json:"csv"`
}

// chosen are the units that are searched for one, as somebody wrote them.
type chosen struct {
	From    string `json:"from,omitempty"`
	To      string `json:"to,omitempty"`
	Station string `json:"station,omitempty"`
}

// Tables are those that can be had as files.
func (v View) Tables() (all []page.Table) {
	for _, s := range v.Sheets {
		all = append(all, *s.Table)
	}
	return all
}

func (p pages) view(v *page.Visit) (any, error) {
	question, serial := v.Place("question"), v.Text("serial")
	simulated := v.Text("simulated") == "1"
	out := View{Question: question, Heading: v.Say("plantpage." + question), Life: question == "life", Serial: serial, Simulated: simulated, Says: []says{}, Sheets: []sheet{}}
	if out.Identify = question == "identify"; out.Identify {
		out.Chosen = chosen{v.Text("from"), v.Text("to"), v.Text("station")}
	}
	out.Tabs = tabs(v, question)
	own := url.Values{}
	if serial != "" {
		own.Set("serial", serial)
	}
	for name, value := range map[string]string{"from": out.Chosen.From, "to": out.Chosen.To, "station": out.Chosen.Station} {
		if value != "" {
			own.Set(name, value)
		}
	}
	if !simulated {
		own.Set("simulated", "1")
	}
	out.Other = address(question, own)
	d, err := p.document(v, question, serial, simulated, out.Chosen)
	switch {
	case errors.Is(err, store.ErrNotFound):
		out.Says = append(out.Says, says{Text: v.Say("plantpage.unknown", serial), Warn: true})
		return out, nil
	case errors.Is(err, errDay), errors.Is(err, answer.ErrStation):
		out.Says = append(out.Says, says{Text: v.Say("plantpage.choice"), Warn: true})
		return out, nil
	case errors.Is(err, lines.ErrNoUnits):
		out.Says = append(out.Says, says{Text: v.Say("plantpage.nounits")})
		return out, nil
	case err != nil:
		return nil, err
	case d == nil:
		return out, nil
	}
	if simulated {
		own.Set("simulated", "1")
	} else {
		own.Del("simulated")
	}
	if question == "compare" {
		out.About = d.Selection
	}
	for _, one := range d.By(v.Zone()).Conclusion {
		out.Says = append(out.Says, says{report.Say(v.Lang, one), one.Tone == answers.Attention})
	}
	for _, t := range d.Tables {
		own.Set("csv", t.Name)
		table := v.TableOf(t, v.Say("plantpage.table."+t.Name))
		table.Open = true
		out.Sheets = append(out.Sheets, sheet{table, address(question, own)})
	}
	return out, nil
}

func address(question string, v url.Values) string {
	if len(v) == 0 {
		return Path + question
	}
	return Path + question + "?" + v.Encode()
}

// errDay is a day that is none.
var errDay = errors.New("no day")

// days reads from and to, none where none is said.
func (c chosen) days(zone *time.Location) (from, to time.Time, err error) {
	for text, into := range map[*string]*time.Time{&c.From: &from, &c.To: &to} {
		if *text == "" {
			continue
		}
		if *into, err = time.ParseInLocation(time.DateOnly, *text, zone); err != nil {
			return from, to, fmt.Errorf("%w: %q", errDay, *text)
		}
	}
	return from, to, nil
}

// document asks the question; there is none for a life of nobody.
func (p pages) document(v *page.Visit, question, serial string, simulated bool, c chosen) (*report.Document, error) {
	now := time.Now()
	var d report.Document
	var err error
	switch question {
	case "stations":
		var a answer.Stations
		a, err = answer.AskStations(v.Ctx(), p.store, answer.StationsAsked{Now: now, Zone: v.Zone(), Simulated: simulated})
		d = report.PlantStations(a)
	case "compare":
		var c choice.Chosen
		asked := choice.Asked{Simulated: true, Filter: lines.Filter{Simulated: simulated, Zone: v.Zone()}}
		if c, err = choice.Choose(v.Ctx(), p.store, asked, choice.Runs, now); err != nil {
			return nil, err
		}
		var a answer.Comparison
		if a, err = answer.AskCompare(v.Ctx(), p.store, answer.CompareAsked{Selection: c.Selection}); err == nil {
			d = report.PlantCompared(a)
		}
	case "due":
		var a answer.Due
		if a, err = answer.AskDue(v.Ctx(), p.store, upkeep.Asked{Now: now}); err == nil {
			d = report.PlantDue(a)
		}
	case "drift":
		var a answer.Drift
		a, err = answer.AskDrift(v.Ctx(), p.store, answer.DriftAsked{Simulated: simulated})
		d = report.PlantDrift(a)
	case "suspects":
		var a answer.Suspects
		a, err = answer.AskSuspects(v.Ctx(), p.store, answer.SuspectsAsked{Simulated: simulated})
		d = report.PlantSuspects(a)
	case "life":
		if serial == "" {
			return nil, nil
		}
		var a answer.Life
		a, err = answer.AskLife(v.Ctx(), p.store, serial)
		d = report.PlantLife(a)
	case "identify":
		if serial == "" {
			return nil, nil
		}
		from, to, err := c.days(v.Zone())
		if err != nil {
			return nil, err
		}
		a, err := answer.AskIdentity(v.Ctx(), p.store, answer.IdentityAsked{What: serial, From: from, To: to, Station: c.Station}, nil)
		if err != nil {
			return nil, err
		}
		d = report.PlantIdentity(a)
	default:
		return nil, page.NotFound(v.Say("error.nowhere"))
	}
	return &d, err
}

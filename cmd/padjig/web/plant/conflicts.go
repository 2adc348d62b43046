package plant

import (
	"cmp"
	"errors"
	"net/url"
	"slices"
	"strconv"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/page"
	"padjig/results/plant/conflict"
	"padjig/results/report"
)

// Conflicts are where the records of the stations speak against each other.
type Conflicts struct {
	Tabs      []page.Entry  `json:"-"`
	Kinds     []page.Option `json:"-"`
	Stations  []page.Option `json:"-"`
	Shows     []page.Option `json:"-"` // open ones, closed ones, or both
	Serial    string        `json:"serial,omitempty"`
	From      string        `json:"from,omitempty"`
	To        string        `json:"to,omitempty"`
	Simulated bool          `json:"simulated"` // those of simulated jigs are shown as well
	Chosen    bool          `json:"-"`         // something is chosen
	Counts    []Count       `json:"counts"`
	List      []Conflict    `json:"conflicts"`
	Left      int           `json:"left"` // that there are beside these
	All       string        `json:"-"`    // address of all of them
	Twice     []string      `json:"-"`    // how far it was looked for two units under one number
	May       bool          `json:"-"`    // this person may say what came of one
	Here      string        `json:"-"`    // the address of these
}

// Count is how many there are of a kind, among those that are shown.
type Count struct {
	Kind string `json:"kind"`
	Say  string `json:"-"`
	N    int    `json:"n"`
}

// Conflict is one of them, with what each station says.
type Conflict struct {
	Kind      string `json:"kind"`
	Name      string `json:"-"`
	Said      string `json:"said"`
	Remedy    string `json:"remedy"`
	Simulated bool   `json:"simulated"`
	Sides     []Side `json:"sides"`
	ID        string `json:"id"`
	State     string `json:"state"` // it is closed in
	Unit      string `json:"-"`     // serial number of the one it is about, empty for none
	Closed    bool   `json:"closed"`
	Came      bool   `json:"came"` // it was closed, and something came to it since
	Notes     []Note `json:"notes,omitempty"`
}

// Note is what somebody decided about one.
type Note struct {
	Closed bool      `json:"closed"`
	By     string    `json:"by"`
	At     time.Time `json:"at"`
	Reason string    `json:"reason"`
}

// Side is what one station has. Of a change of lots there is no run.
type Side struct {
	Station  string    `json:"station"`
	Serial   string    `json:"serial,omitempty"`
	Product  string    `json:"product"`
	Revision string    `json:"revision,omitempty"`
	Hash     string    `json:"hash,omitempty"`
	Jig      string    `json:"jig"`
	Began    time.Time `json:"began,omitzero"`
	Ended    time.Time `json:"ended,omitzero"`
	Outcome  string    `json:"outcome,omitempty"`
	Say      string    `json:"-"` // the outcome in words
	Attempt  int       `json:"attempt,omitempty"`
	Run      int64     `json:"run,omitempty"`
	JigPath  string    `json:"-"` // empty for who may not look at jigs
	UnitPath string    `json:"-"` // likewise of units
}

// mostConflicts is how many are shown at first.
const mostConflicts = 100

func (p pages) conflicts(v *page.Visit) (any, error) {
	out := Conflicts{Tabs: tabs(v, "conflicts"), Serial: v.Text("serial"), From: v.Text("from"), To: v.Text("to"),
		Simulated: v.Text("simulated") == "1", Counts: []Count{}, List: []Conflict{}}
	asked := conflict.Asked{Serial: out.Serial, Most: mostConflicts}
	if v.Text("all") == "1" {
		asked.Most = 0
	}
	if err := out.times(v, &asked); err != nil {
		return nil, err
	}
	out.Kinds = append(out.Kinds, page.Option{Text: v.Say("conflicts.anykind")})
	for _, code := range conflict.Codes() {
		chosen := v.Text("kind") == string(code)
		if chosen {
			asked.Codes = []conflict.Code{code}
		}
		out.Kinds = append(out.Kinds, page.Option{Value: string(code), Text: v.Say("conflict." + string(code) + ".name"), Chosen: chosen})
	}
	for i, name := range []string{"open", "closed", "all"} {
		chosen := v.Text("show") == name
		if chosen {
			asked.Show = conflict.Show(i)
		}
		out.Shows = append(out.Shows, page.Option{Value: name, Text: v.Say("conflicts.show." + name), Chosen: chosen})
	}
	stations, err := p.store.Plant.Stations(v.Ctx())
	if err != nil {
		return nil, err
	}
	out.Stations = append(out.Stations, page.Option{Text: v.Say("conflicts.anystation")})
	for _, s := range stations {
		chosen := v.Text("station") == strconv.Itoa(s.Member)
		if chosen {
			asked.Member = s.Member
		}
		out.Stations = append(out.Stations, page.Option{Value: strconv.Itoa(s.Member), Text: s.Name, Chosen: chosen})
	}
	answer, err := conflict.Ask(v.Ctx(), p.store, asked)
	if err != nil {
		return nil, err
	}
	out.Left = answer.Left
	out.Chosen = asked.Serial+out.From+out.To != "" || asked.Member != 0 || len(asked.Codes) > 0 || asked.Show != conflict.Open
	out.May, out.Here = v.Person.HasRole(page.Deciding), v.Address()
	for _, said := range report.TwiceWords(answer.Twice) {
		out.Twice = append(out.Twice, report.Say(v.Lang, said.By(v.Zone())))
	}
	out.All = out.all(v)
	for _, c := range answer.Conflicts {
		out.List = append(out.List, told(v, c))
	}
	for _, code := range conflict.Codes() {
		n := 0
		for _, c := range answer.Conflicts {
			if c.Code == code {
				n++
			}
		}
		if n > 0 {
			out.Counts = append(out.Counts, Count{string(code), v.Say("conflict." + string(code) + ".name"), n})
		}
	}
	return out, nil
}

// times reads the days that were chosen: both of them whole.
func (c *Conflicts) times(v *page.Visit, asked *conflict.Asked) error {
	var wrong []page.Mistake
	for name, into := range map[string]*time.Time{"from": &asked.Since, "to": &asked.Until} {
		text := v.Text(name)
		if text == "" {
			continue
		}
		day, err := time.ParseInLocation(time.DateOnly, text, v.Zone())
		if err != nil {
			wrong = append(wrong, page.Mistake{Field: name, Say: v.Say("conflicts.noday", text)})
			continue
		}
		if name == "to" {
			day = day.AddDate(0, 0, 1)
		}
		*into = day
	}
	slices.SortFunc(wrong, func(a, b page.Mistake) int { return cmp.Compare(a.Field, b.Field) })
	return page.WrongFields(wrong...)
}

// all is the address of the same without a bound.
func (c Conflicts) all(v *page.Visit) string {
	to := url.Values{"all": {"1"}}
	for _, name := range []string{"serial", "from", "to", "kind", "station", "show"} {
		if text := v.Text(name); text != "" {
			to.Set(name, text)
		}
	}
	return Path + "conflicts?" + to.Encode()
}

func told(v *page.Visit, c conflict.Conflict) Conflict {
	said, remedy := report.ConflictWords(c)
	out := Conflict{Kind: string(c.Code), Name: v.Say("conflict." + string(c.Code) + ".name"), Said: report.Say(v.Lang, said.By(v.Zone())),
		Remedy: report.Say(v.Lang, remedy), Simulated: c.Simulated, ID: c.ID(), State: c.State(), Closed: c.Closed(), Came: c.Came()}
	if c.OfUnit() {
		out.Unit = c.Of
	}
	for _, n := range c.Notes {
		out.Notes = append(out.Notes, Note{n.Closed, n.By, n.At, n.Reason})
	}
	for _, k := range c.Known {
		side := Side{Station: k.Station, Serial: k.Serial, Product: k.Product, Revision: k.Revision, Jig: k.Jig, Began: k.Began, Ended: k.Ended,
			Outcome: k.Outcome, Attempt: k.Attempt, Run: k.Run}
		if v.Person.HasRole(page.Engineers) && k.Jig != "" {
			side.JigPath = "/jig?" + url.Values{"serial": {k.Jig}, "simulated": {strconv.FormatBool(k.Simulated)}}.Encode()
		}
		if v.Person.HasRole(units) && k.Serial != "" {
			side.UnitPath = "/unit?" + url.Values{"serial": {k.Serial}}.Encode()
		}
		if len(k.Hash) >= shortHash {
			side.Hash = k.Hash[:shortHash]
		}
		if k.Outcome != "" {
			side.Say = v.Say("outcome." + k.Outcome)
		}
		out.Sides = append(out.Sides, side)
	}
	return out
}

// decides writes down what came of a conflict, as it was seen on the page.
func (p pages) decides(v *page.Visit, reopen bool) (page.Answer, error) {
	reason, err := v.Reason()
	if err != nil {
		return page.Answer{}, err
	}
	_, err = p.decide(v.Ctx(), conflict.Decision{ID: v.Value("conflict"), State: v.Value("state"), Code: conflict.Code(v.Value("kind")), Serial: v.Text("unit"),
		By: v.Person.Name, Reason: reason, Reopen: reopen})
	switch {
	case errors.Is(err, conflict.ErrNone), errors.Is(err, conflict.ErrMoved):
		return page.Answer{}, page.Conflict(v.Say("conflicts.moved"))
	case errors.Is(err, conflict.ErrAlready):
		return page.Answer{}, page.Conflict(v.Say("conflicts.already"))
	case errors.Is(err, conflict.ErrMayNot):
		return page.Answer{}, page.Conflict(v.Say("notices.why.not permitted"))
	case err != nil:
		return page.Answer{}, err
	}
	return page.Answer{Go: page.Here(v.Value("back"))}, nil
}

// units are who may look at the life of a unit.
var units = page.Roles(account.Desk)

// shortHash is how much of the hash of a revision is shown, as on its own page.
const shortHash = 12

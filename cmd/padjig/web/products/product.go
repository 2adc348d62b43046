package products

import (
	"errors"
	"slices"
	"strings"
	"time"

	view "padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers"
	"padjig/results/answers/trial"
	"padjig/results/releases"
	"padjig/results/report"
	"padjig/results/report/pad"
	"padjig/results/runs"
	"padjig/sequence/judge"
	"padjig/sequence/product"
	"padjig/sequence/prove"
	"padjig/sequence/revise"
)

// View is a product: what is in force of it, what waits, and what was.
type View struct {
	Row
	File     string        `json:"file"` // that the station was started with
	Releases []releaseView `json:"releases"`
	Stops    []string      `json:"stops"` // by which rules a line of it stops itself
	Open     *openView     `json:"open,omitempty"`
	Taken    *takenView    `json:"withdrawn,omitempty"` // the newest proposal, where it was withdrawn
	Before   *releaseView  `json:"before,omitempty"`    // to which one step goes back
	Working  []draftView   `json:"working"`
	Figures  *figures      `json:"figures,omitempty"`
	Pad      *view.View    `json:"-"`
	Strong   bool          `json:"-"`
	Engineer bool          `json:"-"`
}

// figures are the key figures of a circuit.
type figures struct {
	Keys       int    `json:"keys"`
	Lines      int    `json:"lines"`
	Pins       int    `json:"pins"`
	Rectangles int    `json:"rectangles"` // keys at the corner of one
	Proofs     string `json:"proofs"`     // what a pass has to prove, so a jig must be able to
	Serial     string `json:"serial"`     // an example
}

func figuresOf(v *page.Visit, p *product.Product) *figures {
	required := judge.Required(p)
	f := figures{Keys: len(p.Keys), Lines: len(p.Lines), Rectangles: len(required[prove.Rectangles]),
		Proofs: v.Facts().Proofs(required.Proofs()), Serial: p.Serial.Example()}
	for _, line := range p.Tail {
		if line != "" {
			f.Pins++
		}
	}
	return &f
}

func drawn(v *page.Visit, p *product.Product) *view.View {
	shown := view.Show(pad.Of(p.Keys, pad.Plain), v.Say("product.pad", p.Code))
	return &shown
}

// group is what changes in one way, in words.
type group struct {
	Class   revise.Class `json:"class"`
	Way     string       `json:"way"`
	Changes []string     `json:"changes"`
}

// draftView is somebody's draft.
type draftView struct {
	By  string    `json:"by"`
	At  time.Time `json:"at,omitzero"`
	Own bool      `json:"own"`
}

// openView is what waits for a second person, and whose turn it is.
type openView struct {
	Label   string    `json:"label"`
	Hash    string    `json:"hash"`
	Look    string    `json:"look"` // what approves just it
	By      string    `json:"by"`
	Reason  string    `json:"reason"`
	At      time.Time `json:"at,omitzero"`
	From    string    `json:"from_serial"`
	Changes []group   `json:"changes"`
	Trial   []string  `json:"trial"`
	Rejects []unit    `json:"pass_to_fail"`
	Through []unit    `json:"fail_to_pass"`
	Source  string    `json:"source"`
	Own     bool      `json:"own"`  // proposed by who looks at it
	Turn    bool      `json:"turn"` // of who looks at it
	May     []string  `json:"may"`  // who may approve it
}

// takenView is a proposal that was withdrawn.
type takenView struct {
	Label  string    `json:"label"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	At     time.Time `json:"at,omitzero"`
}

// Names are those who may approve it.
func (o openView) Names() string { return strings.Join(o.May, ", ") }

type releaseView struct {
	Seq    int64     `json:"seq"`
	Label  string    `json:"label"`
	Hash   string    `json:"hash"`
	At     time.Time `json:"at,omitzero"`
	By     string    `json:"by"`
	Reason string    `json:"reason"`
	Back   bool      `json:"back"`
	Holds  bool      `json:"holds"`

	Approved string `json:"approved,omitempty"`    // by whom
	From     string `json:"from_serial,omitempty"` // of the first unit that may be tested by it
	First    string `json:"first_tested,omitempty"`
}

// product is one product.
func (p *pages) product(v *page.Visit) (any, error) {
	code := v.Place("code")
	now, err := p.now(v, code)
	if err != nil {
		return nil, err
	}
	row, err := p.row(v, code, now)
	if err != nil {
		return nil, err
	}
	taken, err := p.store.Releases.LastWithdrawn(v.Ctx(), code)
	if err != nil {
		return nil, err
	}
	if now == nil && len(row.Drafts) == 0 && row.Waits == "" && taken == nil {
		return nil, page.NotFound(v.Say("error.product"))
	}
	out := View{Row: row, File: p.sources[code].Path, Engineer: v.Person.HasRole(page.Engineers), Strong: v.Person.Strong,
		Stops: []string{}}
	if now != nil {
		out.Figures, out.Pad = figuresOf(v, now), drawn(v, now)
		for _, rule := range answers.RuleWords(now.Stops) {
			out.Stops = append(out.Stops, report.Say(v.Lang, rule))
		}
	}
	if taken != nil {
		out.Taken = &takenView{taken.Label, taken.WithdrawnBy, taken.Why, taken.WithdrawnAt}
	}
	if out.Working, err = p.working(v, code); err != nil {
		return nil, err
	}
	if out.Open, err = p.open(v, code); err != nil {
		return nil, err
	}
	if out.Releases, err = p.releases(v, code); err != nil {
		return nil, err
	}
	if i := slices.IndexFunc(out.Releases, func(r releaseView) bool { return r.Hash != out.Releases[0].Hash }); i > 0 {
		out.Before = &out.Releases[i]
	}
	return out, nil
}

// working are the drafts of a product.
func (p *pages) working(v *page.Visit, code string) ([]draftView, error) {
	drafts, err := p.store.Releases.Drafts(v.Ctx(), code)
	out := []draftView{}
	for _, d := range drafts {
		out = append(out, draftView{d.By, d.At, d.By == v.Person.Name})
	}
	return out, err
}

// grouped are changes in words, by what they do.
func grouped(v *page.Visit, changes []revise.Change) []group {
	out := []group{}
	words := v.Facts()
	for _, g := range revise.Grouped(changes) {
		one := group{Class: g.Class, Way: words.Does(g.Class)}
		for _, c := range g.Changes {
			one.Changes = append(one.Changes, words.Change(c))
		}
		out = append(out, one)
	}
	return out
}

// conclusions tells what a trial came to, with the changes that do not show in it. Units are
// told one by one beside it.
func conclusions(v *page.Visit, code string, t releases.Tried) []string {
	out := []string{}
	for _, s := range trial.Words(code, t) {
		out = append(out, report.Told(v.Lang, s))
	}
	for _, c := range t.Blind {
		out = append(out, v.Say("product.blind", v.Facts().Change(c)))
	}
	return out
}

// open is what waits for a second person, nil for nothing.
func (p *pages) open(v *page.Visit, code string) (*openView, error) {
	asked, err := p.store.Releases.Open(v.Ctx(), code)
	if err != nil || asked == nil {
		return nil, err
	}
	may, err := p.store.Releases.May(v.Ctx(), *asked)
	return &openView{
		Label: asked.Label, Hash: asked.Hash, Look: asked.Look(), By: asked.By, Reason: asked.Reason, At: asked.At, From: asked.FromSerial,
		Changes: grouped(v, asked.Changes), Trial: conclusions(v, code, asked.Trial), Source: asked.Source,
		Rejects: units(asked.Trial.Rejects), Through: units(asked.Trial.LetThrough),
		Own: accounts.SamePerson(asked.By, v.Person.Name), Turn: slices.Contains(may, v.Person.Name), May: may,
	}, err
}

func (p *pages) releases(v *page.Visit, code string) ([]releaseView, error) {
	list, err := p.store.Runs.Releases(v.Ctx(), code)
	out := []releaseView{}
	for i, r := range list {
		one := releaseView{r.Seq, r.Label, r.Hash, r.At, r.By, r.Reason, r.Back, i == 0, r.Approved, r.FromSerial, ""}
		if err == nil && i == 0 && r.FromSerial != "" {
			one.First, err = p.store.Releases.FirstTested(v.Ctx(), r)
		}
		out = append(out, one)
	}
	return out, err
}

// approve puts what somebody else proposed in force: just the text that was looked at.
func (p *pages) approve(v *page.Visit) (page.Answer, error) {
	code := v.Place("code")
	if !v.Person.Strong {
		return page.Answer{}, page.Refused(v.Say("error.weak"))
	}
	done, err := p.store.Releases.Approve(v.Ctx(), code, v.Value("hash"), v.Person.Name)
	if refused, is := errors.AsType[*releases.Refused](err); is {
		return page.Answer{}, page.Wrong(v.Facts().Release(string(refused.Code), refused.Args))
	}
	if taken, is := errors.AsType[*runs.LabelTaken](err); is {
		return page.Answer{}, page.Wrong(takenBy(v.Words, taken))
	}
	if err != nil {
		return page.Answer{}, err
	}
	of, err := product.ParseKept(code, []byte(done.Source))
	if err == nil {
		hold(p.lanes, code, of)
	}
	return page.Answer{Go: address(code)}, err
}

// withdrawing takes what was proposed back: just the text that was looked at.
func withdrawing(store *results.Store) func(*page.Visit) (page.Answer, error) {
	return func(v *page.Visit) (page.Answer, error) {
		code := v.Place("code")
		if !v.Person.Strong {
			return page.Answer{}, page.Refused(v.Say("error.weak"))
		}
		_, err := store.Releases.Withdraw(v.Ctx(), code, v.Value("hash"), v.Person.Name, v.Text("reason"))
		if refused, is := errors.AsType[*releases.Refused](err); is {
			say := v.Facts().Release(string(refused.Code), refused.Args)
			if refused.Code == releases.NoReason {
				return page.Answer{}, page.WrongField("reason", say)
			}
			return page.Answer{}, page.Wrong(say)
		}
		return page.Answer{Go: address(code)}, err
	}
}

func takenBy(v page.Words, by *runs.LabelTaken) string {
	return v.Say("product.taken", by.Known, product.SayDifferences(by.Differences))
}

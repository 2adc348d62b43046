package object

import (
	"time"

	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/sequence/decide"
)

// ReturnsCase is a case in a list, as --json prints it.
type ReturnsCase struct {
	Case           int64              `json:"case"`
	Serial         string             `json:"serial"`
	Product        string             `json:"product"`
	Received       string             `json:"received"`
	Complaint      string             `json:"complaint"`
	ComplaintText  string             `json:"complaint_text"`
	Conditions     []string           `json:"conditions"`
	EndsTesting    bool               `json:"ends_testing"`
	Customer       string             `json:"customer"`       // "" where it was not said
	Lot            string             `json:"lot"`            // it was made in; likewise
	Disposition    string             `json:"disposition"`    // "open" before any
	Disposal       string             `json:"disposal"`       // what became of the unit; "" before, or not said
	Contradictions []returns.Answered `json:"contradictions"` // that it was closed with
	Reason         string             `json:"reason"`
	FoundBy        string             `json:"found_by"` // "" for none
	Photos         []string           `json:"photos"`   // SHA-256
	NoPhoto        string             `json:"no_photo"` // why there is none; "" where it was not said
	Locked         bool               `json:"locked"`   // damage ends testing, and no engineer decided otherwise
	Stages         []Stage            `json:"stages"`
}

// Cases are those of a list.
type Cases struct {
	Found int           `json:"found"` // how many there are; cases may have fewer
	Cases []ReturnsCase `json:"cases"`
}

type Stage struct {
	Stage   string `json:"stage"`
	Run     string `json:"run"`
	Outcome string `json:"outcome"`
	Worst   string `json:"worst"`
}

func StageOf(s returns.Stage) Stage {
	return Stage{string(s.Purpose), s.Run.String(), string(s.Outcome), s.Worst}
}

func ReturnsCaseOf(c returns.Case) ReturnsCase {
	in, d := c.Intake(), c.Disposition()
	o := ReturnsCase{
		Case: c.Number, Serial: c.Serial, Product: c.Product, Received: in.Received.Format(time.RFC3339),
		Complaint: in.Complaint, ComplaintText: in.ComplaintText, Conditions: each(in.Conditions, same), EndsTesting: in.EndsTesting,
		Customer: in.Customer, Lot: in.Lot,
		Disposition: "open", Reason: d.Reason, Photos: each(c.Photos, returns.Photo.Sum),
		Stages: each(c.Stages, StageOf), Locked: c.Locked(), Disposal: d.Disposal, Contradictions: each(d.Answered, same),
	}
	if n := len(c.NoPhotos); n > 0 {
		o.NoPhoto = c.NoPhotos[n-1].Reason
	}
	if d.Code != "" {
		o.Disposition = d.Code
	}
	if found, any := c.FoundBy(); any {
		o.FoundBy = string(found.Purpose)
	}
	return o
}

// Life is a case with everything around it; the help of padjig returns
// show describes it.
type Life struct {
	ReturnsCase
	Simulated  bool               `json:"simulated"`
	Shipped    string             `json:"shipped_run"` // id, "" for none
	Insulation []returned.Weakest `json:"insulation"`
	Keys       []returned.Beside  `json:"keys"`
	Findings   []returned.Found   `json:"findings"`
	Gone       []returned.Gone    `json:"gone"`
	Reworks    []Rework           `json:"reworks"`
	Causes     []returned.Group   `json:"causes"`
	Against    []string           `json:"against"`
	Offers     []returned.Offer   `json:"offers"`
	Alike      []returns.Alike    `json:"alike"`
	Identity   *Identity          `json:"identity"` // whether it is the pad that left; null where nothing was compared
	Bound      *Bound             `json:"bound"`
	Next       string             `json:"next"`
}

type Bound struct {
	Presses     int      `json:"presses"` // of the key pressed least
	RuleOfThree *float64 `json:"rule_of_three"`
	Exact       *float64 `json:"exact"` // both null where a press was not good
}

func LifeOf(l *returned.Life) Life {
	o := Life{
		ReturnsCase: ReturnsCaseOf(l.Case), Simulated: l.Simulated,
		Insulation: each(l.Weakest, same),
		Keys:       each(l.Keys, func(k returned.Beside) returned.Beside { k.Readings = each(k.Readings, same); return k }),
		Causes:     each(l.Groups, same), Against: each(l.Against(), same), Offers: each(l.Offers, same),
		Findings: each(l.Findings, func(f returned.Found) returned.Found {
			return returned.Found{Finding: listed(f.Finding), Stage: f.Stage}
		}),
		Gone:  each(l.Gone, func(g returned.Gone) returned.Gone { g.Finding = listed(g.Finding); return g }),
		Alike: each(l.Alike, same), Reworks: each(l.Reworks, ReworkOf), Identity: identityOf(l.Identity),
		Next: l.Next().Command,
	}
	if l.Shipped != nil {
		o.Shipped = l.Shipped.Run.ID.String()
	}
	if b := l.Bound; b != nil && b.Presses > 0 {
		o.Bound = &Bound{Presses: b.Presses}
		if len(b.Bad) == 0 {
			o.Bound.RuleOfThree, o.Bound.Exact = new(decide.RuleOfThree(b.Presses)), new(decide.MissBound(b.Presses))
		}
	}
	return o
}

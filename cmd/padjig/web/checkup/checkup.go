// Package checkup is the page that shows how the station stands: the findings of package doctor,
// as padjig doctor says them, of the station that serves the page.
package checkup

import (
	"context"
	"slices"

	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/web/page"
)

// Path is where the page is.
const Path = "/doctor"

// Set is what there is to see. Look gathers what is decided on; nil: nothing is looked at.
// Only are the checks that are told of; nil for all.
func Set(look func(context.Context) doctor.Facts, only []doctor.Check) page.Set {
	if look == nil {
		look = func(context.Context) doctor.Facts { return doctor.Facts{} }
	}
	return page.Set{Pages: []page.Page{{Path: Path, Name: "doctor", Who: page.Engineers, View: func(v *page.Visit) (any, error) {
		found := doctor.Examine(look(v.Ctx()))
		if only != nil {
			found = slices.DeleteFunc(found, func(f doctor.Finding) bool { return !slices.Contains(only, f.Check()) })
		}
		return viewOf(found, v.Words), nil
	}}}}
}

// View is all findings, what matters most first.
type View struct {
	Outcome  doctor.Outcome `json:"outcome"`
	Findings []doctor.Line  `json:"findings"`
	Groups   []group        `json:"-"`
}

// group is the findings of one outcome.
type group struct {
	Outcome, Name, Mark string
	Lines               []doctor.Line
}

// marks tell outcomes apart without their colour.
var marks = map[doctor.Outcome]string{doctor.Wrong: "▲", doctor.ToDo: "◷", doctor.Blind: "?", doctor.Fine: "✓"}

func viewOf(found []doctor.Finding, w page.Words) View {
	v := View{Outcome: doctor.Worst(found), Findings: doctor.Lines(found, w)}
	for _, l := range v.Findings {
		if n := len(v.Groups); n == 0 || v.Groups[n-1].Outcome != string(l.Outcome) {
			v.Groups = append(v.Groups, group{string(l.Outcome), doctor.SayOutcome(l.Outcome, w), marks[l.Outcome], nil})
		}
		last := &v.Groups[len(v.Groups)-1]
		last.Lines = append(last.Lines, l)
	}
	return v
}

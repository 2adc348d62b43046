package control

import (
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
)

// Progress is how far the test in a lane is, said for people.
type Progress struct {
	Step   string `json:"step"`
	Count  string `json:"count"`  // how many keys of how many
	Left   string `json:"left"`   // about how long an exercise still takes
	Prompt string `json:"prompt"` // what a person is to do now
	Done   int    `json:"done"`
	Total  int    `json:"total"`
}

// ProgressOf says it of a lane; nothing where no test runs.
func ProgressOf(w page.Words, s station.State) (p Progress) {
	if s.Phase != station.Running {
		return p
	}
	p.Done, p.Total = s.Done, s.Total
	if s.Total > 0 {
		p.Count = w.Say("lane.count", s.Done, s.Total)
	}
	if s.Step != "" {
		p.Step = w.Say("step." + s.Step)
	}
	switch {
	case s.Left >= time.Minute:
		p.Left = w.Say("lane.left", w.Num(0, s.Left.Minutes()))
	case s.Left > 0:
		p.Left = w.Say("lane.left.soon")
	}
	if s.Ask.Code != "" {
		p.Prompt = w.Say("ask."+string(s.Ask.Code), strings.Join(s.Ask.Keys, ", "))
	}
	return p
}

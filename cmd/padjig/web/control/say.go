package control

import (
	"net/http"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
)

// Condition is something about the jig to know before it blocks.
type Condition struct {
	Text   string `json:"text"`
	Blocks bool   `json:"blocks"`
}

// Conditions says those of a lane.
func Conditions(w page.Words, list []station.Condition) []Condition {
	out := []Condition{}
	for _, c := range list {
		out = append(out, Condition{Say(w, c.Code, c.Args, c.Text), c.Blocks})
	}
	return out
}

// Refusal says why a lane does not do what it was asked.
func Refusal(w page.Words, r *station.Refusal) string { return Say(w, r.Code, r.Args, r.Error()) }

// Refused is the problem that a refusal is for whoever asked.
func Refused(w page.Words, r *station.Refusal) error {
	return &page.Problem{Status: http.StatusUnprocessableEntity, Say: Refusal(w, r), Code: string(r.Code)}
}

// Say says what a code means; where it has none, the error itself, which is better
// than nothing.
func Say(w page.Words, code station.Code, args []string, text string) string {
	if key := w.Key("code."+string(code), args); code != "" && w.Has(key) {
		shown := page.Each(args)
		if len(shown) > 0 && w.Has("kind."+args[0]) {
			shown[0] = w.Say("kind." + args[0])
		}
		return w.Say(key, shown...)
	}
	return text
}

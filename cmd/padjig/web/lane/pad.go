package lane

import (
	"slices"

	"padjig/cmd/padjig/station"
	view "padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/results/report/pad"
	"padjig/sequence"
	"padjig/sequence/product"
)

// shown is a drawn pad with how many of its keys are good and bad.
func shown(w page.Words, p *product.Product, simulated bool, drawn pad.Pad) view.View {
	drawn.Pin = w.Say("pad.pin")
	out := view.Show(drawn, w.Say("pad.say", p.Code, drawn.Count(pad.Passed), drawn.Count(pad.Failed), len(p.Keys)))
	out.Simulated = simulated
	return out
}

// padInHand is the pad with what is known of the unit in hand. A verdict is about
// stored readings only.
func padInHand(w page.Words, s station.State) view.View {
	var findings []sequence.Finding
	if s.Verdict != nil {
		findings = s.Verdict.Findings
	}
	keys := s.Keys
	if s.Phase == station.Locked {
		keys = nil
	}
	drawn := view.OfRun(w.Lang, s.Product, keys, findings)
	if s.Phase == station.Running && s.How == sequence.Hand {
		for i := range keys {
			drawn.Keys[i].State = asked(drawn.Keys[i].State, s.Ask, keys[i].Key)
		}
	}
	return shown(w, s.Product, s.Jig.Simulated, drawn)
}

// handsOn says whether a person who presses the keys is to press now.
func handsOn(ask sequence.Ask) string {
	switch ask.Code {
	case "":
		return "wait"
	case sequence.AskHandsOff, sequence.AskFlexOver:
		return "over"
	case sequence.AskFlexSoon, sequence.AskFlex:
		return "tail"
	}
	return "hand"
}

// asked is how a key looks to a person who presses them: the ones that are
// left, the next of them, and the one that may be let go.
func asked(known pad.State, ask sequence.Ask, key string) pad.State {
	switch {
	case known == pad.Passed || known == pad.Failed || handsOn(ask) != "hand":
		return known
	case ask.Code == sequence.AskLetGo && slices.Contains(ask.Keys, key):
		return pad.Held
	case ask.Code == sequence.AskNext && slices.Contains(ask.Keys, key):
		return pad.Next
	}
	return pad.Asked
}

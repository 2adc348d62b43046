package lane

import (
	"fmt"
	"slices"

	"padjig/cmd/padjig/bench"
	"padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
	"padjig/sequence"
	"padjig/sequence/product"
)

// drawn is a pad with a class and a mark for each key that there is something of,
// and says how many are good and bad.
func drawn(w page.Words, p *product.Product, simulated bool, keys int, mark func(k int) (class, mark string)) pad.View {
	count := map[string]int{}
	out := pad.Draw(p, func(k int) (string, string) {
		if k >= keys {
			return "wait", ""
		}
		class, text := mark(k)
		count[class]++
		return class, text
	})
	out.Say, out.Simulated = w.Say("pad.say", p.Code, count["good"], count["bad"], len(p.Keys)), simulated
	return out
}

// padInHand is the pad with what is known of the unit in hand. A verdict is about
// stored readings only.
func padInHand(w page.Words, s bench.State) pad.View {
	var findings []sequence.Finding
	if s.Verdict != nil {
		findings = s.Verdict.Findings
	}
	keys := len(s.Keys)
	if s.Phase == bench.Locked {
		keys = 0
	}
	return drawn(w, s.Product, s.Jig.Simulated, keys, func(k int) (string, string) {
		class, mark := keyMark(w, s.Keys[k], findings)
		if s.Phase == bench.Running && s.How == sequence.Hand {
			class = asked(class, s.Ask, s.Keys[k].Key)
		}
		return class, mark
	})
}

// padOf is the pad with what a stored run found.
func padOf(w page.Words, p *product.Product, run sequence.Run) pad.View {
	return drawn(w, p, run.Simulated, len(run.Keys), func(k int) (string, string) {
		return keyMark(w, run.Keys[k], run.Findings)
	})
}

// handsOn says whether a person who presses the keys is to press now.
func handsOn(ask sequence.Ask) string {
	switch ask.Code {
	case "":
		return "wait"
	case sequence.AskHandsOff:
		return "over"
	}
	return "hand"
}

// asked is how a key looks to a person who presses them: the ones that are
// left, the next of them, and the one that may be let go.
func asked(class string, ask sequence.Ask, key string) string {
	switch {
	case class != "wait" || handsOn(ask) != "hand":
		return class
	case ask.Code == sequence.AskLetGo && slices.Contains(ask.Keys, key):
		return "held"
	case ask.Code == sequence.AskNext && slices.Contains(ask.Keys, key):
		return "ask next"
	}
	return "ask"
}

func keyMark(v page.Words, k sequence.KeyResult, findings []sequence.Finding) (class, mark string) {
	if class = pad.ClassOf(k.Verdict); class == "wait" {
		return class, "" // nothing is said of it yet
	}
	mark = pad.ShortOhms(v.Lang, k)
	if n := pad.FindingOf(findings, k); class == "bad" && n > 0 && len(findings) > 1 {
		mark = fmt.Sprintf("%d", n)
	}
	return class, mark
}

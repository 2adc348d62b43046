package report

import (
	"padjig/results/answers"
	"padjig/results/plant/conflict"
)

// ConflictWords say what speaks against what, the first two records that do, and what to do about it.
func ConflictWords(c conflict.Conflict) (said, remedy answers.Sentence) {
	if c.Code == conflict.OtherMeaning {
		return answers.Warn("conflict."+string(c.Code), c.Of, c.Product, c.Known[0].Hash), answers.Say("mend.conflict." + string(c.Code))
	}
	a, b := c.Known[0], c.Known[1]
	args := []any{c.Of, a.Station, b.Station, a.Began, b.Began}
	switch c.Code {
	case conflict.PassedElsewhere, conflict.AttemptAgain:
		args = append(args, b.Attempt)
	case conflict.TwoProducts:
		args = append(args, a.Product, b.Product)
	case conflict.LabelTwice:
		args = append(args, c.Product)
	case conflict.LotTwice:
		args = append(args, a.Product, b.Product, answers.Word("material."+c.Material))
	}
	return answers.Warn("conflict."+string(c.Code), args...), answers.Say("mend.conflict." + string(c.Code))
}

// TwiceWords say how far it was looked for two units under one serial number, where anything was.
func TwiceWords(t conflict.Twice) (said []answers.Sentence) {
	if !t.Asked || t.Looked == 0 && !t.More {
		return nil
	}
	if t.Since.IsZero() {
		said = append(said, answers.Say("conflict.twice.all", t.Looked))
	} else {
		said = append(said, answers.Say("conflict.twice", t.Looked, t.Since))
	}
	if t.More {
		said = append(said, answers.Warn("conflict.twice.more"))
	}
	return said
}

// Conflicts has a row for each record that speaks against another, those of one conflict after one another.
func Conflicts(list []conflict.Conflict) Table {
	t := Table{Name: "conflicts", Title: "Records that speak against each other", Empty: "none", Most: 60,
		Columns: Columns("conflict, of, member, at, serial minor, product minor, revision minor, jig minor, attempt minor, outcome minor, run minor")}
	for _, c := range list {
		for _, k := range c.Known {
			var attempt, run any
			if k.Run != 0 {
				attempt, run = k.Attempt, int(k.Run)
			}
			t.Rows = append(t.Rows, row{Word("conflict." + string(c.Code) + ".name"), c.Of, k.Station, k.Began, k.Serial,
				k.Product, k.Revision, k.Jig, attempt, k.Outcome, run})
		}
	}
	return t
}

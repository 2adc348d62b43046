package report

import (
	"fmt"
	"math"
	"strings"
	"time"

	"padjig/results/answers"
	"padjig/results/answers/plant"
	"padjig/results/care"
	"padjig/results/pads"
	"padjig/results/plant/view"
)

// everywhere is what answers about a plant are about.
const everywhere = "all stations of the plant"

// PlantStations writes how the stations stand.
func PlantStations(s plant.Stations) Document {
	return Document{Title: "Stations", Selection: everywhere, Simulated: s.Simulated, Tables: []Table{StationTable(s)}, Conclusion: s.Conclusions}
}

// StationTable has a row for each station.
func StationTable(s plant.Stations) Table {
	return Table{Name: "stations", Title: "Silent ones first, then those that need something done", Empty: "no station forwards here",
		Columns: Columns("station, state, heard, silent_minutes .0, units, first_pass % .1, stops, trouble, jigs, more minor, behind minor, waiting_rows minor, waiting_since minor, notice minor, halted minor, " +
			"tested minor, ahead_s .1 minor, ahead_u_s .1 minor, program minor, host minor"),
		Rows: rows(s.Rows, func(one plant.Station) row {
			var silent, trouble, heard, tested, first, behind, waiting, since, number, ahead, within any = nil, Word("upkeep.good"), nil, nil, nil, nil, nil, nil, nil, nil, nil
			if one.Silent > 0 {
				silent = one.Silent.Minutes()
			}
			if len(one.Troubles) > 0 {
				trouble = one.Troubles[0].Words()
			}
			if !one.Heard.IsZero() {
				heard, ahead, within = one.Heard, one.Ahead.Seconds(), one.AheadU.Seconds()
			}
			if !one.Tested.IsZero() {
				tested = one.Tested
			}
			if one.Units > 0 {
				first = one.First
			}
			if one.Behind != nil {
				behind, waiting, number = int(*one.Behind), int(one.Waiting), int(one.Notice)
			}
			if !one.Oldest.IsZero() {
				since = one.Oldest
			}
			return row{one.Name, Word("plant.state." + string(one.State)), heard, silent, one.Units, first, one.Stops, trouble, strings.Join(one.Jigs, " "), max(0, len(one.Troubles)-1), behind,
				waiting, since, number, one.Stopped,
				tested, ahead, within, one.Program, one.Host}
		})}
}

// PlantCompared writes the yields of the stations, or of their jigs, side by side.
func PlantCompared(c plant.Comparison) Document {
	d := about(c.Selection, "Yields side by side", c.Mixed)
	t := PlantYieldTable(c)
	t.Title = fmt.Sprintf("First-pass yield against all others, %s intervals", confidenceOf(c.Selection))
	d.Tables, d.Conclusion = []Table{t}, c.Conclusions
	return d
}

// PlantYieldTable has a row for each station, or for each jig of each.
func PlantYieldTable(c plant.Comparison) Table {
	heads := "station, "
	if c.Jigs {
		heads += "jig, "
	}
	return Table{Name: "sides", Columns: Columns(heads + "units, first_pass % .2, final % .2 minor, others % .2, difference % .2, p minor, holm_p, small minor"),
		Rows: rows(c.Rows, func(s plant.Side) row {
			return append(each(s.Groups), s.Units, s.First, s.Final, s.Others, s.Difference, s.P, s.HolmP, s.Small)
		})}
}

// PlantDue writes what is due on the jigs of all stations.
func PlantDue(p plant.Due) Document {
	d := Upkeep(p.Upkeep)
	d.Title, d.Selection = "What is due on jigs", "all jigs of the plant"
	d.Tables[0] = d.Tables[0].beside("station", p.Stations)
	return d
}

// beside puts a column of words before all others.
func (t Table) beside(name string, words []string) Table {
	t.Columns = append(Columns(name), t.Columns...)
	list := make([][]any, len(t.Rows))
	for i, r := range t.Rows {
		list[i] = append(row{nil}, r...)
		if words[i] != "" {
			list[i][0] = words[i]
		}
	}
	t.Rows = list
	return t
}

// PlantDrift writes how the jigs of the stations read the same reference units.
func PlantDrift(d plant.Drift) Document {
	about := "reference units that several jigs read"
	if d.Unit != "" {
		about = "reference unit " + d.Unit
	}
	return Document{Title: "Drift between stations", Selection: about, Simulated: d.Simulated, Tables: []Table{DriftTable(d), WornTable(d)}, Conclusion: d.Conclusions}
}

// DriftTable has a row for each jig that reads a unit.
func DriftTable(d plant.Drift) Table {
	return Table{Name: "readers", Title: "Against the median of the others", Empty: "no reference unit was read by two jigs",
		Columns: Columns("unit, station, jig, checks, bias % .2, en .2, holm_p, moves % .2, moves_p minor, last minor"),
		Rows: rows(d.Rows, func(r plant.Reader) row {
			return row{r.Unit, r.Station, r.Jig, r.Checks, r.Bias, finite(r.En), r.BiasP, r.Moves, r.MovesP, r.Last}
		})}
}

// WornTable has a row for each reference unit that was compared.
func WornTable(d plant.Drift) Table {
	return Table{Name: "worn", Title: "The units themselves, as all jigs read them", Empty: "none was compared", Columns: Columns("unit, jigs_n, changes % .2"),
		Rows: rows(d.Units, func(u plant.Worn) row { return row{u.Unit, u.Jigs, u.Changes} })}
}

// PlantSuspects writes which units are in doubt.
func PlantSuspects(s plant.Suspects) Document {
	return Document{Title: "Units in doubt", Selection: everywhere, Simulated: s.Simulated, Tables: []Table{SuspectTable(s)}, Conclusion: s.Conclusions}
}

// SuspectTable has a row for each unit and the jig because of which it is in doubt.
func SuspectTable(s plant.Suspects) Table {
	return Table{Name: "suspects", Title: "Shipped ones first, of these the one nearest to its limit", Empty: "no unit is in doubt", Most: 50,
		Columns: Columns("serial, station, jig, where, consignee, margin % .1, margin_u .1 minor, key minor, cleared, tested minor, window minor, product minor"),
		Rows: rows(s.Rows, func(u plant.Suspect) row {
			var where, to, margin, inU, key any = Word("plant.unknown"), nil, nil, nil, nil
			if u.Shipment != nil {
				where = Word("plant.shipped")
				if u.Shipment.InStock {
					where = Word("plant.instock")
				}
				to = orNothing(u.Shipment.Consignee)
			}
			if u.Key != "" {
				margin, inU, key = u.OfLimit(), u.OfU(), u.Key
			}
			return row{u.Serial, u.Station, u.Jig, where, to, margin, inU, key, cleared(u.Cleared), u.Last, u.Window, u.Product}
		})}
}

func cleared(c *care.Clearance) any {
	if c == nil {
		return nil
	}
	return answers.Say("plant.cleared", c.Jig, c.At)
}

func orNothing(text string) any {
	if text == "" {
		return nil
	}
	return text
}

// PlantIdentity writes which unit a run reads like.
func PlantIdentity(i plant.Identity) Document {
	about := everywhere
	switch {
	case len(i.Stations) > 0 && i.Stations[0] == "":
		about = "these records"
	case i.Station != "":
		about = "station " + i.Station
	}
	d := Document{Title: "Run " + i.Run.ID.String(), Selection: about, Simulated: i.Run.Simulated, Conclusion: i.Conclusions}
	if i.Conclusion != pads.NotAsked {
		d.Tables = []Table{CandidateTable(i), BesideTable(i)}
	}
	return d
}

// CandidateTable has a row for each unit that it may be.
func CandidateTable(i plant.Identity) Table {
	n := -1
	return Table{Name: "candidates", Title: "Units it may be, the likeliest first", Empty: "none is named",
		Columns: Columns("serial, station, jig, chance % .1, likelier .1, keys_n, tested, basis, wear % .1 minor, verdict minor, run minor"),
		Rows: rows(i.Candidates, func(c pads.Candidate) row {
			n++
			return row{c.Serial, orNothing(i.Stations[n]), c.Jig, c.Chance, c.Log / math.Ln10, c.Keys, c.At, Word("plant.basis." + string(c.Basis)), c.Within, c.Outcome, c.ID.String()}
		})}
}

// BesideTable has a row for each jig whose units were looked at.
func BesideTable(i plant.Identity) Table {
	n := -1
	return Table{Name: "besides", Title: "Jigs, beside the one that read it", Empty: "none",
		Columns: Columns("station, jig, basis, differ % .1, tells"),
		Rows: rows(i.Besides, func(b pads.Beside) row {
			n++
			return row{orNothing(i.At[n]), b.Jig, Word("plant.basis." + string(b.Basis)), b.Spread, b.Tells}
		})}
}

// PlantLife writes where a unit was, and what was found and done.
func PlantLife(l plant.Life) Document {
	return Document{Title: "Unit " + l.Serial, Selection: everywhere, Tables: []Table{LifeTable(l)}, Conclusion: l.Conclusions}
}

// LifeTable has a row for each thing that happened.
func LifeTable(l plant.Life) Table {
	return Table{Name: "life", Title: "In the order of the records", Empty: "no station knows this unit",
		Columns: Columns("at, station, kind, what, jig, by minor, note minor, product minor, simulated minor"),
		Rows: rows(l.Events, func(e view.Event) row {
			at := any(e.At)
			if e.At.Equal(time.UnixMicro(0)) {
				at = nil
			}
			return row{at, e.Station, Word("plant.event." + e.Kind), orNothing(e.What), orNothing(e.Jig), orNothing(e.By), orNothing(e.Detail), orNothing(e.Product), e.Simulated}
		})}
}

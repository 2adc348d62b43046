// Package apart says what a unit is refused for by what other stations know of it: which of them, and what there. That it is refused
// is decided by the rule of every unit, over its runs here and there in a row.
package apart

import (
	"fmt"
	"slices"
	"strings"

	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
)

// What a unit is refused for that other stations may know more of, and how that is called then.
const (
	OtherProduct     = "other product"
	PassedAlready    = "passed already"
	AttemptsUsed     = "attempts used"
	AttemptsSpent    = "attempts spent"
	Returned         = "returned"
	NotForProduction = "not for production"

	OtherProductElsewhere     = "other product elsewhere"      // serial, what it is, what is asked for, station
	PassedElsewhere           = "passed elsewhere"             // serial, revision, where, station
	AttemptsElsewhere         = "attempts elsewhere"           // serial, times used, times of them elsewhere, product, where, stations
	InHandElsewhere           = "in hand elsewhere"            // serial, station, jig
	ReturnedElsewhere         = "returned elsewhere"           // serial, number of the case there, station
	NotForProductionElsewhere = "not for production elsewhere" // serial, number of the case there, what became of the unit, station
)

// Unit is what is known of a unit as one product, here and elsewhere.
type Unit struct {
	Together  runs.History
	There     *elsewhere.Unit
	Product   string
	Simulated bool
}

// Said turns what a unit is refused for, with arguments, into what names the stations that know it. What no other
// station has to do with stays as it is.
func (u Unit) Said(code string, args []string) (string, []string) {
	past, of := u.Together.Of(u.Product, u.Simulated), u.Together.Past
	where := ""
	if u.Simulated {
		where = "simulated"
	}
	switch {
	case code == OtherProduct:
		there := func(r elsewhere.Run) bool { return r.Product == args[1] && r.Simulated == u.Simulated }
		begun := func(s elsewhere.Start) bool { return s.Product == args[1] && s.Simulated == u.Simulated }
		if i := slices.IndexFunc(u.There.Runs, there); i >= 0 {
			return OtherProductElsewhere, append(args, u.There.Runs[i].Station)
		}
		if i := slices.IndexFunc(u.There.Starts, begun); i >= 0 {
			return OtherProductElsewhere, append(args, u.There.Starts[i].Station)
		}
	case code == PassedAlready && past.PassedAt != "":
		return PassedElsewhere, append(args, past.PassedAt)
	case (code == AttemptsUsed || code == AttemptsSpent) && past.Apart > 0:
		return AttemptsElsewhere, []string{args[0], fmt.Sprint(past.Used()), fmt.Sprint(past.Apart), u.Product, where, strings.Join(past.Stations, ", ")}
	case code == Returned && of.Station != "":
		return ReturnedElsewhere, append(args, of.Station)
	case code == NotForProduction && of.Station != "":
		return NotForProductionElsewhere, append(args, of.Station)
	}
	return code, args
}

// InHand are the arguments of [InHandElsewhere], nil where the plant knows of no other station that has the unit in hand.
func (u Unit) InHand() []string {
	s := u.There.InHand(u.Simulated)
	if s == nil {
		return nil
	}
	return []string{u.There.Serial, s.Station, s.Jig}
}

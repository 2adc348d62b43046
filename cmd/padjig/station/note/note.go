// Package note is what a lane says beside what stands.
package note

// Code is something said beside what stands.
type Code string

// The notes.
const (
	Twice    Code = "twice"       // the same unit was scanned again at once: nothing done
	Busy     Code = "busy"        // another unit was scanned during a test: nothing done
	Recalled Code = "recalled"    // the unit was scanned again after a lock: its verdict again
	Stopping Code = "stopping"    // the test is being stopped
	NotNow   Code = "not now"     // nothing runs that could be stopped
	Shut     Code = "close first" // start was pressed with the lid open: forgotten
	NoStart  Code = "no start"    // nothing waits for a start, or something else does
	Repaired Code = "repaired"    // the unit in hand failed again after a repair, so often, of so many
	Released Code = "released"    // another revision holds from now on
	Changed  Code = "changed"     // product of before, product from now on
	Resumed  Code = "resumed"     // product that was tested here last
	// NotResumed has the product that was tested here last and cannot be, and the one that is.
	NotResumed Code = "not resumed"
	Fell       Code = "fell" // the lane let go of its jig by itself, with this unit in hand
	// Alone has what became of the question to the plant: the unit was decided about without it.
	Alone Code = "decided alone"
)

// Note is said beside what stands and takes nothing away from it.
type Note struct {
	Code Code
	Args []string
	More *Note // nil: nothing
}

// Of makes one.
func Of(code Code, args ...string) *Note { return &Note{Code: code, Args: args} }

// And says both; either may be nil.
func (n *Note) And(more *Note) *Note {
	if n == nil {
		return more
	}
	return &Note{n.Code, n.Args, n.More.And(more)}
}

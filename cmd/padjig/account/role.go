package account

// Role is what a person does at the line.
type Role string

// The roles.
const (
	Operator Role = "operator"
	Quality  Role = "quality"
	Returns  Role = "returns"
	Engineer Role = "engineer"
)

// Roles are all there are.
var Roles = []Role{Operator, Quality, Returns, Engineer}

// Who most things are for, at the terminal and on the pages. An engineer may do whatever
// others may.
var (
	Engineers = []Role{Engineer}
	Deciding  = []Role{Quality, Engineer} // what padjig would not do
	Desk      = []Role{Returns, Quality, Engineer}
)

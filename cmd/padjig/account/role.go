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

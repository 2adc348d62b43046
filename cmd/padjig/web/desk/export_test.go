package desk

// The views as they come as JSON, and what tests measure by.
type (
	LifeView  = unitView
	CheckView = nextCheckView
	OhmsView  = ohmsView
	ListView  = returnsView
)

const (
	OhmsBegin    = ohmsBegin
	ReportPolicy = reportPolicy
)

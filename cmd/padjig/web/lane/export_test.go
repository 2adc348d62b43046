package lane

// The views as they come as JSON.
type (
	AllView = lanesView
	TagView = tagView

	FailsView = failsView
)

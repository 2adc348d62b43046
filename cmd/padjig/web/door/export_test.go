package door

// Where people sit: at the station itself, at a line, and somewhere else.
const (
	AtStation = "127.0.0.1:40001"
	AtLine    = "192.0.2.7:40002"
	Stranger  = "198.51.100.66:40003"
)

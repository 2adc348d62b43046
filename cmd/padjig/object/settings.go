package object

// Settings are what a file and the environment set, and of one command also what is usual.
type Settings struct {
	File     string            `json:"file,omitempty"` // that was read; left out where there is none
	Commands []CommandSettings `json:"commands"`
}

// CommandSettings are those of a command.
type CommandSettings struct {
	Command  string    `json:"command"` // as it is typed, without padjig; "every command" is what all share
	Settings []Setting `json:"settings"`
}

type Setting struct {
	Flag     string `json:"flag"`
	Value    string `json:"value"`            // several ones with commas between them
	From     string `json:"from"`             // file, environment, or usual
	Variable string `json:"variable"`         // in which the environment sets it, or would
	File     string `json:"file,omitempty"`   // that sets it
	Line     int    `json:"line,omitempty"`   // there
	Column   int    `json:"column,omitempty"` // there, in characters
}

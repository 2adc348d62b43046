package object

// GaugeReading is a reading as --json prints it.
type GaugeReading struct {
	Study     int64  `json:"study"`
	Place     int    `json:"place"`
	Planned   int    `json:"planned"`
	Measured  int    `json:"measured"`
	Part      string `json:"part"`
	Appraiser string `json:"appraiser"`
	Run       string `json:"run"`
	Verdict   string `json:"verdict"`
	Reason    string `json:"reason,omitempty"`
	Simulated bool   `json:"simulated"`
}

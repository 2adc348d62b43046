package answers

// Question is something that can be asked, and where.
type Question struct {
	Ask     string // name of the function, which is its only implementation
	Command string // of the command line, below padjig quality
	Page    string // of the station, below /quality
}

// Questions lists what can be asked. A new function Ask... needs a line here,
// and with it a command and a page: a test asks every question on each of its
// surfaces and compares the numbers.
var Questions = []Question{
	{"AskOverview", "overview", ""},
	{"AskYield", "yield", "/yield"},
	{"AskCauses", "causes", "/causes"},
	{"AskUnits", "units", "/units"},
	{"AskProbes", "probes", "/probes"},
	{"AskChart", "chart", "/charts"},
	{"AskDistributions", "distributions", "/distributions"},
	{"AskCapability", "capability", "/capability"},
	{"AskCompare", "compare", "/compare"},
	{"AskLots", "lots", "/lots"},
	{"AskShift", "shift", "/shift"},
	{"AskStops", "stops", "/stops"},
	{"AskLimits", "limits", "/limits"},
	{"AskSampling", "sampling", "/sampling"},
	{"AskRetest", "retest", "/retest"},
	{"AskGauge", "gauge result", "/gauge"},
	{"AskLinearity", "gauge linearity", "/gauge"},
	{"AskStability", "gauge stability", "/gauge"},
}

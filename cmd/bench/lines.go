package main

// line is one of the page: a ratio that a benchmark reports, or a family of them, one each sub-benchmark.
type line struct {
	what, against string // in words; {} is the name of the sub-benchmark
	ours, theirs  string // as the benchmark calls them, see package ratio
	of            *benchmark
	sub           string // only this sub-benchmark
}

// benchmark is one that stands in a package, and how it is run.
type benchmark struct {
	folder, name string
	pick         string   // only those of its sub-benchmarks, as -bench matches them
	times        string   // -benchtime: of most, how many pairs
	flags        []string // of its package's tests
	line         bool     // it needs the store that make line makes
}

// section is a part of the page.
type section struct {
	name  string
	lines []line
}

// page is all of it.
func page() []section {
	cycle := &benchmark{folder: "cmd/padjig", name: "BenchmarkCycle", pick: "^(gcc-20|console-104)$", times: "7x"}
	spice := &benchmark{folder: "fixture/circuit", name: "BenchmarkAgainstNgspice", times: "15x"}
	singles := &benchmark{folder: "sequence/diagnose", name: "BenchmarkSingles", times: "101x"}
	save := &benchmark{folder: "results", name: "BenchmarkSave", times: "500x"}
	counting := &benchmark{folder: "results", name: "BenchmarkCounting", times: "500x"}
	check := &benchmark{folder: "results", name: "BenchmarkCheck", times: "11x"}
	questions := &benchmark{folder: "results", name: "BenchmarkQuestionsOfALine", times: "11x", line: true}
	firstPage := &benchmark{folder: "cmd/padjig", name: "BenchmarkFirstPage", times: "15x"}
	screen := &benchmark{folder: "cmd/padjig", name: "BenchmarkEventToScreen", times: "1x", flags: []string{"-verdicts", "50"}}
	sixteen := &benchmark{folder: "cmd/padjig", name: "BenchmarkSixteenJigs", times: "1x"}
	start := &benchmark{folder: "cmd/padjig", name: "BenchmarkStart", times: "25x"}
	return []section{
		{"Cycle of a unit", []line{
			{what: "{}", against: "what the jig itself needs for its plan", ours: "cycle", theirs: "floor", of: cycle},
			{what: "{}", against: "what it would need for single presses", ours: "cycle", theirs: "single-floor", of: cycle},
			{what: "{}, by single presses", against: "what the jig itself needs for them", ours: "single-cycle", theirs: "single-floor", of: cycle},
		}},
		{"Solving and diagnosis", []line{
			{what: "a reading of a keypad of {}, processor time", against: "its operating point by ngspice", ours: "reading", theirs: "ngspice", of: spice},
			{what: "the same with every tap a node, {}, processor time", against: "its operating point by ngspice", ours: "network", theirs: "ngspice", of: spice},
			{what: "a cause on a board of 128 keys, processor time", against: "solving the circuit anew for each key", ours: "scored", theirs: "anew", of: singles},
		}},
		{"Records", []line{
			{what: "start of a run, durable", against: "appending 4 KiB to a file and syncing it", ours: "start", theirs: "append", of: save},
			{what: "saving a run, durable", against: "appending 4 KiB to a file and syncing it", ours: "save", theirs: "append", of: save},
			{what: "saving a run, durable", against: "the commit of one bare row by SQLite", ours: "save", theirs: "row", of: save},
			{what: "saving a run that is counted", against: "saving it without counting", ours: "counted", theirs: "alone", of: counting},
			{what: "check of the records, a run, processor time", against: "SQLite's own check of file and references", ours: "check", theirs: "sqlite", of: check},
		}},
		{"Questions of a line", []line{
			{what: "{}", against: "the column engine", ours: "sums", theirs: "columns", of: questions},
		}},
		{"Pages and start", []line{
			{what: "first page of role {}, empty browser", against: "a page of one word", ours: "page", theirs: "word", of: firstPage},
			{what: "a verdict, from the records to the screen", against: "a change of which nothing is to be seen", ours: "verdict", theirs: "nothing", of: screen},
			{what: "cycle beside fifteen other jigs", against: "the same jig alone", ours: "beside", theirs: "alone", of: sixteen},
			{what: "padjig version, from start to end", against: "a Go program that does nothing", ours: "version", theirs: "nothing", of: start, sub: "version"},
			{what: "a station, from its start to its first answer", against: "a Go program that does nothing", ours: "station", theirs: "nothing", of: start, sub: "station"},
		}},
	}
}

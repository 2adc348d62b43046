// Package sizing reckons how large a plant becomes, and how busy: pure arithmetic over figures that were measured.
//
// docs/sizing.md is made from it, so that no number there is prose. What a figure was measured on, and how to measure it on another machine,
// stands there too.
package sizing

// Measured is what one run takes, as it was measured on a plant that was filled.
type Measured struct {
	Runs int64 // that it was measured on

	RowsOfRun     float64 // in all tables
	BytesKept     float64 // of run, run_finding and run_cell with their indexes: what stays
	BytesReadings float64 // of the other parts of a run with their indexes: what retention takes out
	BytesOther    float64 // of everything else, aggregates among it
	BytesParquet  float64 // of the files of retention
	BytesLog      float64 // written to the log of changes (WAL)

	ForwardRows float64 // rows a second that one station forwards, without counting
	CopyRows    float64 // rows a second by COPY of the same rows, nothing else
}

// Line is how a plant works.
type Line struct {
	Stations    int
	RunsAnHour  float64 // of a station that works
	HoursADay   float64
	DaysAYear   float64
	Years       int
	MonthsKept  int     // whose readings stay in the database
	BusiestHour float64 // runs of the busiest hour as a multiple of the usual
}

// Usual is a line of two shifts: a unit a minute, with a margin for those that are tested again.
func Usual(stations, years int) Line {
	return Line{Stations: stations, RunsAnHour: 60, HoursADay: 16, DaysAYear: 250, Years: years, MonthsKept: 24, BusiestHour: 2}
}

// Size is what a plant needs.
type Size struct {
	RunsADay, RunsAMonth, Runs float64 // Runs in all years
	RowsASecond                float64 // in the busiest hour
	Busy                       float64 // share of what one forwarder brings in that the busiest hour takes; above 1 several must forward at once, which they do

	BytesAMonth    float64 // of readings: one month's partitions together
	BytesAllKept   float64 // if no month is ever retired
	BytesRetired   float64 // with retention: verdicts and counts of all years, readings of the months that are kept
	BytesArchive   float64 // files of retention at the end
	BytesLogADay   float64
	Partitions     int     // tables at the end, with retention
	PartitionsKept int     // and without
	HoursToRestore float64 // to copy the database back at [CopyBack]
}

// CopyBack is how fast a backup is copied back, in bytes a second: a network of 1 Gbit/s at its best, common practice, no source.
const CopyBack = 110e6

// Parts are how many tables a month has: those of which it keeps its part for good, and those of readings.
const (
	PartsKept     = 3
	PartsReadings = 6
)

// Of reckons a plant.
func Of(m Measured, l Line) Size {
	aDay := float64(l.Stations) * l.RunsAnHour * l.HoursADay
	all := aDay * l.DaysAYear * float64(l.Years)
	months := 12 * l.Years
	kept := min(l.MonthsKept, months)
	aMonth := aDay * l.DaysAYear / 12
	s := Size{
		RunsADay: aDay, RunsAMonth: aMonth, Runs: all,
		RowsASecond:    float64(l.Stations) * l.RunsAnHour * l.BusiestHour * m.RowsOfRun / 3600,
		BytesAMonth:    aMonth * m.BytesReadings,
		BytesAllKept:   all * (m.BytesKept + m.BytesReadings + m.BytesOther),
		BytesRetired:   all*(m.BytesKept+m.BytesOther) + aMonth*float64(kept)*m.BytesReadings,
		BytesArchive:   aMonth * float64(months-kept) * m.BytesParquet,
		BytesLogADay:   aDay * m.BytesLog,
		Partitions:     PartsKept*months + PartsReadings*kept,
		PartitionsKept: (PartsKept + PartsReadings) * months,
	}
	s.Busy = s.RowsASecond / m.ForwardRows
	s.HoursToRestore = s.BytesRetired / CopyBack / 3600
	return s
}

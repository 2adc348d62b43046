package lines

import (
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/results/floor"
	"padjig/results/hourly"
	"padjig/results/store"
	"padjig/sequence"
)

// Filter chooses production runs. What is empty chooses all, except that real
// runs and simulated ones never come together: Simulated chooses which.
type Filter struct {
	Product   string   // code
	Revisions []string // labels
	Lots      []string // of any material
	Jigs      []string // serial numbers
	Shifts    []string // names
	Operators []string
	Stations  []string // names; only where the records are those of many
	Actuation sequence.Actuation
	Simulated bool
	From, To  time.Time // start of the runs: From inclusive, To exclusive; zero for open
	// Zone is whose days and hours yields are told apart by, and in which times are said:
	// the plant's; nil is UTC. It chooses nothing.
	Zone *time.Location
}

func (f Filter) zone() *time.Location {
	if f.Zone == nil {
		return time.UTC
	}
	return f.Zone
}

// The names of the URL parameters, one for each part of a [Filter]; those of lists
// are with [Filter.Lists].
const (
	paramProduct   = "product"
	paramActuation = "actuation"
	wasActuation   = "press" // what it was called before
	paramSimulated = "simulated"
	paramFrom      = "from"
	paramTo        = "to"
	paramStation   = "station"
)

// FilterParams are the names of the URL parameters of a filter.
var FilterParams = append([]string{paramProduct, paramActuation, paramSimulated, paramFrom, paramTo},
	store.Each(new(Filter).Lists(), func(l List) string { return l.Name })...)

// List is a part of a filter that chooses any of some values.
type List struct {
	Name    string // of the URL parameter, and in words
	Values  *[]string
	columns []string // of cells, any of which may have the value; none: see [Filter.ofStations]
}

// Lists are all lists of a filter.
func (f *Filter) Lists() []List {
	return []List{
		{"revision", &f.Revisions, []string{"revision.label"}},
		{"lot", &f.Lots, []string{"membrane", "dome", "board", "consumables"}},
		{"jig", &f.Jigs, []string{"jig.serial"}},
		{"shift", &f.Shifts, []string{"shift.name"}},
		{"operator", &f.Operators, []string{"cell.operator"}},
		{paramStation, &f.Stations, nil},
	}
}

// Values writes the filter as URL parameters, times in UTC; [ParseFilter] reads
// them back the same.
func (f Filter) Values() url.Values {
	v := url.Values{}
	for name, text := range map[string]string{
		paramProduct: f.Product, paramActuation: string(f.Actuation), paramFrom: written(f.From), paramTo: written(f.To),
	} {
		if text != "" {
			v.Set(name, text)
		}
	}
	for _, l := range f.Lists() {
		if len(*l.Values) > 0 {
			v[l.Name] = slices.Clone(*l.Values)
		}
	}
	if f.Simulated {
		v.Set(paramSimulated, "1")
	}
	return v
}

func written(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.UTC().Format(time.RFC3339Nano)
}

// ParseFilter reads URL parameters; others than a filter's are left alone. A
// time is RFC 3339, or a day or a day and time of day in zone: 2026-03-02,
// 2026-03-02T14:00. The runs of the day in "to" are chosen, those from a time
// of day in "to" on are not. The error says every mistake at once.
func ParseFilter(v url.Values, zone *time.Location) (Filter, error) {
	f := Filter{Zone: zone, Product: strings.TrimSpace(v.Get(paramProduct)), Actuation: sequence.Actuation(v.Get(paramActuation))}
	for _, l := range f.Lists() {
		*l.Values = filled(v[l.Name])
	}
	var wrong []error
	note := func(err error) {
		if err != nil {
			wrong = append(wrong, err)
		}
	}
	var err error
	if v.Has(wasActuation) {
		note(sequence.Wrong("renamed", "%s is called %s now: write %s=%s", wasActuation, paramActuation, paramActuation, v.Get(wasActuation)))
	}
	f.Simulated, err = yesNo(paramSimulated, v.Get(paramSimulated))
	note(err)
	if !slices.Contains([]sequence.Actuation{"", sequence.Mechanical, sequence.Electrical, sequence.Hand}, f.Actuation) {
		note(sequence.Wrong("actuation", "%s %q: write mechanical, electrical or hand", paramActuation, f.Actuation))
	}
	f.From, err = moment(paramFrom, v.Get(paramFrom), zone, false)
	note(err)
	f.To, err = moment(paramTo, v.Get(paramTo), zone, true)
	note(err)
	if !f.From.IsZero() && !f.To.IsZero() && !f.From.Before(f.To) {
		note(sequence.Wrong("backwards", "%s %s is not before %s %s: no run can be in between",
			paramFrom, v.Get(paramFrom), paramTo, v.Get(paramTo)))
	}
	return f, errors.Join(wrong...)
}

func filled(list []string) []string {
	var out []string
	for _, text := range list {
		if text = strings.TrimSpace(text); text != "" && !slices.Contains(out, text) {
			out = append(out, text)
		}
	}
	return out
}

func yesNo(name, text string) (bool, error) {
	switch text {
	case "", "0", "false", "no":
		return false, nil
	case "1", "true", "yes":
		return true, nil
	}
	return false, sequence.Wrong("yes or no", "%s %q: write 1 or 0", name, text)
}

func moment(name, text string, zone *time.Location, last bool) (time.Time, error) {
	if text = strings.TrimSpace(text); text == "" {
		return time.Time{}, nil
	}
	if t, err := time.Parse(time.RFC3339Nano, text); err == nil {
		return t.UTC(), nil
	}
	for _, form := range []string{"2006-01-02T15:04:05", "2006-01-02T15:04", "2006-01-02 15:04"} {
		if t, err := time.ParseInLocation(form, text, zone); err == nil {
			return t.UTC(), nil
		}
	}
	t, err := time.ParseInLocation("2006-01-02", text, zone)
	if err != nil {
		return t, sequence.Wrong("time", "%s %q is no time: write 2026-03-02, 2026-03-02T14:00 or RFC 3339", name, text)
	}
	if last {
		t = t.AddDate(0, 0, 1)
	}
	return t.UTC(), nil
}

// String says in words what is chosen, times in its zone.
func (f Filter) String() string {
	var parts []string
	add := func(name string, list ...string) {
		if list = filled(list); len(list) > 0 {
			parts = append(parts, name+" "+strings.Join(list, " or "))
		}
	}
	add("product", f.Product)
	for _, l := range f.Lists() {
		add(l.Name, *l.Values...)
	}
	add("pressed", string(f.Actuation))
	if !f.From.IsZero() {
		add("from", f.From.In(f.zone()).Format(floor.ZonedForm))
	}
	if !f.To.IsZero() {
		add("before", f.To.In(f.zone()).Format(floor.ZonedForm))
	}
	text := "all runs"
	if len(parts) > 0 {
		text = strings.Join(parts, ", ")
	}
	if f.Simulated {
		text += ", SIMULATED"
	}
	return text
}

// where gives the condition for cells, joined with revision, jig, lot_change
// and shift. Cells at the ends of the time range may hold runs outside it.
func (f Filter) where() (condition string, args []any) {
	conditions := []string{"cell.purpose = ''", "cell.simulated = ?"}
	args = []any{f.Simulated}
	also := func(condition string, values ...any) {
		conditions, args = append(conditions, condition), append(args, values...)
	}
	if f.Product != "" {
		also("revision.code = ?", f.Product)
	}
	if f.Actuation != "" {
		also("cell.actuation = ?", string(f.Actuation))
	}
	for _, l := range f.Lists() {
		if len(*l.Values) == 0 || l.Name == paramStation {
			continue
		}
		values := store.Each(*l.Values, func(v string) any { return v })
		among := store.Each(l.columns, func(column string) string { return column + " IN (" + store.Placeholders(len(values)) + ")" })
		also("("+strings.Join(among, " OR ")+")", slices.Repeat(values, len(among))...)
	}
	if !f.From.IsZero() {
		also("cell.hour >= ?", hourly.HourOf(f.From.UnixMicro()))
	}
	if !f.To.IsZero() {
		also("cell.hour <= ?", hourly.HourOf(f.To.UnixMicro()-1))
	}
	of, names := f.ofStations("cell")
	return strings.Join(conditions, " AND ") + of, append(args, names...)
}

package choice_test

import (
	"net/url"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/answers/choice"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/releases/releasestest"
	"padjig/results/runs"
	"padjig/sequence/product"
)

var vienna, _ = time.LoadLocation("Europe/Vienna")

// at is a time of the plant's clock.
func at(day, hour, minute int) time.Time { return time.Date(2026, 3, day, hour, minute, 0, 0, vienna) }

var (
	next  = answerstest.Pad("VC-4", "D", answerstest.Keys[:3]...)
	other = answerstest.Pad("FAN-2", "A", answerstest.Keys[:2]...)
)

// line is a store with a run of each of some revisions, in their order.
func line(t *testing.T, all ...any) *results.Store {
	t.Helper()
	entries := []results.Entry{{At: all[1].(time.Time).Add(-time.Hour), Shifts: &answerstest.Shifts}}
	for i := 0; i < len(all); i += 2 {
		rev, run := all[i].(runs.Revision), answerstest.Run(all[i].(runs.Revision), answerstest.Serial(i), all[i+1].(time.Time), 70, 70)
		entries = append(entries, answerstest.Of(rev, run))
	}
	return answerstest.Store(t, entries...)
}

// chosen is what an address says of a store at a time, which must be no mistake.
func chosen(t *testing.T, s *results.Store, query string, of choice.Of, now time.Time) choice.Chosen {
	t.Helper()
	v, err := url.ParseQuery(query)
	require.NoError(t, err)
	a, err := choice.Parse(v, vienna)
	require.NoError(t, err, query)
	c, err := choice.Choose(t.Context(), s, a, of, now)
	require.NoError(t, err, query)
	return c
}

func said(c choice.Chosen) string {
	text, _ := url.QueryUnescape(c.Said.Values().Encode())
	return text
}

// Where nothing is said it is the newest revision in force and the last seven days, and
// where these have no run, what there was last, with a word about it. What is said holds.
func TestUsualChoice(t *testing.T) {
	s := line(t, answerstest.Vents, at(2, 8, 0), answerstest.Vents, at(9, 8, 0), next, at(9, 9, 0), answerstest.Vents, at(10, 9, 0))
	now := at(10, 12, 0)
	for query, want := range map[string]string{
		"":                               "product=VC-4&revision=C&simulated=1&span=7d", // tested last: nothing was released
		"revision=D":                     "product=VC-4&revision=D&simulated=1&span=7d",
		"revision=all":                   "product=VC-4&revision=all&simulated=1&span=7d",
		"span=all":                       "product=VC-4&revision=C&simulated=1&span=all",
		"product=all":                    "product=VC-4&revision=C&simulated=1&span=7d",
		"span=today":                     "product=VC-4&revision=C&simulated=1&span=today",
		"from=2026-03-09&to=2026-03-09":  "from=2026-03-09&product=VC-4&revision=D&simulated=1&to=2026-03-09",
		"simulated=0":                    "simulated=0&span=7d", // no real run
		"jig=J-9":                        "jig=J-9&span=7d",
		"from=2026-04-01&simulated=1":    "from=2026-04-01&product=VC-4&simulated=1",
		"from=2026-03-02&to=2026-03-02":  "from=2026-03-02&product=VC-4&revision=C&simulated=1&to=2026-03-02",
		"span=30d&revision=C&revision=D": "product=VC-4&revision=C&revision=D&simulated=1&span=30d",
	} {
		if query == "product=all" {
			want = "product=all&simulated=1&span=7d"
		}
		assert.Equal(t, want, said(chosen(t, s, query, choice.Runs, now)), query)
	}
	later := chosen(t, s, "", choice.Runs, at(25, 12, 0))
	assert.Equal(t, "from=2026-03-04&product=VC-4&revision=C&simulated=1&to=2026-03-10", said(later))
	require.Len(t, later.Usual, 1)
	assert.Equal(t, "choice.last", later.Usual[0].Code)
	assert.True(t, later.Runs && later.Instead == nil)
	assert.Equal(t, at(4, 0, 0).UTC(), later.Filter.From.UTC())
	assert.Equal(t, at(11, 0, 0).UTC(), later.Filter.To.UTC())

	// What was asked for by its times and is empty stays so, and says where there is something.
	empty := chosen(t, s, "span=today", choice.Runs, at(25, 12, 0))
	assert.False(t, empty.Runs)
	require.NotNil(t, empty.Instead)
	assert.Equal(t, []string{"2026-03-04", "2026-03-10"}, []string{empty.Instead.From, empty.Instead.To})
	assert.Equal(t, "2026-03-10", empty.Last.Format("2006-01-02"))
	nowhere := chosen(t, s, "jig=J-9", choice.Runs, now)
	assert.True(t, !nowhere.Runs && nowhere.Instead == nil, "there is nothing to offer")

	// A line stands still whatever it tests, and a shift has its own times.
	assert.Equal(t, "product=VC-4&simulated=1&span=7d", said(chosen(t, s, "", choice.Stops, now)))
	shift := chosen(t, s, "span=today&shift=early", choice.AShift, now)
	assert.Equal(t, "product=VC-4&shift=early&simulated=1&span=today", said(shift), "other pages are about it again")
	assert.True(t, shift.Filter.From.IsZero() && shift.Filter.Shifts == nil)
	assert.Equal(t, "product=VC-4&simulated=1&span=7d", said(chosen(t, s, "", choice.Runs.Without(lines.ByRevision), now)))
}

// What is written reads back the same.
func TestChoiceRoundTrip(t *testing.T) {
	for _, query := range []string{"", "span=today", "revision=all", "product=all&span=all", "from=2026-03-01&to=2026-03-02T14%3A00", "simulated=0",
		"jig=J-1&jig=J-2&lot=M-1&operator=Ann+Lee&revision=C&shift=early&simulated=1&span=14d&actuation=hand"} {
		v, err := url.ParseQuery(query)
		require.NoError(t, err)
		a, err := choice.Parse(v, vienna)
		require.NoError(t, err, query)
		assert.Equal(t, v.Encode(), a.Values().Encode())
	}
	for _, query := range []string{"span=week", "span=0d", "span=07d", "span=-1d", "span=99999d", "span=7d&from=2026-03-02", "span=7d&to=2026-03-02",
		"from=yesterday", "simulated=perhaps"} {
		v, err := url.ParseQuery(query)
		require.NoError(t, err)
		_, err = choice.Parse(v, vienna)
		assert.Error(t, err, query)
	}
}

// The newest release says what is in force; where that was not tested, what was.
func TestRevisionInForce(t *testing.T) {
	s := line(t, other, at(9, 8, 0), answerstest.Vents, at(9, 8, 0), next, at(10, 9, 0))
	now := at(10, 12, 0)
	assert.Equal(t, "D", chosen(t, s, "", choice.Runs, now).Filter.Revisions[0])
	assert.Equal(t, []string{"C"}, chosen(t, s, "to=2026-03-09", choice.Runs, now).Filter.Revisions)
	assert.Equal(t, []string{"A"}, chosen(t, s, "product=FAN-2", choice.Runs, now).Filter.Revisions)
	assert.Empty(t, chosen(t, s, "product=all", choice.Runs, now).Filter.Revisions, "of which product?")
	assert.Empty(t, chosen(t, s, "", choice.Stops, now).Filter.Product, "stops are of all products")
}

// Spans are those of the plant's clock, and are held against as much of the time before.
func TestSpans(t *testing.T) {
	s := line(t, answerstest.Vents, at(9, 23, 30), answerstest.Vents, at(10, 0, 30), answerstest.Vents, at(10, 8, 0))
	for query, want := range map[string][4]time.Time{
		"span=today":                    {at(10, 0, 0), {}, at(9, 0, 0), at(9, 9, 20)},
		"span=shift":                    {at(10, 6, 0), {}, at(9, 6, 0), at(9, 9, 20)},
		"span=7d":                       {at(4, 0, 0), {}, at(-3, 0, 0), at(3, 9, 20)},
		"span=all":                      {},
		"span=lot":                      {},
		"from=2026-03-09&to=2026-03-09": {at(9, 0, 0), at(10, 0, 0), at(8, 0, 0), at(9, 0, 0)},
		"from=2026-03-10T06:00&to=2026-03-10T08:00": {at(10, 6, 0), at(10, 8, 0), at(10, 4, 0), at(10, 6, 0)},
	} {
		c := chosen(t, s, query, choice.Runs, at(10, 9, 20))
		got := [4]time.Time{c.Filter.From, c.Filter.To}
		if c.Before != nil {
			got[2], got[3] = c.Before.From, c.Before.To
		}
		for i := range want {
			assert.True(t, want[i].Equal(got[i]), "%s: %v is %v", query, i, got[i])
		}
	}
	// In the night the shift that ended last is the newest one; a lot change begins a span.
	night := chosen(t, s, "span=shift", choice.Runs, at(10, 3, 0))
	assert.True(t, at(9, 14, 0).Equal(night.Filter.From), night.Filter.From)
	bare := answerstest.Store(t, answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "1", at(9, 8, 0), 70)))
	a, err := choice.Parse(url.Values{"span": {"shift"}}, vienna)
	require.NoError(t, err)
	_, err = choice.Choose(t.Context(), bare, a, choice.Runs, at(9, 9, 0))
	assert.ErrorIs(t, err, choice.ErrNoShift)
	changed := answerstest.Store(t, answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "1", at(9, 8, 0), 70)),
		results.Entry{At: at(9, 10, 0), Lots: &floor.LotChange{Jig: "J-0041", Product: "VC-4", Simulated: true, Lots: floor.Lots{"membrane": "M-2"}, By: "Ann"}},
		answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "2", at(9, 11, 0), 70)))
	lot := chosen(t, changed, "span=lot", choice.Runs, at(9, 12, 0))
	assert.True(t, at(9, 10, 0).Equal(lot.Filter.From), lot.Filter.From)
	assert.True(t, lot.Runs)
}

// A unit belongs to the day of the plant in which it was tested, and to its hour; the hour
// that a change of clocks brings twice is two.
func TestDaysOfThePlant(t *testing.T) {
	october := func(utc int) time.Time { return time.Date(2026, 10, 25, utc, 15, 0, 0, time.UTC) }
	s := line(t, answerstest.Vents, at(9, 23, 30), answerstest.Vents, at(10, 0, 30), answerstest.Vents, october(0), answerstest.Vents, october(1))
	names := func(by ...lines.Dimension) (out [][]string) {
		c := chosen(t, s, "span=all", choice.Runs, at(10, 12, 0))
		y, err := s.Lines.Yields(t.Context(), c.Filter, by...)
		require.NoError(t, err)
		for _, row := range y.Rows {
			out = append(out, row.Groups)
		}
		return out
	}
	assert.Equal(t, [][]string{{"2026-03-09"}, {"2026-03-10"}, {"2026-10-25"}}, names(lines.ByDay))
	assert.Equal(t, [][]string{{"2026-03-09T23:00+01:00"}, {"2026-03-10T00:00+01:00"}, {"2026-10-25T02:00+02:00"}, {"2026-10-25T02:00+01:00"}},
		names(lines.ByHour))
	assert.Equal(t, [][]string{{"J-0041", "2026-03-09"}, {"J-0041", "2026-03-10"}, {"J-0041", "2026-10-25"}}, names(lines.ByJig, lines.ByDay))
	c := chosen(t, s, "from=2026-03-09&to=2026-03-09", choice.Runs, at(10, 12, 0))
	list, err := s.Lines.LastUnits(t.Context(), c.Filter, 9)
	require.NoError(t, err)
	assert.Len(t, list, 1)
	found, err := s.Lines.Findings(t.Context(), chosen(t, s, "span=all", choice.Runs, at(10, 12, 0)).Filter, lines.ByDay, "")
	require.NoError(t, err)
	assert.Len(t, found, 3)
}

// What is in force is what was released last, also where another revision was tested since;
// where it was not tested at all, the one tested last is shown, and said so.
func TestRevisionThatWasReleased(t *testing.T) {
	text, err := os.ReadFile("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	c, err := product.Parse("gcc-20.yaml", text)
	require.NoError(t, err)
	inForce := runs.Revision{Code: c.Code, Title: c.Title, Label: c.Revision, Hash: c.Hash(), Definition: c.Canonical()}
	x, err := product.Parse("gcc-20.yaml", []byte(strings.Replace(string(text), "revision: "+c.Revision, "revision: X", 1)))
	require.NoError(t, err)
	trial := runs.Revision{Code: x.Code, Title: x.Title, Label: x.Revision, Hash: x.Hash(), Definition: x.Canonical()}
	for name, of := range map[string]struct {
		tested []any
		shown  string
		codes  int
	}{
		"tested before another": {[]any{inForce, at(9, 8, 0), trial, at(9, 9, 0)}, c.Revision, 0},
		"not tested":            {[]any{trial, at(9, 8, 0)}, "X", 1},
	} {
		s := line(t, of.tested...)
		require.NoError(t, releasestest.Release(t.Context(), s, string(text)), name)
		got := chosen(t, s, "", choice.Runs, at(9, 12, 0))
		assert.Equal(t, []string{of.shown}, got.Filter.Revisions, name)
		assert.Len(t, got.Usual, of.codes, name)
	}
}

package hourly

import (
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Days and months follow each other without a gap, each hour lies in that by whose date it begins, wherever clocks change
// at midnight, by half an hour, or leave out a whole day.
func TestDaysAndMonths(t *testing.T) {
	for name, from := range map[string]time.Time{
		"UTC":               time.Date(2026, 2, 27, 0, 0, 0, 0, time.UTC),
		"Europe/Vienna":     time.Date(2026, 3, 20, 0, 0, 0, 0, time.UTC),
		"America/St_Johns":  time.Date(2010, 11, 1, 0, 0, 0, 0, time.UTC),  // back at 00:01
		"America/Sao_Paulo": time.Date(2018, 10, 25, 0, 0, 0, 0, time.UTC), // no midnight
		"Asia/Kolkata":      time.Date(1969, 12, 25, 0, 0, 0, 0, time.UTC),
		"Pacific/Apia":      time.Date(2011, 12, 20, 0, 0, 0, 0, time.UTC), // no 30 December
		"Asia/Beirut":       time.Date(2022, 10, 25, 0, 0, 0, 0, time.UTC), // midnight twice
	} {
		zone, err := time.LoadLocation(name)
		require.NoError(t, err)
		first := from.Unix() / 3600
		for _, level := range []Level{Day, Month} {
			form := map[Level]string{Day: "2006-01-02", Month: "2006-01"}[level]
			_, at := level.around(first, zone)
			for hour := at; hour < first+90*24; hour++ {
				begins, ends := level.around(hour, zone)
				require.True(t, begins <= hour && hour < ends, "%s: %d is in %d-%d", name, hour, begins, ends)
				of := time.Unix(hour*3600, 0).In(zone).Format(form)
				require.Equal(t, of, time.Unix(begins*3600, 0).In(zone).Format(form), name)
				require.Equal(t, of, time.Unix((ends-1)*3600, 0).In(zone).Format(form), name)
				if hour == begins {
					require.Equal(t, at, begins, "%s: after the one before", name)
					at = ends
				}
			}
		}
	}
}

// Whatever spans there are, those taken and the hours left are just the hours asked for.
func TestCover(t *testing.T) {
	rng := rand.New(rand.NewPCG(1, 1))
	vienna, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	first := time.Date(2026, 3, 1, 0, 0, 0, 0, vienna).Unix() / 3600
	taken := map[Level]int{}
	for range 2000 {
		var spans []Span
		for _, level := range []Level{Day, Month} {
			for at := first; at < first+100*24; {
				begins, ends := level.around(at, vienna)
				if rng.IntN(5) > 0 {
					spans = append(spans, Span{Number: int64(len(spans)), Level: level, Begins: begins, Ends: ends})
				}
				at = ends
			}
		}
		rng.Shuffle(len(spans), func(i, j int) { spans[i], spans[j] = spans[j], spans[i] })
		from := first - 50 + rng.Int64N(2400)
		hours := Range{from, from + rng.Int64N(2400) - 5}
		whole, left := Cover(spans, hours)
		seen := map[int64]int{}
		for _, s := range whole {
			taken[s.Level]++
			for h := s.Begins; h < s.Ends; h++ {
				seen[h]++
			}
		}
		for _, r := range left {
			for h := r.From; h <= r.To; h++ {
				seen[h]++
			}
		}
		for h := hours.From; h <= hours.To; h++ {
			require.Equal(t, 1, seen[h], "hour %d of %v", h, hours)
		}
		require.Len(t, seen, int(max(hours.To-hours.From+1, 0)))
	}
	assert.Positive(t, taken[Day])
	assert.Positive(t, taken[Month])
}

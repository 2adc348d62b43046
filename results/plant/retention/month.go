package retention

import (
	"fmt"
	"time"

	"padjig/results/plant/postgres"
)

// Month is one of UTC, as the numbers of runs have months.
type Month struct{ begins time.Time }

// ParseMonth reads one written as 2026-03.
func ParseMonth(text string) (Month, error) {
	t, err := time.Parse("2006-01", text)
	if err != nil {
		return Month{}, fmt.Errorf("%q is no month: write one such as 2026-03", text)
	}
	return Month{t}, nil
}

func monthOf(t time.Time) Month {
	t = t.UTC()
	return Month{time.Date(t.Year(), t.Month(), 1, 0, 0, 0, 0, time.UTC)}
}

func (m Month) String() string { return m.begins.Format("2006-01") }

func (m Month) after(other Month) bool { return m.begins.After(other.begins) }

// Low is the lowest number of a run of the month, and High that of the month after it.
func (m Month) Low() int64 { return postgres.RunNumber(0, m.begins, 0) }

// High is the lowest number of the month after.
func (m Month) High() int64 { return postgres.RunNumber(0, m.begins.AddDate(0, 1, 0), 0) }

// part is the partition of a table that has the month. Its parts are letters, digits and underscores.
func (m Month) part(table string) string { return table + m.begins.Format("_2006_01") }

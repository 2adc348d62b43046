package backups

import (
	"context"
	"errors"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestDue(t *testing.T) {
	vienna, err := time.LoadLocation("Europe/Vienna")
	require.NoError(t, err)
	at := func(text string) time.Time {
		if text == "" {
			return time.Time{}
		}
		when, err := time.ParseInLocation("2006-01-02 15:04", text, vienna)
		require.NoError(t, err)
		return when
	}
	daily := Plan{At: []time.Duration{14 * time.Hour, 2*time.Hour + 30*time.Minute}, Zone: vienna}
	for name, c := range map[string]struct {
		plan                     Plan
		whole, failed, now, want string
	}{
		"never yet":                    {Plan{Every: 24 * time.Hour}, "", "", "2026-11-30 08:00", "2026-11-30 08:00"},
		"every day":                    {Plan{Every: 24 * time.Hour}, "2026-11-30 07:00", "", "2026-11-30 08:00", "2026-12-01 07:00"},
		"overdue":                      {Plan{Every: 24 * time.Hour}, "2026-11-20 07:00", "", "2026-11-30 08:00", "2026-11-21 07:00"},
		"failed just now":              {Plan{Every: 24 * time.Hour}, "2026-11-20 07:00", "2026-11-30 07:55", "2026-11-30 08:00", "2026-11-30 08:10"},
		"the clock was set back":       {Plan{Every: 24 * time.Hour}, "2027-11-30 07:00", "", "2026-11-30 08:00", "2026-12-01 08:00"},
		"set back after a failure":     {Plan{Every: time.Hour}, "2026-11-30 06:00", "2027-11-30 07:00", "2026-11-30 08:00", "2026-11-30 08:15"},
		"at the next time":             {daily, "2026-11-30 02:31", "", "2026-11-30 08:00", "2026-11-30 14:00"},
		"at the first of tomorrow":     {daily, "2026-11-30 14:01", "", "2026-11-30 18:00", "2026-12-01 02:30"},
		"a day without that hour":      {daily, "2026-03-28 14:01", "", "2026-03-29 01:00", "2026-03-29 03:30"},
		"a failure at night":           {daily, "2026-11-29 14:01", "2026-11-30 02:30", "2026-11-30 02:31", "2026-11-30 02:45"},
		"a failure long before is old": {daily, "2026-11-30 02:31", "2026-11-30 02:00", "2026-11-30 08:00", "2026-11-30 14:00"},
	} {
		t.Run(name, func(t *testing.T) {
			got := c.plan.Due(at(c.whole), at(c.failed), at(c.now))
			assert.Equal(t, c.want, got.In(vienna).Format("2006-01-02 15:04"))
		})
	}
}

// Backups come as planned; one that fails is tried again and told; and the end waits for none.
func TestKeeper(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		ctx, end := context.WithCancel(t.Context())
		began := time.Now()
		var taken []time.Duration
		var whole, failed time.Time
		told := 0
		k := Keeper{
			Plan: Plan{Every: 6 * time.Hour},
			Past: func(context.Context) (time.Time, time.Time, error) { return whole, failed, nil },
			Take: func(context.Context) error {
				taken = append(taken, time.Since(began))
				if len(taken) == 2 {
					failed = time.Now()
					return errors.New("the disk is not there")
				}
				whole = time.Now()
				return nil
			},
			Failed: func(context.Context, error) { told++ },
		}
		over := make(chan struct{})
		go func() { k.Run(ctx); close(over) }()
		time.Sleep(13 * time.Hour)
		end()
		<-over
		first := time.Minute
		assert.Equal(t, []time.Duration{first, first + 6*time.Hour, first + 6*time.Hour + retry, first + 12*time.Hour + retry}, taken)
		assert.Equal(t, 1, told)
	})
}

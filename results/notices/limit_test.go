package notices_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/notices"
	"padjig/results/plant/notice"
)

// The last day of a reference box is the earliest that anybody says: the certificate, or the plant in what it said last. A clock
// that is put back makes no day come again.
func TestTheLastDay(t *testing.T) {
	office, s := open(t, "office.db"), open(t, "station.db")
	var head *notice.Head
	say := func(name, day string) {
		t.Helper()
		issued, err := office.Notices.Issue(t.Context(), keyOf(1), notices.Further{Dates: []notices.Dated{
			{Name: name, DatesBody: notice.DatesBody{Of: "box", Due: day, By: "Ines"}}}})
		require.NoError(t, err)
		h, err := office.Notices.Head(t.Context(), keyOf(1))
		require.NoError(t, err)
		head = &h
		taker, err := s.Notices.Taker(t.Context(), pinned, stale)
		require.NoError(t, err)
		done, err := taker.Take(t.Context(), notices.Heard{Notices: issued, Head: head})
		require.NoError(t, err)
		require.Nil(t, done.Trouble)
	}
	certificate := time.Date(2027, 4, 18, 0, 0, 0, 0, time.UTC)
	clock := time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC) // put back
	last := func() string {
		t.Helper()
		day, now, err := s.Notices.Limit(t.Context(), "box", certificate, clock, "RB-1", "RB-1-0007")
		require.NoError(t, err)
		if head != nil {
			assert.Equal(t, head.Issued, now.UTC(), "it is no earlier than the plant's newest word")
		}
		return day.Format(time.DateOnly)
	}
	assert.Equal(t, "2027-04-18", last(), "the certificate's")
	say("RB-1-0007", "2026-12-24")
	assert.Equal(t, "2026-12-24", last(), "the plant's, by its serial number")
	say("RB-1", "2026-12-01")
	assert.Equal(t, "2026-12-01", last(), "and by its name")
	say("RB-1", "2030-01-31")
	assert.Equal(t, "2026-12-24", last(), "what is withdrawn by a later day, is withdrawn")
	say("RB-1-0007", "2030-01-31")
	assert.Equal(t, "2027-04-18", last(), "no day of the plant's lengthens a certificate")
	say("RB-9", "2020-01-31")
	assert.Equal(t, "2027-04-18", last(), "of another box")

	ahead := time.Now().AddDate(1, 0, 0)
	_, now, err := s.Notices.Limit(t.Context(), "box", certificate, ahead, "RB-1")
	require.NoError(t, err)
	assert.Equal(t, ahead, now)
	unit, _, err := s.Notices.Limit(t.Context(), "unit", certificate, clock, "RB-1-0007")
	require.NoError(t, err)
	assert.Equal(t, certificate, unit, "a unit is no box")
}

// A jig or a reference unit whose last day is over stops its product also where the clock of the station is put back behind it.
func TestADayThatIsOverStaysOver(t *testing.T) {
	office, s := open(t, "office.db"), open(t, "station.db")
	issued, err := office.Notices.Issue(t.Context(), keyOf(1), notices.Further{Dates: []notices.Dated{
		{Name: "REF-A", DatesBody: notice.DatesBody{Of: "unit", Due: "2020-06-30", By: "Ines"}}}})
	require.NoError(t, err)
	head, err := office.Notices.Head(t.Context(), keyOf(1))
	require.NoError(t, err)
	taker, err := s.Notices.Taker(t.Context(), pinned, stale)
	require.NoError(t, err)
	_, err = taker.Take(t.Context(), notices.Heard{Notices: issued, Head: &head})
	require.NoError(t, err)
	for _, clock := range []time.Time{time.Now(), time.Date(2020, 1, 1, 0, 0, 0, 0, time.UTC)} {
		list, err := s.Notices.Said(t.Context(), notices.About{Product: "GCC-20", Units: []string{"REF-A"}, Now: clock})
		require.NoError(t, err)
		require.Len(t, list, 1, clock)
		assert.Equal(t, notices.DateOver, list[0].Code)
		assert.True(t, list[0].Blocks)
	}
}

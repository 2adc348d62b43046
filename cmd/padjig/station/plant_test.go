package station

import (
	"bytes"
	"crypto/ed25519"
	"encoding/hex"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/notices"
	"padjig/results/plant/notice"
)

// office issues notices to a stand, and heads.
type office struct {
	*stand
	key   ed25519.PrivateKey
	chain notice.Chain
	last  map[string]int64
	taker *notices.Taker
}

func newOffice(s *stand) *office {
	o := &office{stand: s, key: ed25519.NewKeyFromSeed(bytes.Repeat([]byte{1}, ed25519.SeedSize)), last: map[string]int64{}}
	pinned := []ed25519.PublicKey{notice.PublicOf(o.key)}
	o.chain = notice.Begin(pinned)
	taker, err := s.store.Notices.Taker(s.Context(), pinned, time.Hour)
	require.NoError(s, err)
	o.taker = taker
	o.says(o.issue(notice.Beginning, "", notice.KeyBody{Key: hex.EncodeToString(pinned[0])}))
	return o
}

func (o *office) issue(kind notice.Kind, subject string, body any) notice.Notice {
	n, next, err := o.chain.Issue(kind, subject, body, time.Now(), o.key)
	require.NoError(o, err)
	o.chain = next
	if n.OfProduct() {
		o.last[subject] = n.Number
	}
	return n
}

// says has the station hear the head, and get some notices.
func (o *office) says(list ...notice.Notice) notices.Taken {
	head := notice.Head{Count: o.chain.Number, Hash: o.chain.Hash, Products: o.last, Issued: time.Now()}.Sign(o.chain.Plant, o.key)
	done, err := o.taker.Take(o.Context(), notices.Heard{Notices: list, Head: &head})
	require.NoError(o, err)
	return done
}

// plantCodes are what a lane says of the plant.
func plantCodes(st State) (codes []Code) {
	for _, c := range st.Conditions {
		if len(c.Code) > 5 && c.Code[:5] == "plant" {
			codes = append(codes, c.Code)
		}
	}
	return codes
}

// A lane that heard of a newer release and does not have it tests no unit of the product; with it, it
// tests by it. Cut off it tests on, and says so.
func TestALaneBehindThePlant(t *testing.T) {
	at(t, "", func(s *stand) {
		o := newOffice(s)
		s.start()
		s.tests(s.unit(1))
		assert.Empty(s, plantCodes(s.lane.State()))

		text := swap(swap(gcc(s), "revision: C", "revision: D"), "contact resistance: at most 200 ohm", "contact resistance: at most 190 ohm")
		d := parsed(s, text)
		n := o.issue(notice.Release, d.Code, notice.ReleaseBody{Label: d.Revision, Hash: d.Hash(), Source: text, By: "Ines", Reason: "agreed with the customer"})
		time.Sleep(time.Minute)
		o.says() // and the notice is nowhere
		refused := s.refused(s.unit(2), Code(notices.Ahead), func() { s.scan(s.unit(2)) })
		assert.Equal(s, NotMeasured, refused.Kind)
		assert.Equal(s, []Code{Code(notices.Ahead), Code(notices.NotBelieved)}, plantCodes(s.lane.State()))
		assert.NoError(s, eligibility{Records{Store: s.store}, Job{Product: s.product, Serial: s.unit(2)}}.revision(s.Context()), "nothing was released here")

		time.Sleep(time.Minute)
		done := o.says(n)
		require.Nil(s, done.Trouble)
		p, err := (Records{Store: s.store}).Released(s.Context(), d.Code)
		require.NoError(s, err)
		s.lane.Release(p)
		s.tests(s.unit(2))
		assert.Equal(s, "D", s.runs(s.unit(2))[0].Revision)
		assert.Empty(s, plantCodes(s.lane.State()))

		time.Sleep(61 * time.Minute) // a lane that idles for a day keeps its jig awake all the while, and the test
		s.tests(s.unit(3))
		assert.Equal(s, []Code{Code(notices.NotHeard)}, plantCodes(s.lane.State()))
	})
}

// After the last day that the plant gave a jig no unit of production is tested on it.
func TestAJigThatIsOverdueAtThePlant(t *testing.T) {
	at(t, "", func(s *stand) {
		o := newOffice(s)
		s.start()
		s.tests(s.unit(1))
		jig := s.lane.State().Jig.Serial
		lastDay := func(day time.Time) {
			time.Sleep(time.Minute)
			o.says(o.issue(notice.Dates, jig, notice.DatesBody{Of: "jig", Due: day.UTC().Format(time.DateOnly), By: "Ines"}))
		}
		lastDay(time.Now())
		s.tests(s.unit(2))
		assert.Equal(s, []Code{Code(notices.DateSoon)}, plantCodes(s.lane.State()))
		lastDay(time.Now().AddDate(0, 0, -1))
		s.refused(s.unit(3), Code(notices.DateOver), func() { s.scan(s.unit(3)) })
	})
}

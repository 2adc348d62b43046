package station

import (
	"context"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/station/note"
	"padjig/results/plant/asked"
	"padjig/results/runs/elsewhere"
	"padjig/sequence"
)

// asks has the stand's lane ask a plant that answers so about each unit, after so long.
func (s *stand) asks(answer func(serial string) (*elsewhere.Unit, time.Duration)) {
	plant := asked.New(func(ctx context.Context, serial string) (*elsewhere.Unit, error) {
		u, takes := answer(serial)
		if u == nil {
			u = &elsewhere.Unit{}
		}
		u.Serial = serial
		select {
		case <-ctx.Done():
			return nil, ctx.Err()
		case <-time.After(takes):
			return u, nil
		}
	}, asked.UsualWait)
	s.Cleanup(plant.Close)
	s.setup.Plant = plant
}

// there is a run at another station.
func (s *stand) there(outcome sequence.Outcome) elsewhere.Run {
	return elsewhere.Run{Station: "line-9", Product: s.product.Code, Label: "C", Simulated: true, Outcome: outcome, Attempt: 1, Findings: 1, At: time.Now()}
}

// A lane refuses what other stations know, by its own rules, and names the station. Whoever may decides otherwise.
func TestALaneHearsOfOtherStations(t *testing.T) {
	at(t, "", func(s *stand) {
		known := map[string]*elsewhere.Unit{
			s.unit(2): {Runs: []elsewhere.Run{s.there(sequence.Pass)}},
			s.unit(3): {Runs: []elsewhere.Run{s.there(sequence.Fail), s.there(sequence.Fail)}},
			s.unit(4): {Starts: []elsewhere.Start{{Station: "line-9", Jig: "J-9", Product: s.product.Code, Simulated: true, Actuation: sequence.Mechanical}}},
			s.unit(5): {Cases: []elsewhere.Case{{Station: "desk", Number: 7, Open: true}}},
		}
		known[s.unit(3)].Runs[1].ID[0] = 1
		s.asks(func(serial string) (*elsewhere.Unit, time.Duration) { return known[serial], time.Millisecond })
		s.start()
		s.tests(s.unit(1))
		assert.Equal(s, "given", s.runs(s.unit(1))[0].Plant)
		for serial, code := range map[string]Code{
			s.unit(2): PassedElsewhere, s.unit(3): AttemptsElsewhere, s.unit(4): InHandElsewhere, s.unit(5): "returned elsewhere",
		} {
			r := s.refused(serial, code, func() { s.scan(serial) })
			assert.Contains(s, r.Error(), map[bool]string{true: "desk", false: "line-9"}[code == "returned elsewhere"])
		}
		s.lane.Scan(Scan{Serial: s.unit(2), Operator: "Ines", Overridden: true})
		s.until("tested all the same", func(st State) bool { return st.Phase == Ended && st.Unit.Serial == s.unit(2) })
		assert.Equal(s, 2, s.runs(s.unit(2))[0].Attempt, "one more than the other station made")
	})
}

// A plant that is late is not waited for beyond the bound: the lane says so, and so does the run. What it says about one unit
// afterwards is not taken for the next one.
func TestALateAnswerIsOfItsUnitAlone(t *testing.T) {
	at(t, "", func(s *stand) {
		s.asks(func(serial string) (*elsewhere.Unit, time.Duration) {
			if serial == s.unit(1) {
				return &elsewhere.Unit{Runs: []elsewhere.Run{s.there(sequence.Pass)}}, 5 * time.Second
			}
			return nil, time.Millisecond
		})
		s.start()
		s.scan(s.unit(1))
		st := s.until("tests", func(st State) bool { return st.Phase == Running && st.Keys != nil })
		if assert.NotNil(s, st.Note) {
			assert.Equal(s, note.Code(note.Alone), st.Note.Code)
		}
		s.until("tested", func(st State) bool { return st.Phase == Ended })
		assert.Equal(s, "late", s.runs(s.unit(1))[0].Plant)
		s.tests(s.unit(2))
		assert.Equal(s, "given", s.runs(s.unit(2))[0].Plant)
	})
}

// A unit that is stopped while its answer is on its way leaves nothing of it to the next one.
func TestAnAnswerOnItsWay(t *testing.T) {
	at(t, "", func(s *stand) {
		s.asks(func(serial string) (*elsewhere.Unit, time.Duration) {
			if serial == s.unit(1) {
				return &elsewhere.Unit{Runs: []elsewhere.Run{s.there(sequence.Pass)}}, 200 * time.Millisecond
			}
			return nil, 250 * time.Millisecond
		})
		s.start()
		s.lane.Scan(Scan{Serial: s.unit(1), Operator: "Abel"})
		s.lane.Stop()
		s.until("stopped", func(st State) bool { return st.Phase == Refused })
		s.tests(s.unit(2))
		assert.Equal(s, "given", s.runs(s.unit(2))[0].Plant)
		assert.Empty(s, s.runs(s.unit(1)))
	})
}

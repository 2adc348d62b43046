package care

import (
	"bytes"
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"padjig/fixture"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/commission"
)

// Commissioning is one of a jig, with how each step of it ended so far, oldest first.
type Commissioning struct {
	Number    int64
	ID        store.ID
	Jig       sequence.JigName // without the adapter, which may change
	Simulated bool
	States    []byte // what the jig said of itself, as JSON
	By        string
	Begun     time.Time
	Steps     []CommissionStep
}

// CommissionStep is how a step of a commissioning ended.
type CommissionStep struct {
	commission.Result
	By string
	At time.Time
}

// ErrOvertaken is returned when a step is to be stored of a commissioning behind which another
// one of the same jig was begun.
var ErrOvertaken = errors.New("another commissioning of this jig was begun meanwhile")

// Last is how each step stands, in their order: its last result that says something of the jig,
// or that it was not done; what was never tried is left out.
func (c Commissioning) Last() (steps []CommissionStep) {
	for _, step := range commission.Steps() {
		var last *CommissionStep
		for i, s := range c.Steps {
			if s.Step == step && (last == nil || s.Outcome != commission.NotDone || last.Outcome == commission.NotDone) {
				last = &c.Steps[i]
			}
		}
		if last != nil {
			steps = append(steps, *last)
		}
	}
	return steps
}

// Progress is how far it has come.
func (c Commissioning) Progress() commission.Progress {
	out := commission.Progress{}
	for _, s := range c.Last() {
		out[s.Step] = s.Outcome
	}
	return out
}

// Of reports whether it is of the jig as it states itself now.
func (c Commissioning) Of(caps fixture.Capabilities) bool {
	states, err := statesOf(caps)
	return err == nil && c.Jig.Serial == caps.Serial && c.Simulated == caps.Simulated &&
		c.Jig.Model == caps.Model && c.Jig.Firmware == caps.Firmware && bytes.Equal(c.States, states)
}

// Caps are what the jig stated when it was begun.
func (c Commissioning) Caps() (caps fixture.Capabilities) {
	_ = json.Unmarshal(c.States, &caps) // written by statesOf
	return caps
}

// statesOf is what a jig says of itself but for what changes from day to day.
func statesOf(caps fixture.Capabilities) ([]byte, error) {
	caps.Adapter, caps.Presses, caps.Matings = "", 0, 0
	return json.Marshal(caps)
}

// BeginCommissioning stores that one of a jig was begun, from which on nothing is added to those
// before.
func (s *Records) BeginCommissioning(ctx context.Context, caps fixture.Capabilities, by string) (Commissioning, error) {
	states, err := statesOf(caps)
	switch {
	case err != nil:
		return Commissioning{}, err
	case caps.Serial == "":
		return Commissioning{}, fmt.Errorf("%w: the jig has no serial number", store.ErrRefused)
	}
	now, here := s.db.Now(), store.ThisStation()
	c := Commissioning{ID: store.NextID(now, store.ID{}), Jig: sequence.NameOf(caps), Simulated: caps.Simulated, States: states, By: by, Begun: now.UTC()}
	c.Jig.Adapter = ""
	c.Number, err = s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		after, err := newestOf(ctx, tx)
		e := store.Entry{Table: "commissioning"}
		e.Set("id", c.ID)
		e.Set("jig", caps.Serial)
		e.Set("model", caps.Model)
		e.Set("firmware", caps.Firmware)
		e.Set("simulated", caps.Simulated)
		e.Set("states", string(states))
		e.Set("software", here.Software)
		e.Set("host", here.Host)
		e.Set("boot_id", here.BootID)
		e.Set("after_run", after)
		e.Set("by", by)
		e.Set("at_us", now)
		return []store.Entry{e}, err
	})
	if err != nil {
		return Commissioning{}, fmt.Errorf("begin the commissioning of jig %q in %s: %w", caps.Serial, s.db.Path(), err)
	}
	return c, nil
}

func newestOf(ctx context.Context, tx *sql.Tx) (seq int64, err error) {
	return seq, tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&seq)
}

// AddCommissionStep stores how a step of a commissioning ended and returns only when that will
// survive a power cut.
func (s *Records) AddCommissionStep(ctx context.Context, c Commissioning, r commission.Result, by string) (CommissionStep, error) {
	for _, f := range r.Figures {
		if v := f.Value + f.Limit; math.IsNaN(v) || math.IsInf(v, 0) {
			return CommissionStep{}, fmt.Errorf("%w: step %s has a figure that is no number: %s %d", store.ErrRefused, r.Step, f.Of, f.At)
		}
	}
	figures, err := json.Marshal(append([]commission.Figure{}, r.Figures...))
	if err != nil {
		return CommissionStep{}, err
	}
	why := ""
	if r.Why.Code != "" {
		text, err := json.Marshal(r.Why)
		if err != nil {
			return CommissionStep{}, err
		}
		why = string(text)
	}
	now := s.db.Now()
	_, err = s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		var later int64
		err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM commissioning WHERE jig = ? AND simulated = ?`,
			c.Jig.Serial, c.Simulated).Scan(&later)
		if err == nil && later != c.Number {
			err = ErrOvertaken
		}
		e := store.Entry{Table: "commissioning_step"}
		e.Set("commissioning", c.Number)
		e.Set("step", string(r.Step))
		e.Set("outcome", string(r.Outcome))
		e.Set("why", why)
		e.Set("figures", string(figures))
		e.Set("by", by)
		e.Set("at_us", now)
		return []store.Entry{e}, err
	})
	if err != nil {
		return CommissionStep{}, fmt.Errorf("save the step %s of commissioning %d of jig %q in %s: %w", r.Step, c.Number, c.Jig.Serial, s.db.Path(), err)
	}
	return CommissionStep{r, by, now.UTC()}, nil
}

// Commissionings gives all of a jig, oldest first; simulated and real ones are kept apart.
func (s *Records) Commissionings(ctx context.Context, jig string, simulated bool) (list []Commissioning, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up commissionings of jig %q", jig), func(tx *sql.Tx) error {
		list, err = store.Collect(ctx, tx, scanCommissioning, `
			SELECT seq, id, jig, model, firmware, simulated, states, by, at_us FROM commissioning
			WHERE jig = ? AND simulated = ? ORDER BY after_run, seq`, jig, simulated)
		for i := range list {
			if err == nil {
				list[i].Steps, err = store.Collect(ctx, tx, scanCommissionStep, `
					SELECT step, outcome, why, figures, by, at_us FROM commissioning_step WHERE commissioning = ? ORDER BY seq`, list[i].Number)
			}
		}
		return err
	})
	return list, err
}

func scanCommissioning(rows *sql.Rows) (c Commissioning, err error) {
	var states string
	err = rows.Scan(&c.Number, &c.ID, &c.Jig.Serial, &c.Jig.Model, &c.Jig.Firmware, &c.Simulated, &states, &c.By, store.Time(&c.Begun))
	c.States = []byte(states)
	return c, err
}

func scanCommissionStep(rows *sql.Rows) (s CommissionStep, err error) {
	var why, figures string
	if err := rows.Scan(&s.Step, &s.Outcome, &why, &figures, &s.By, store.Time(&s.At)); err != nil {
		return s, err
	}
	if why != "" {
		err = json.Unmarshal([]byte(why), &s.Why)
	}
	return s, errors.Join(err, json.Unmarshal([]byte(figures), &s.Figures))
}

// CommissionStatus is how a jig stands with its commissioning.
type CommissionStatus string

// The statuses.
const (
	Commissioned     CommissionStatus = "good"
	CommissionNever  CommissionStatus = "never"
	CommissionOpen   CommissionStatus = "unfinished"
	CommissionFailed CommissionStatus = "failed"
	CommissionBoard  CommissionStatus = "other board"    // another model or revision was commissioned
	CommissionOther  CommissionStatus = "other firmware" // as it was when it was commissioned
)

// CommissionState is how a jig stands with its commissioning.
type CommissionState struct {
	Status  CommissionStatus
	Last    *Commissioning    // nil: never
	Missing []commission.Step // that have not been passed
}

// CommissionState gives how a jig as it last stated itself stands; the newest one counts.
func (s *Records) CommissionState(ctx context.Context, jig sequence.JigName, simulated bool) (CommissionState, error) {
	list, err := s.Commissionings(ctx, jig.Serial, simulated)
	if err != nil || len(list) == 0 {
		return CommissionState{Status: CommissionNever}, err
	}
	last := &list[len(list)-1]
	out := CommissionState{Status: Commissioned, Last: last, Missing: last.Progress().Missing(last.Caps())}
	progress := last.Progress()
	switch {
	case jig.Model != "" && jig.Model != last.Jig.Model:
		out.Status = CommissionBoard
	case jig.Firmware != "" && jig.Firmware != last.Jig.Firmware:
		out.Status = CommissionOther
	case slices.ContainsFunc(out.Missing, func(step commission.Step) bool { return progress[step] == commission.Fail }):
		out.Status = CommissionFailed
	case len(out.Missing) > 0:
		out.Status = CommissionOpen
	}
	return out, nil
}

package care

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"time"

	"padjig/fixture/quantity"
	"padjig/results/store"
	"padjig/sequence"
)

// selfTestRow is a self-test as it is stored with a verification.
type selfTestRow struct {
	Taken  int64          `json:"taken_us"`
	Checks []checkReadRow `json:"checks"`
	Ground [2]float64     `json:"ground"` // as a part of Vref, with its standard uncertainty, as the next
	Vref   [2]float64     `json:"vref"`
	Input  [2]float64     `json:"input_a"` // of one input, in ampere; nothing where they were not read
	Fed    int            `json:"inputs"`  // that were read together
	Noise  float64        `json:"noise"`   // standard deviation of one conversion, as a part of Vref
}

type checkReadRow struct {
	Reference float64 `json:"reference_ohm"`
	Check     float64 `json:"check_ohm"`
	Ohm       float64 `json:"ohm"`
	U         float64 `json:"u_ohm"`
}

func toSelfTest(s *sequence.SelfTest) *selfTestRow {
	if s == nil || len(s.Checks) == 0 {
		return nil
	}
	own := s.Own
	return &selfTestRow{
		Taken: s.Taken.UnixMicro(),
		Checks: store.Each(s.Checks, func(c sequence.CheckRead) checkReadRow {
			return checkReadRow{float64(c.Reference), float64(c.Check), float64(c.Ohm), float64(c.U)}
		}),
		Ground: [2]float64{own.Ground.Value, own.Ground.U}, Vref: [2]float64{own.Vref.Value, own.Vref.U},
		Input: [2]float64{float64(own.Input.Value), float64(own.Input.U)}, Fed: own.Input.Fed, Noise: own.Noise.Deviation,
	}
}

// of is the self-test of the jig with a serial number; nil where none was kept.
func (r *selfTestRow) of(serial string) *sequence.SelfTest {
	if r == nil {
		return nil
	}
	return &sequence.SelfTest{
		Jig: serial, Taken: time.UnixMicro(r.Taken).UTC(),
		Checks: store.Each(r.Checks, func(c checkReadRow) sequence.CheckRead {
			return sequence.CheckRead{
				Reference: quantity.Ohm(c.Reference), Check: quantity.Ohm(c.Check), Ohm: quantity.Ohm(c.Ohm), U: quantity.Ohm(c.U),
			}
		}),
	}
}

func (r *selfTestRow) column() (*string, error) {
	if r == nil {
		return nil, nil
	}
	text, err := json.Marshal(r)
	return new(string(text)), err
}

// Verified is what a jig read of itself at its last good verification; nil where there is none,
// or it was not kept then.
func (s *Records) Verified(ctx context.Context, jig string, simulated bool) (*sequence.SelfTest, error) {
	last, err := s.LastGood(ctx, jig, sequence.KindVerify, simulated)
	if last == nil {
		return nil, err
	}
	return last.SelfTest, err
}

// SelfTests is what the newest runs on a jig say of its self-test. Readings that were good are
// not on record: a run that went on had one.
type SelfTests struct {
	Runs    int
	Stopped int           // by the self-test
	Last    time.Time     // when the newest of them was
	Why     sequence.Said // and what it read
}

// selfTested are the newest runs that are looked at: some weeks of a line that reseats now and
// then, and few enough to be read at once.
const selfTested = 1000

// SelfTests looks at the newest runs on a jig, whatever they were for.
func (s *Records) SelfTests(ctx context.Context, jig string, simulated bool) (out SelfTests, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the self-tests of jig %s", jig), func(tx *sql.Tx) error {
		const newest = ` FROM (SELECT seq, started_us, ended FROM run WHERE jig IN (SELECT jig FROM jig WHERE serial = ?) AND simulated = ?
			ORDER BY seq DESC LIMIT ?) AS newest`
		stopped, err := json.Marshal(sequence.SelfTestFaults())
		if err != nil {
			return err
		}
		args := []any{jig, simulated, selfTested}
		if err := tx.QueryRowContext(ctx, `SELECT count(*), count(CASE WHEN ended ->> '$[0]' IN (SELECT value FROM json_each(?)) THEN 1 END)`+newest,
			append([]any{string(stopped)}, args...)...).Scan(&out.Runs, &out.Stopped); err != nil || out.Stopped == 0 {
			return err
		}
		err = tx.QueryRowContext(ctx, `SELECT started_us, ended`+newest+` WHERE ended ->> '$[0]' IN (SELECT value FROM json_each(?)) ORDER BY seq DESC LIMIT 1`,
			append(args, string(stopped))...).Scan(store.Time(&out.Last), store.JSON(&out.Why))
		if errors.Is(err, sql.ErrNoRows) {
			return nil
		}
		return err
	})
	return out, err
}

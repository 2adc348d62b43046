package studies

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/definition"
	"padjig/results/lines"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// Across is what a gauge study compares besides the parts.
type Across string

// What can be compared.
const (
	AcrossJigs      Across = "jig"
	AcrossOperators Across = "operator"
)

// Planned is one reading of a gauge study: indices from 0.
type Planned struct{ Part, Appraiser, Repeat int }

// Study is a gauge study: the same parts measured again and again by several
// jigs or operators, in an order drawn before the first reading. Its runs are
// no production: neither attempts nor yield.
type Study struct {
	Number     int64
	Product    string // code
	Revision   string // label
	Hash       string // of the product revision
	Across     Across
	Parts      []string // serial numbers
	Appraisers []string // serial numbers of jigs, or names of operators
	Repeats    int
	Plan       []Planned // in the order of measuring
	Seed       uint64    // the order was drawn with it
	Note       string
	By         string
	At         time.Time // set by the store
	Readings   []StudyReading
}

// StudyReading is a reading that was taken.
type StudyReading struct {
	Place     int // in the plan, from 0
	Run       store.ID
	Outcome   sequence.Outcome
	Simulated bool
}

// Simulated reports whether the study is on simulated jigs.
func (s Study) Simulated() bool { return len(s.Readings) > 0 && s.Readings[0].Simulated }

// Complete reports whether every reading was taken.
func (s Study) Complete() bool { return len(s.Readings) == len(s.Plan) }

// Next is the place of the next reading of an appraiser, or of anybody for "".
// It is not ok when all were taken.
func (s Study) Next(appraiser string) (place int, ok bool) {
	taken := map[int]bool{}
	for _, r := range s.Readings {
		taken[r.Place] = true
	}
	for place, p := range s.Plan {
		if !taken[place] && (appraiser == "" || s.Appraisers[p.Appraiser] == appraiser) {
			return place, true
		}
	}
	return 0, false
}

// ErrStudy is returned for a study that cannot be, or a reading it does not plan.
var ErrStudy = errors.New("the gauge study does not hold together")

// check names everything wrong with a study to be stored.
func (s Study) check() error {
	var wrong []error
	note := func(is bool, format string, args ...any) {
		if is {
			wrong = append(wrong, fmt.Errorf(format, args...))
		}
	}
	note(s.Across != AcrossJigs && s.Across != AcrossOperators, "across %q: it compares jigs or operators", s.Across)
	note(s.By == "", "nobody is named who plans it")
	for what, list := range map[string][]string{"parts": s.Parts, "appraisers": s.Appraisers} {
		note(len(list) < 2, "%d %s, at least 2 are needed", len(list), what)
		for i, name := range list {
			note(name == "" || slices.Contains(list[:i], name), "%q stands twice among the %s, or is empty", name, what)
		}
	}
	note(s.Repeats < 2, "%d repeats, at least 2 are needed", s.Repeats)
	note(!s.planned(), "the plan does not hold each reading once")
	if wrong != nil {
		return fmt.Errorf("%w: %w", ErrStudy, errors.Join(wrong...))
	}
	return nil
}

// planned reports whether the plan holds every reading once.
func (s Study) planned() bool {
	seen := map[Planned]bool{}
	for _, p := range s.Plan {
		in := p.Part >= 0 && p.Part < len(s.Parts) && p.Appraiser >= 0 && p.Appraiser < len(s.Appraisers) &&
			p.Repeat >= 0 && p.Repeat < s.Repeats
		if !in || seen[p] {
			return false
		}
		seen[p] = true
	}
	return len(seen) == len(s.Parts)*len(s.Appraisers)*s.Repeats
}

// PlanStudy stores a study before its first reading and gives it its number.
// What cannot be a study is an [ErrStudy] that names everything wrong.
func (s *Records) PlanStudy(ctx context.Context, rev runs.Revision, study Study) (Study, error) {
	if err := study.check(); err != nil {
		return Study{}, err
	}
	study.At = s.db.Now().UTC().Truncate(time.Microsecond)
	number, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		if err := runs.LabelFree(ctx, tx, rev); err != nil {
			return nil, err
		}
		revision, err := rev.Number(store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}})
		if err != nil {
			return nil, err
		}
		e, err := study.entry(revision)
		return []store.Entry{e}, err
	})
	if err != nil {
		return Study{}, fmt.Errorf("store a gauge study in %s: %w", s.db.Path(), store.Remedy(err))
	}
	study.Number, study.Product, study.Revision, study.Hash = number, rev.Code, rev.Label, rev.Hash
	return study, nil
}

func (s Study) entry(revision int64) (store.Entry, error) {
	plan := make([][3]int, len(s.Plan))
	for i, p := range s.Plan {
		plan[i] = [3]int{p.Part, p.Appraiser, p.Repeat}
	}
	e := store.Entry{Table: "gauge_study"}
	e.Set("revision", revision)
	e.Set("across", string(s.Across))
	var failed error
	for _, list := range []struct {
		name string
		of   any
	}{{"parts", s.Parts}, {"appraisers", s.Appraisers}, {"repeats", s.Repeats}, {"plan", plan}} {
		if n, number := list.of.(int); number {
			e.Set(list.name, n)
			continue
		}
		text, err := json.Marshal(list.of)
		failed = errors.Join(failed, err)
		e.Set(list.name, string(text))
	}
	e.Set("seed", int64(s.Seed))
	e.Set("note", s.Note)
	e.Set("by", s.By)
	e.Set("at_us", s.At)
	return e, failed
}

// AddReading records that a stored run is the reading at a place of a study's
// plan. The run must be of the study's revision, part and appraiser and have
// come to a verdict.
func (s *Records) AddReading(ctx context.Context, study int64, place int, run store.ID) error {
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		var seq int64
		found, err := store.RowOf(ctx, tx, `SELECT seq FROM run WHERE id = ?`, []any{run}, &seq)
		if err == nil && !found {
			err = store.ErrNotFound
		}
		e := store.Entry{Table: "gauge_reading"}
		e.Set("study", study)
		e.Set("place", place)
		e.Set("run", seq)
		return []store.Entry{e}, err
	})
	if err != nil {
		return fmt.Errorf("record reading %d of gauge study %d in %s: %w", place+1, study, s.db.Path(), store.Remedy(err))
	}
	return nil
}

// Taken reports whether a run is a reading: one with a verdict.
func Taken(run runs.Stored) bool { return run.Outcome == sequence.Pass || run.Outcome == sequence.Fail }

// KeepReading records a stored run as the reading at a place of a study's plan, where it is one;
// of any other the place stays open.
func (s *Records) KeepReading(ctx context.Context, study int64, place int, run runs.Stored) error {
	if !Taken(run) {
		return nil
	}
	return s.AddReading(ctx, study, place, run.ID)
}

// Appraiser is who measures where a person and a jig do: whichever is compared. It is not
// planned when the study compares others.
func (s Study) Appraiser(jig, operator string) (name string, planned bool) {
	name = jig
	if s.Across == AcrossOperators {
		name = operator
	}
	return name, slices.Contains(s.Appraisers, name)
}

// Checks are how the records of studies are looked at.
func Checks() []store.Check { return []store.Check{store.Entries("gauge_study", "gauge_reading")} }

// Study gives a study with the readings taken so far; [ErrNotFound] when there
// is none of the number.
func (s *Records) Study(ctx context.Context, number int64) (study Study, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up gauge study %d", number), func(tx *sql.Tx) error {
		list, err := studies(ctx, tx, `WHERE gauge_study.seq = ?`, number)
		if err == nil && len(list) == 0 {
			err = store.ErrNotFound
		}
		if err != nil {
			return err
		}
		study = list[0]
		study.Readings, err = store.Collect(ctx, tx, func(rows *sql.Rows) (r StudyReading, err error) {
			return r, rows.Scan(&r.Place, &r.Run, &r.Outcome, &r.Simulated)
		}, `SELECT place, id, outcome, simulated FROM gauge_reading JOIN run ON run.seq = gauge_reading.run
		    WHERE study = ? ORDER BY place`, number)
		return err
	})
	return study, err
}

// Studies lists all studies, newest first, each with its readings.
func (s *Records) Studies(ctx context.Context) ([]Study, error) {
	numbers, err := store.List(ctx, s.db, "look up gauge studies", store.ScanInt, `SELECT seq FROM gauge_study ORDER BY seq DESC`)
	if err != nil {
		return nil, err
	}
	list := make([]Study, len(numbers))
	for i, n := range numbers {
		if list[i], err = s.Study(ctx, n); err != nil {
			return nil, err
		}
	}
	return list, nil
}

func studies(ctx context.Context, tx *sql.Tx, where string, args ...any) ([]Study, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (s Study, err error) {
		var seed int64
		var triples [][3]int
		err = rows.Scan(&s.Number, &s.Product, &s.Revision, &s.Hash, &s.Across, store.JSON(&s.Parts), store.JSON(&s.Appraisers), &s.Repeats,
			store.JSON(&triples), &seed, &s.Note, &s.By, store.Time(&s.At))
		s.Seed = uint64(seed)
		for _, t := range triples {
			s.Plan = append(s.Plan, Planned{t[0], t[1], t[2]})
		}
		return s, err
	}, `SELECT gauge_study.seq, code, label, revision.hash, across, parts, appraisers, repeats, plan, seed, note, by, at_us
	    FROM gauge_study JOIN revision USING (revision) `+where, args...)
}

// KeyLimits gives the limits of each key of a stored revision in the unit of
// the measure, 0 for none; [ErrNotFound] when there is no such revision.
func (s *Records) KeyLimits(ctx context.Context, hash string, m lines.Measure) (map[string][2]float64, error) {
	limits := map[string][2]float64{}
	err := s.db.Ask(ctx, "look up the limits of a revision", func(tx *sql.Tx) error {
		var stored []byte
		found, err := store.RowOf(ctx, tx, `SELECT definition FROM revision WHERE hash = ?`, []any{hash}, &stored)
		if err == nil && !found {
			err = store.ErrNotFound
		}
		for _, k := range definition.Keys(stored) {
			limits[k.Label] = m.LimitsOf(k)
		}
		return err
	})
	return limits, err
}

package releases

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"time"
	"unicode"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// Proposal asks that a revision of a product be in force.
type Proposal struct {
	Code, Label, Hash string
	Back              bool   // to a revision that was in force before
	Source            string // the product file, whole
	By, Reason        string
	FromSerial        string // of the first unit that may be tested by it; a loosening has to say
	Trial             Tried  // what it would have done to runs of before

	Seq     int64 // the following when read
	Base    int64 // number of the release that was in force then, 0: none
	Against string
	// Elsewhere is what stations test by, for an office that released nothing of the product yet: it is
	// compared with where these records have nothing, so that what lets more through needs two people
	// there too. Nil at a station.
	Elsewhere *product.Product
	Loosens   bool
	Changes   []revise.Change // against what was in force
	AfterRun  int64
	At        time.Time
	Approved  string // by whom; empty: by nobody
	Released  int64  // number of its release, 0: it is not in force and was not
	Withdrawn
}

// Withdrawn is that somebody took a proposal back; by nobody where it was not.
type Withdrawn struct {
	WithdrawnBy, Why string
	WithdrawnAt      time.Time
}

// waits reports whether a second person has yet to approve it.
func (p Proposal) waits() bool { return p.Loosens && p.Released == 0 && p.WithdrawnBy == "" }

// Tried is what a revision would have done to runs of before, in figures.
type Tried struct {
	Units      int              `json:"units"` // judged anew; 0: there were none
	Simulated  bool             `json:"simulated,omitempty"`
	Rejects    []string         `json:"pass_to_fail"` // serial numbers
	LetThrough []string         `json:"fail_to_pass"`
	Unsure     int              `json:"unsure"` // units with a key that cannot be judged anew, or that a test would read again
	References []TriedReference `json:"references"`
	Blind      []revise.Change  `json:"not_shown"` // changes that do not show in runs of before
}

// TriedReference is how a reference unit would end by the revision.
type TriedReference struct {
	Unit  string `json:"unit"`
	Tried bool   `json:"tried"` // there is a run of it
	Shows bool   `json:"shows"` // what it must
}

// ShortestReason is in characters: "retest" says nothing.
const ShortestReason = 8

// Sensible reports whether a reason can be one: long enough, and not a key held down.
func Sensible(reason string) bool {
	letters := map[rune]bool{}
	for _, r := range strings.ToLower(reason) {
		if unicode.IsLetter(r) || unicode.IsDigit(r) {
			letters[r] = true
		}
	}
	const variety = 4
	return len([]rune(strings.TrimSpace(reason))) >= ShortestReason && len(letters) >= variety
}

// Code names why something about a release is refused.
type Code string

// The codes, each with its arguments.
const (
	NoReason     Code = "no reason"      // shortest
	NoSerial     Code = "no serial"      // what was given, an example
	Yourself     Code = "same person"    // who
	NotTheirRole Code = "not their role" // who
	OwnAccount   Code = "own account"    // whose, who made it
	OtherText    Code = "other text"     // label, hash that was given, hash that was proposed
	Overtaken    Code = "overtaken"      // label
	NothingAsked Code = "nothing asked"  // product
	NotEngineer  Code = "not engineer"   // who
	OfPlant      Code = "of the plant"   // product
)

// Refused says why a proposal or an approval is refused.
type Refused struct {
	Code Code
	Args []string
}

func (r *Refused) Error() string {
	return fmt.Sprintf("release refused: %s", strings.Join(append([]string{string(r.Code)}, r.Args...), ", "))
}

func refuse(code Code, args ...string) error { return &Refused{code, args} }

// Propose records a proposal, and puts it in force at once where it lets no more through
// than what is in force. A text that is not the revision it is said to be is refused, and
// with a [*runs.LabelTaken] one whose label is known with another definition. Only a
// release of before, to which one goes back, may be in the words of before.
func (s *Records) Propose(ctx context.Context, p Proposal) (Proposal, error) {
	of, err := p.product()
	if err == nil && !p.Back {
		_, err = product.Parse(p.Code, []byte(p.Source))
	}
	if err != nil {
		return p, err
	}
	if !Sensible(p.Reason) {
		return p, refuse(NoReason, fmt.Sprint(ShortestReason))
	}
	err = s.db.Save(ctx, fmt.Sprintf("save release of %s", p.Code), func(tx *sql.Tx) error {
		if err := ofPlant(ctx, tx, p.Code); err != nil {
			return err
		}
		rev := runs.Revision{Code: p.Code, Label: p.Label, Hash: p.Hash, Definition: of.Canonical()}
		if err := runs.LabelFree(ctx, tx, rev); err != nil {
			return err
		}
		before, err := base(ctx, tx, &p)
		if err != nil {
			return err
		}
		if before == nil {
			before = p.Elsewhere
		}
		p.compare(before, of)
		if err := p.serial(of); err != nil {
			return err
		}
		if err := s.insert(ctx, tx, &p); err != nil || p.Loosens {
			return err
		}
		return s.release(ctx, tx, &p)
	})
	return p, err
}

// product reads the file that is proposed, held against what is said beside it.
func (p Proposal) product() (*product.Product, error) {
	return runs.Release{Seq: p.Released, Code: p.Code, Label: p.Label, Hash: p.Hash, Source: p.Source}.Product()
}

func (p *Proposal) compare(before, of *product.Product) {
	p.Changes = []revise.Change{}
	if before != nil {
		p.Changes = append(p.Changes, revise.Between(before, of)...)
	}
	p.Loosens = revise.NeedsTwo(p.Changes)
}

// serial checks from which unit on a loosening holds. What loosens nothing holds for all.
func (p *Proposal) serial(of *product.Product) error {
	if !p.Loosens {
		p.FromSerial = ""
		return nil
	}
	_, reference := of.Reference(p.FromSerial)
	if p.FromSerial == "" || reference || of.Serial.Check(p.FromSerial) != nil {
		return refuse(NoSerial, p.FromSerial, of.Serial.Example())
	}
	return nil
}

// base finds what is in force, or what was tested last where nothing was ever released.
// Real runs come before simulated ones.
func base(ctx context.Context, tx *sql.Tx, p *Proposal) (*product.Product, error) {
	found, err := store.RowOf(ctx, tx, `SELECT seq, hash FROM release WHERE code = ? ORDER BY seq DESC LIMIT 1`, []any{p.Code}, &p.Base, &p.Against)
	if err == nil && !found {
		_, err = store.RowOf(ctx, tx, `
			SELECT revision.hash FROM cell JOIN revision USING (revision)
			WHERE code = ? AND purpose = '' AND runs > 0 ORDER BY simulated, last_run DESC LIMIT 1`, []any{p.Code}, &p.Against)
	}
	if err != nil {
		return nil, err
	}
	return definitionOf(ctx, tx, p.Code, p.Against)
}

// definitionOf finds a product by its hash, nil for none.
func definitionOf(ctx context.Context, tx *sql.Tx, code, hash string) (*product.Product, error) {
	if hash == "" {
		return nil, nil
	}
	var seq int64
	var label, source string
	found, err := store.RowOf(ctx, tx, `SELECT seq, label, source FROM release WHERE code = ? AND hash = ? ORDER BY seq DESC LIMIT 1`,
		[]any{code, hash}, &seq, &label, &source)
	if err != nil {
		return nil, err
	}
	if found {
		return runs.Release{Seq: seq, Code: code, Label: label, Hash: hash, Source: source}.Product()
	}
	var title, definition string
	found, err = store.RowOf(ctx, tx, `SELECT title, label, definition FROM revision WHERE code = ? AND hash = ? LIMIT 1`,
		[]any{code, hash}, &title, &label, &definition)
	if err != nil || !found {
		return nil, errors.Join(err, fmt.Errorf("%w: definition %.12s of %s is not in the records", runs.ErrReleaseAltered, hash, code))
	}
	of, err := product.Restore([]byte(definition), title, label)
	if err == nil && of.Hash() != hash {
		err = fmt.Errorf("%w: definition %.12s of %s", runs.ErrReleaseAltered, hash, code)
	}
	return of, err
}

// Against gives what a proposal of a product is held against, nil for nothing: what is in
// force, or what was tested last where nothing was ever released.
func (s *Records) Against(ctx context.Context, code string) (before *product.Product, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up what is in force of %s", code), func(tx *sql.Tx) (err error) {
		before, err = base(ctx, tx, &Proposal{Code: code})
		return err
	})
	return before, err
}

// FirstTested gives the first unit that was tested by a release for production, empty for none yet.
func (s *Records) FirstTested(ctx context.Context, r runs.Release) (serial string, err error) {
	err = s.db.Ask(ctx, "look up the first unit of a release", func(tx *sql.Tx) error {
		_, err := store.RowOf(ctx, tx, `
			SELECT run.serial FROM run JOIN revision USING (revision)
			WHERE run.seq > ? AND run.purpose = '' AND revision.code = ? AND revision.hash = ? ORDER BY run.seq LIMIT 1`,
			[]any{r.AfterRun, r.Code, r.Hash}, &serial)
		return err
	})
	return serial, err
}

package releases

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strings"

	"padjig/results/accounts"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/revise"
)

// insert writes a proposal down.
func (s *Records) insert(ctx context.Context, tx *sql.Tx, p *Proposal) error {
	changes, err := json.Marshal(p.Changes)
	if err != nil {
		return err
	}
	trial, err := json.Marshal(p.Trial)
	if err != nil {
		return err
	}
	var run, account int64
	if err := tx.QueryRowContext(ctx, `SELECT (SELECT coalesce(max(seq), 0) FROM run), (SELECT coalesce(max(seq), 0) FROM account_event)`).
		Scan(&run, &account); err != nil {
		return err
	}
	p.At, p.AfterRun = s.db.Now(), run
	e := store.Entry{Table: "release_proposal"}
	e.Set("code", p.Code)
	e.Set("label", p.Label)
	e.Set("revision", p.Hash)
	e.Set("kind", p.kind())
	e.Set("source", p.Source)
	e.Set("by", p.By)
	e.Set("reason", p.Reason)
	e.Set("from_serial", p.FromSerial)
	e.Set("base", p.Base)
	e.Set("against", p.Against)
	e.Set("loosens", p.Loosens)
	e.Set("changes", string(changes))
	e.Set("trial", string(trial))
	e.Set("after_run", run)
	e.Set("after_account", account)
	e.Set("at_us", p.At)
	p.Seq, err = e.Insert(ctx, tx)
	return err
}

func (p Proposal) kind() string { return map[bool]string{false: "release", true: "back"}[p.Back] }

// release puts a proposal in force.
func (s *Records) release(ctx context.Context, tx *sql.Tx, p *Proposal) error {
	return tx.QueryRowContext(ctx, `
		INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us, proposal)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM release), ?, ?, ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ? RETURNING seq`,
		p.Code, p.Label, p.Hash, p.kind(), p.Source, p.By, p.Reason, s.db.Now().UnixMicro(), p.Seq).Scan(&p.Released)
}

// Approve puts the open proposal of a product in force. Whoever approves says what they
// looked at, see [Proposal.Look], so that nothing else is approved than that.
func (s *Records) Approve(ctx context.Context, code, look, by string) (Proposal, error) {
	var p Proposal
	err := s.db.Save(ctx, fmt.Sprintf("save approval of a release of %s", code), func(tx *sql.Tx) error {
		var err error
		if p, err = lookedAt(ctx, tx, code, look); err != nil {
			return err
		}
		if err := p.approvable(ctx, tx, by); err != nil {
			return err
		}
		e := store.Entry{Table: "release_approval"}
		e.Set("proposal", p.Seq)
		e.Set("revision", p.Hash)
		e.Set("by", by)
		e.Set("at_us", s.db.Now())
		if _, err := e.Insert(ctx, tx); err != nil {
			return err
		}
		p.Approved = by
		return s.release(ctx, tx, &p)
	})
	return p, err
}

// lookedAt is the open proposal of a product, which has to be the one that somebody looked at.
func lookedAt(ctx context.Context, tx *sql.Tx, code, look string) (Proposal, error) {
	list, err := proposals(ctx, tx, code)
	if err != nil {
		return Proposal{}, err
	}
	if len(list) == 0 || !list[0].waits() {
		return Proposal{}, refuse(NothingAsked, code)
	}
	return list[0], list[0].isLookedAt(look, list[1:])
}

// shortestHash is how much of a hash has to be said: what padjig shows of one.
const shortestHash = 12

// Look says what somebody looks at: how the hash of the text begins, and which proposal of it.
func (p Proposal) Look() string { return fmt.Sprintf("%s.%d", p.Hash[:shortestHash], p.Seq) }

// isLookedAt refuses what was not looked at: another text, or the same one as it was proposed
// before, perhaps from another serial number on. Without the number of the proposal the hash
// has to be that of one alone.
func (p Proposal) isLookedAt(look string, before []Proposal) error {
	hash, number, numbered := strings.Cut(look, ".")
	other := len(hash) < shortestHash || !strings.HasPrefix(p.Hash, hash) || numbered && number != fmt.Sprint(p.Seq)
	again := func(q Proposal) bool { return q.Hash == p.Hash && q.Base == p.Base }
	if other || !numbered && slices.ContainsFunc(before, again) {
		return refuse(OtherText, p.Label, look, p.Look())
	}
	return nil
}

// roleOf is what somebody may, empty for nothing: there is no such account, or it is locked.
func roleOf(ctx context.Context, tx *sql.Tx, name string) (role string, err error) {
	var lock string
	if _, err = store.RowOf(ctx, tx, `SELECT kind FROM account_lock WHERE name = ? ORDER BY seq DESC LIMIT 1`, []any{name}, &lock); err != nil {
		return "", err
	}
	if lock == string(accounts.AccountLocked) {
		return "", nil
	}
	_, err = store.RowOf(ctx, tx, `
		SELECT role FROM account_event WHERE name = ? AND kind IN ('role', 'closed') ORDER BY seq DESC LIMIT 1`, []any{name}, &role)
	return role, err
}

// approvable says in words what the triggers would refuse, and forms anew what is approved.
func (p Proposal) approvable(ctx context.Context, tx *sql.Tx, by string) error {
	of, err := p.product()
	if err != nil {
		return err
	}
	if err := runs.LabelFree(ctx, tx, runs.Revision{Code: p.Code, Label: p.Label, Hash: p.Hash, Definition: of.Canonical()}); err != nil {
		return err
	}
	if accounts.SamePerson(p.By, by) {
		return refuse(Yourself, by)
	}
	role, err := roleOf(ctx, tx, by)
	if err != nil {
		return err
	}
	if role != "quality" && role != "engineer" {
		return refuse(NotTheirRole, by)
	}
	for _, pair := range [][2]string{{by, p.By}, {p.By, by}} {
		if made, err := madeBy(ctx, tx, pair[0], pair[1]); err != nil || made {
			return errors.Join(err, refuse(OwnAccount, pair[0], pair[1]))
		}
	}
	var moved bool
	err = tx.QueryRowContext(ctx, `SELECT ? IS NOT (SELECT coalesce(max(seq), 0) FROM release WHERE code = ?)`, p.Base, p.Code).Scan(&moved)
	if err == nil && moved {
		err = refuse(Overtaken, p.Label)
	}
	return err
}

// madeBy reports whether an account was made by somebody, or has a password or a badge of
// theirs, however long ago. Before it was closed last does not count: it was made anew.
// A trigger on approvals holds the same.
func madeBy(ctx context.Context, tx *sql.Tx, name, by string) (bool, error) {
	makers, err := store.Collect(ctx, tx, store.ScanText, `
		SELECT DISTINCT by FROM account_event
		WHERE name = ?1 AND seq > (SELECT coalesce(max(seq), 0) FROM account_event WHERE name = ?1 AND kind = 'closed')`, name)
	return slices.ContainsFunc(makers, func(maker string) bool { return accounts.SamePerson(maker, by) }), err
}

// May gives who may approve an open proposal, by name.
func (s *Records) May(ctx context.Context, p Proposal) (names []string, err error) {
	err = s.db.Ask(ctx, "look up who may approve", func(tx *sql.Tx) error {
		all, err := store.Collect(ctx, tx, store.ScanText, `SELECT DISTINCT name FROM account_event ORDER BY name`)
		for _, name := range all {
			refused := p.approvable(ctx, tx, name)
			if _, is := errors.AsType[*Refused](refused); refused != nil && !is {
				return refused
			}
			if refused == nil {
				names = append(names, name)
			}
		}
		return err
	})
	return names, err
}

// Proposals gives the proposals of a product, newest first.
func (s *Records) Proposals(ctx context.Context, code string) (list []Proposal, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("list the proposals of %s", code), func(tx *sql.Tx) (err error) {
		list, err = proposals(ctx, tx, code)
		return err
	})
	return list, err
}

// Open gives the proposal of a product that waits for a second person, nil for none.
func (s *Records) Open(ctx context.Context, code string) (*Proposal, error) {
	list, err := s.Proposals(ctx, code)
	if err != nil || len(list) == 0 || !list[0].waits() {
		return nil, err
	}
	in, err := s.runs.Releases(ctx, code)
	if err != nil || len(in) > 0 && in[0].Seq != list[0].Base {
		return nil, err // something else was released since
	}
	return &list[0], nil
}

func proposals(ctx context.Context, tx *sql.Tx, code string) ([]Proposal, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (p Proposal, err error) {
		return p, rows.Scan(&p.Seq, &p.Code, &p.Label, &p.Hash, &p.Back, &p.Source, &p.By, &p.Reason, &p.FromSerial, &p.Base,
			&p.Against, &p.Loosens, store.JSON(&p.Changes), store.JSON(&p.Trial), &p.AfterRun, store.Time(&p.At), &p.Approved, &p.Released,
			&p.WithdrawnBy, &p.Why, store.Time(&p.WithdrawnAt))
	}, `SELECT asked.seq, asked.code, asked.label, asked.revision, asked.kind = 'back', asked.source, asked.by, asked.reason,
	           asked.from_serial, base, against, loosens, changes, trial, asked.after_run, asked.at_us, coalesce(approval.by, ''),
	           coalesce(release.seq, 0), coalesce(taken.by, ''), coalesce(taken.reason, ''), coalesce(taken.at_us, 0)
	    FROM release_proposal AS asked LEFT JOIN release_approval AS approval ON approval.proposal = asked.seq
	    LEFT JOIN release ON release.proposal = asked.seq LEFT JOIN release_withdrawal AS taken ON taken.proposal = asked.seq
	    WHERE asked.code = ? ORDER BY asked.after_run DESC, asked.seq DESC`, code)
}

// Sound refuses a release that lets more through than what it was compared with and that
// nobody approved: whatever its rows say, it is held against the definitions.
func (s *Records) Sound(ctx context.Context, r runs.Release) error {
	return s.db.View(ctx, func(tx *sql.Tx) error { return sound(ctx, tx, r) })
}

func sound(ctx context.Context, tx *sql.Tx, r runs.Release) error {
	if r.Proposal == 0 && r.Notice == 0 {
		return nil // of before
	}
	of, err := r.Product()
	if err != nil {
		return err
	}
	if r.Notice > 0 {
		return soundNotice(ctx, tx, r, of)
	}
	var against string
	var approved bool
	if err := tx.QueryRowContext(ctx, `
		SELECT against, EXISTS (SELECT 1 FROM release_approval WHERE proposal = asked.seq)
		FROM release_proposal AS asked WHERE seq = ?`, r.Proposal).Scan(&against, &approved); err != nil {
		return err
	}
	if approved {
		return nil
	}
	before, err := definitionOf(ctx, tx, r.Code, against)
	if err != nil || before == nil {
		return err
	}
	if revise.NeedsTwo(revise.Between(before, of)) {
		return fmt.Errorf("release %d of %s: %w: it lets more through, and no second person approved it", r.Seq, r.Code, runs.ErrReleaseAltered)
	}
	return nil
}

// Checks are how the records of releases are looked at.
func Checks() []store.Check {
	return []store.Check{store.Entries("release_proposal", "release_approval", "release_withdrawal"), store.Breaches(asProposed), soundly}
}

// asProposed asks for releases that are not what was proposed.
const asProposed = `
	SELECT 'release ' || release.seq || ' of ' || release.code || ' is not what was proposed'
	FROM release JOIN release_proposal AS asked ON asked.seq = release.proposal
	WHERE (release.code, release.label, release.hash, release.kind, release.source, release.by, release.reason)
	      IS NOT (asked.code, asked.label, asked.revision, asked.kind, asked.source, asked.by, asked.reason)`

func soundly(ctx context.Context, tx *sql.Tx) ([]string, error) {
	list, err := store.Collect(ctx, tx, func(rows *sql.Rows) (r runs.Release, err error) {
		return r, rows.Scan(&r.Seq, &r.Code, &r.Label, &r.Hash, &r.Source, &r.By, &r.Approved, &r.Proposal, &r.Notice)
	}, `SELECT seq, code, label, hash, source, by, approved, coalesce(proposal, 0), coalesce(notice, 0) FROM release
	    WHERE proposal IS NOT NULL OR notice IS NOT NULL ORDER BY seq`)
	var found []string
	for _, r := range list {
		if _, err := r.Product(); err != nil {
			continue // which is told of every release, also those of before
		}
		if err := sound(ctx, tx, r); err != nil {
			first, _, _ := strings.Cut(err.Error(), "\n")
			found = append(found, first)
		}
	}
	return found, err
}

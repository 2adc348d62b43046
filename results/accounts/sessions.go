package accounts

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/store"
)

// SessionStart is a browser that was let in.
type SessionStart struct {
	Seq  int64
	Name string
	How  string // "password" or "badge"
	At   time.Time
}

// StartSession records that a browser was let in by the token of this hash.
func (s *Records) StartSession(ctx context.Context, hash [32]byte, name, how string) error {
	return s.db.Insert(ctx, "session of "+name, `
		INSERT INTO session (seq, hash, name, how, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM session), ?, ?, ?, ?`,
		hash[:], name, how, s.db.Now().UnixMicro())
}

// Session gives the open session of a token's hash, nil if there is none.
func (s *Records) Session(ctx context.Context, hash [32]byte) (*SessionStart, error) {
	return store.First(ctx, s.db, "look up a session", func(rows *sql.Rows) (v SessionStart, err error) {
		return v, rows.Scan(&v.Seq, &v.Name, &v.How, store.Time(&v.At))
	}, `SELECT seq, name, how, at_us FROM session
	    WHERE hash = ? AND NOT EXISTS (SELECT 1 FROM session_end WHERE session = seq)`, hash[:])
}

// EndSession records that the browser was left, or, with a name, who ended its session.
func (s *Records) EndSession(ctx context.Context, seq int64, by string) error {
	return s.db.Insert(ctx, "end of a session", `
		INSERT INTO session_end (session, at_us, by) SELECT ?, ?, ?
		WHERE NOT EXISTS (SELECT 1 FROM session_end WHERE session = ?)`, seq, s.db.Now().UnixMicro(), by, seq)
}

// OpenSessions gives the sessions begun since a time that nobody ended, newest first.
func (s *Records) OpenSessions(ctx context.Context, since time.Time) ([]SessionStart, error) {
	return store.List(ctx, s.db, "list the sessions", func(rows *sql.Rows) (v SessionStart, err error) {
		return v, rows.Scan(&v.Seq, &v.Name, &v.How, store.Time(&v.At))
	}, `SELECT seq, name, how, at_us FROM session
	    WHERE at_us > ? AND NOT EXISTS (SELECT 1 FROM session_end WHERE session = seq) ORDER BY seq DESC`, since.UnixMicro())
}

// endAll ends the sessions of an account that may no longer be open as they are.
func endAll(ctx context.Context, tx *sql.Tx, name, by string, at time.Time) error {
	_, err := tx.ExecContext(ctx, `
		INSERT INTO session_end (session, at_us, by) SELECT seq, ?, ? FROM session
		WHERE name = ? AND NOT EXISTS (SELECT 1 FROM session_end WHERE session = seq)`, at.UnixMicro(), by, name)
	return err
}

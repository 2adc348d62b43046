package runs

import "context"

// NewRecord and those after it are for tests of the record itself.
var NewRecord = newRecord

func Canonical(r *Record) ([]byte, error) { return r.canonical() }

func Sum(r *Record) ([]byte, error) { return r.sum() }

func Holds(ctx context.Context, s *Records, r *Record) (bool, error) { return s.holds(ctx, r) }

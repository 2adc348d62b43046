package testrun

// What a stage of a returns case leaves with the case, at the terminal and on a lane.

import (
	"context"
	"errors"

	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
)

// CausesOfStage keeps what the readings point to with the case, where something was found.
func CausesOfStage(ctx context.Context, s *results.Store, c returns.Case, p *product.Product, run runs.Stored) error {
	if len(run.Findings) == 0 || run.Outcome == sequence.Aborted {
		return nil
	}
	earlier, err := s.Care.Earlier(ctx, run, p.References.All())
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	d, err := evidence.DiagnoseAfter(run.Run, p, earlier)
	if err != nil {
		return command.Fail(command.Wrong, err, "the product file that this unit was tested with")
	}
	causes, err := returned.Snapshot(d)
	if err == nil {
		err = s.Returns.Diagnosed(ctx, c, returns.Diagnosis{Run: run.Seq, Causes: causes})
	}
	return OfCase(s, c.Serial, err)
}

// OfCase turns an error of a case into one with a remedy.
func OfCase(s *results.Store, serial string, err error) error {
	switch {
	case err == nil:
		return nil
	case errors.Is(err, returns.ErrStage):
		return command.Fail(command.Wrong, err, "padjig returns show "+serial+command.StoreArgument(s)+", which says what comes next")
	case errors.Is(err, returns.ErrWords), errors.Is(err, returns.ErrNoPhoto):
		return command.Fail(command.Wrong, err, "")
	}
	return command.RecordsFailed(s, err)
}

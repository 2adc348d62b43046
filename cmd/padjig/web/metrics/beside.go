package metrics

import (
	"context"

	"padjig/results"
)

// Beside gives the families of what goes on beside the lanes: what waits to be handed on, and when the
// records were backed up.
func Beside(s *results.Store) Source {
	return func(ctx context.Context) ([]Family, error) {
		receivers, err := s.HandOff.Receivers(ctx)
		if err != nil {
			return nil, err
		}
		behind := Family{
			Name: "padjig_hand_off_behind", Kind: Gauge, Help: "Events that a receiver does not have yet, in the records.", Labels: []string{"receiver"},
		}
		for _, r := range receivers {
			behind.Points = append(behind.Points, Point{Labels: []string{r.Receiver}, Value: float64(r.Behind)})
		}
		whole, _, err := s.Backups.Newest(ctx)
		if err != nil || whole == nil {
			return []Family{behind}, err
		}
		return []Family{behind, {
			Name: "padjig_backup_timestamp_seconds", Kind: Gauge, Unit: "seconds", Help: "When the newest whole backup was taken, in seconds since 1970.",
			Points: []Point{{Value: float64(whole.At.Unix())}},
		}}, nil
	}
}

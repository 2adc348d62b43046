package forward

import (
	"context"

	"padjig/cmd/padjig/web/metrics"
)

// Figures are those of a pump for monitoring.
func Figures(p *Pump) metrics.Source {
	return func(context.Context) ([]metrics.Family, error) {
		s := p.State()
		gauge := func(name, unit, help string, value float64) metrics.Family {
			return metrics.Family{Name: name, Kind: metrics.Gauge, Unit: unit, Help: help, Points: []metrics.Point{{Value: value}}}
		}
		halted := 0.0
		if s.Stopped != nil {
			halted = 1
		}
		all := []metrics.Family{gauge("padjig_plant_stopped", "", "1 while forwarding to the plant waits for a person.", halted)}
		if s.Known {
			all = append(all,
				gauge("padjig_plant_behind_runs", "", "Runs that the plant did not have yet when it was last reached.", float64(s.Behind)),
				gauge("padjig_plant_reached_timestamp_seconds", "seconds", "When the plant last took what the station had, in seconds since 1970.", float64(s.Last.Unix())),
				gauge("padjig_plant_clock_ahead_seconds", "seconds", "By how much the station's clock is ahead of the plant's.", s.Ahead.Seconds()))
		}
		return all, nil
	}
}

package jigs

import (
	"fmt"
	"strings"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture/link"
)

// traffic shows what goes over the line to a jig while one looks.
func (p *pages) traffic(_ *page.Visit, n int, lane *station.Lane) (any, error) {
	return trafficView{Lane: n, Jig: lane.State().Jig.Serial, Simulated: lane.State().Jig.Simulated}, nil
}

type trafficView struct {
	Lane      int    `json:"lane"`
	Jig       string `json:"jig"`
	Simulated bool   `json:"simulated"`
}

// frameRow is a frame in one line.
type frameRow struct {
	At      string
	FromJig bool
	Say     string // what it says, as recordings have it
	Bytes   int
}

// live sends frames as they pass. What passed while a browser was slow
// is left out, and said to be.
func (p *pages) live(v *page.Visit, e *page.Events) error {
	_, lane, err := p.lanes.Of(v)
	if err != nil {
		return err
	}
	traffic := lane.Traffic()
	news, stop := traffic.Subscribe()
	defer stop()
	_, last := traffic.Since(0)
	return e.Follow(v, news, nil, func() error {
		frames, now := traffic.Since(last)
		lost := now - last - uint64(len(frames))
		last = now
		if len(frames) == 0 {
			return nil
		}
		rows := make([]frameRow, len(frames))
		for i, f := range frames {
			rows[i] = frameOf(f)
		}
		html, err := e.Part("traffic", "rows", map[string]any{"Rows": rows, "Lost": lost})
		if err != nil {
			return err
		}
		return e.Send("rows", map[string]string{"html": html})
	})
}

func frameOf(f link.Event) frameRow {
	_, say, _ := strings.Cut(f.String(), "# ")
	return frameRow{fmt.Sprintf("%.6f", f.At.Seconds()), f.FromJig, say, len(f.Raw)}
}

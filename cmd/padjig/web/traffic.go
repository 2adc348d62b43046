package web

import (
	"fmt"
	"strings"

	"padjig/fixture/link"
)

// trafficPage shows what goes over the line to a jig while one looks.
var trafficPage = page{path: "/jigs/{lane}/traffic", name: "traffic", who: fixtures, view: func(v *visit) (any, error) {
	n, lane, err := v.site.lane(v)
	if err != nil {
		return nil, err
	}
	return trafficView{Lane: n, Jig: lane.State().Jig.Serial, Simulated: lane.State().Jig.Simulated}, nil
}}

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

// trafficStream sends frames as they pass. What passed while a browser was slow
// is left out, and said to be.
var trafficStream = stream{path: "/jigs/{lane}/traffic/live", who: fixtures, run: func(v *visit, e *events) error {
	_, lane, err := v.site.lane(v)
	if err != nil {
		return err
	}
	traffic := lane.Traffic()
	news, stop := traffic.Listen()
	defer stop()
	_, last := traffic.Since(0)
	return v.follow(e, news, nil, func() error {
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
		html, err := v.site.part(v.Lang, "traffic", "rows", map[string]any{"Rows": rows, "Lost": lost})
		if err != nil {
			return err
		}
		return e.send("rows", map[string]string{"html": html})
	})
}}

func frameOf(f link.Event) frameRow {
	_, say, _ := strings.Cut(f.String(), "# ")
	return frameRow{fmt.Sprintf("%.6f", f.At.Seconds()), f.FromJig, say, len(f.Raw)}
}

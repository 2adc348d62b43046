package jigs

import (
	"fmt"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/fixture/link"
	"padjig/fixture/wire"
)

// traffic shows what goes over the line to a jig while one looks.
func (p *pages) traffic(_ *page.Visit, n int, lane *station.Lane) (any, error) {
	out := trafficView{Lane: n, Jig: lane.State().Jig.Serial, Simulated: lane.State().Jig.Simulated, Kept: framesKept}
	for _, t := range frameTypes {
		out.Types = append(out.Types, t.String())
	}
	return out, nil
}

type trafficView struct {
	Lane      int      `json:"lane"`
	Jig       string   `json:"jig"`
	Simulated bool     `json:"simulated"`
	Types     []string `json:"-"` // of frames, to choose from
	Kept      int      `json:"-"` // frames that the page keeps
}

// framesKept is how many the page keeps; what is older goes, and is said to have gone.
const framesKept = 2000

// frameTypes are those that can be asked for, in the order of a conversation.
var frameTypes = []wire.Type{wire.TypeHello, wire.TypeIdentity, wire.TypeStatus, wire.TypeState, wire.TypeStop, wire.TypeRoutine,
	wire.TypeResults, wire.TypePending, wire.TypeRefused}

// frameRow is a frame in one line.
type frameRow struct {
	At      string
	FromJig bool
	Say     string // in words, as padjig jig talk prints it
	Bytes   int
	Type    string
	Wrong   bool   // it was refused, or sent anew
	Line    string // of a recording, see link.Record
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
	var listing wire.Listing
	return e.Follow(v, news, nil, func() error {
		frames, now := traffic.Since(last)
		lost := now - last - uint64(len(frames))
		last = now
		if len(frames) == 0 {
			return nil
		}
		rows := make([]frameRow, len(frames))
		for i, f := range frames {
			rows[i] = frameOf(f, &listing)
		}
		html, err := e.Part("traffic", "rows", map[string]any{"Rows": rows, "Lost": lost})
		if err != nil {
			return err
		}
		return e.Send("rows", map[string]string{"html": html})
	})
}

func frameOf(f link.Event, listing *wire.Listing) frameRow {
	return frameRow{At: fmt.Sprintf("%.6f", f.At.Seconds()), FromJig: f.FromJig, Say: listing.Line(f.Frame), Bytes: len(f.Raw),
		Type: f.Frame.Type.String(), Wrong: f.Frame.Type == wire.TypeRefused || f.Frame.Resend, Line: f.String()}
}

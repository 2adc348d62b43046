package web

import "padjig/cmd/padjig/station"

// lanesPage shows all lanes beside one another: where a shift lead looks first.
// Where there is one lane only, it is that one, so that a scan is taken at once.
var lanesPage = page{path: "/{$}", name: "lanes", menu: "menu.lanes", who: everyone, view: func(v *visit) (any, error) {
	if len(v.site.Lanes) == 1 && !v.wantsJSON() {
		return elsewhere("/lane/1"), nil
	}
	return v.allLanes(), nil
}}

type lanesView struct {
	Lanes []laneView `json:"lanes"`
}

func (v *visit) allLanes() lanesView {
	var out lanesView
	for i, lane := range v.site.Lanes {
		out.Lanes = append(out.Lanes, v.laneView(i+1, lane.State()))
	}
	return out
}

// lanesStream sends each lane's card when it changes.
var lanesStream = stream{path: "/lanes/live", who: everyone, run: func(v *visit, e *events) error {
	var any station.Bell
	rings, stopRings := any.Listen()
	defer stopRings()
	for _, lane := range v.site.Lanes {
		changes, stop := lane.Listen()
		defer stop()
		go func() { // ends with the stream, as follow does
			for {
				select {
				case <-changes:
					any.Ring()
				case <-v.r.Context().Done():
					return
				case <-v.site.over:
					return
				}
			}
		}()
	}
	epochs := make([]uint64, len(v.site.Lanes))
	return v.follow(e, rings, nil, func() error { return v.sendCards(e, epochs) })
}}

func (v *visit) sendCards(e *events, epochs []uint64) error {
	for i, lane := range v.site.Lanes {
		state := lane.State()
		if epochs[i] == state.Epoch+1 {
			continue
		}
		html, err := v.site.part(v.Lang, "lanes", "lane-card", v.laneView(i+1, state))
		if err != nil {
			return err
		}
		if err := e.send("card", map[string]any{"lane": i + 1, "html": html}); err != nil {
			return err
		}
		epochs[i] = state.Epoch + 1
	}
	return nil
}

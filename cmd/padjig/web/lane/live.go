package lane

import (
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/watch"
	"padjig/cmd/padjig/web/pad"
	"padjig/cmd/padjig/web/page"
)

// cards sends each lane's card when it changes.
func (p *Pages) cards(v *page.Visit, e *page.Events) error {
	var any watch.Notifier
	notified, stopRings := any.Subscribe()
	defer stopRings()
	for _, lane := range p.lanes.All() {
		changes, stop := lane.Subscribe()
		defer stop()
		go func() { // ends with the stream, as follow does
			for {
				select {
				case <-changes:
					any.Notify()
				case <-v.Ctx().Done():
					return
				case <-e.Over:
					return
				}
			}
		}()
	}
	choosing, stopChoices := p.choices.notifier.Subscribe()
	defer stopChoices()
	waiting := ""
	epochs := make([]uint64, len(p.lanes.All()))
	return e.Follow(v, notified, choosing, func() error {
		moved, err := p.sendCards(v, e, epochs)
		if choice := p.choice(v); err == nil && (choice.Serial != waiting || moved && waiting != "") {
			waiting = choice.Serial
			err = sendChoice(e, choice)
		}
		return err
	})
}

// sendChoice sends what waits at this screen, and where it could go.
func sendChoice(e *page.Events, choice choiceView) error {
	html, err := e.Part("lanes", "lanes-choice", choice)
	if err != nil {
		return err
	}
	return e.Send("choice", map[string]any{"html": html})
}

func (p *Pages) sendCards(v *page.Visit, e *page.Events, epochs []uint64) (moved bool, err error) {
	for i, lane := range p.lanes.All() {
		state := lane.State()
		if epochs[i] == state.Epoch+1 {
			continue
		}
		html, err := e.Part("lanes", "lane-card", p.view(v, i+1, state))
		if err != nil {
			return moved, err
		}
		if err := e.Send("card", map[string]any{"lane": i + 1, "html": html}); err != nil {
			return moved, err
		}
		epochs[i], moved = state.Epoch+1, true
	}
	return moved, nil
}

// live sends what changes on a lane's page.
func (p *Pages) live(v *page.Visit, e *page.Events) error {
	n, lane, err := p.lanes.Of(v)
	if err != nil {
		return err
	}
	holds, leave := p.lanes.Watch(n, v.Screen())
	defer leave()
	changes, stop := lane.Subscribe()
	defer stop()
	sent := sentLane{pages: p, visit: v, n: n}
	return e.Follow(v, changes, holds, func() error { return sent.update(e, lane.State()) })
}

// sentLane is what a browser was told last.
type sentLane struct {
	pages *Pages
	visit *page.Visit
	n     int
	any   bool
	epoch uint64
	held  string
	keys  []pad.Key
}

// update sends the whole lane when anything but the progress changed, else the
// keys that changed and how far it is.
func (s *sentLane) update(e *page.Events, state station.State) error {
	view := s.pages.view(s.visit, s.n, state)
	at := state.Changed.UnixMicro()
	if s.any && s.epoch == state.Epoch && s.held == view.Held {
		return s.progress(e, view, at)
	}
	if !s.any { // how it stood before anybody looked says nothing of the way here
		at = 0
	}
	html, err := e.Part("lane", "lane-live", view)
	if err != nil {
		return err
	}
	s.any, s.epoch, s.held, s.keys = true, state.Epoch, view.Held, view.Pad.Keys
	return e.Send("lane", map[string]any{"html": html, "at": at})
}

func (s *sentLane) progress(e *page.Events, view View, at int64) error {
	changed := []pad.Key{}
	for k, key := range view.Pad.Keys {
		if key.Class != s.keys[k].Class || key.Mark != s.keys[k].Mark {
			changed = append(changed, key)
		}
	}
	s.keys = view.Pad.Keys
	return e.Send("progress", map[string]any{
		"keys": changed, "step": view.Step, "done": view.Done, "total": view.Total, "count": view.Count, "left": view.Left,
		"prompt": view.Prompt, "line": view.Line, "at": at,
	})
}

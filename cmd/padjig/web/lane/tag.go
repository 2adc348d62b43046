package lane

import (
	"errors"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/report/tag"
	"padjig/results/store"
)

// tagView is a tag on a page.
type tagView struct {
	tag.Tag
	Print bool   `json:"-"` // at once, then back
	Back  string `json:"-"`
}

// tag is the tag that goes with a unit that failed: printed from the
// record, nothing written by hand.
func (p *Pages) tag(v *page.Visit) (any, error) {
	id, err := store.ParseID(v.Place("run"))
	if err != nil {
		return nil, page.NotFound(v.Say("error.run"))
	}
	run, err := p.store.Runs.Run(v.Ctx(), id)
	if errors.Is(err, store.ErrNotFound) {
		return nil, page.NotFound(v.Say("error.run"))
	}
	if err != nil {
		return nil, err
	}
	product, err := p.store.Runs.Product(v.Ctx(), run)
	if err != nil {
		return nil, err
	}
	view := tagView{Print: v.Value("print") != "", Back: page.Here(v.Value("back"))}
	view.Tag, err = tag.Of(v.Words.Lang, v.Times(), run, product)
	return view, err
}

// print shows a lane's tag, to be printed at once: that of its verdict, else of the
// first unit that is owed there.
func (p *Pages) print(v *page.Visit, lane *station.Lane) (page.Answer, error) {
	state := lane.State()
	back := "?print=1&back=" + page.Here(v.Value("next"))
	if d := state.Verdict; d != nil && taggable(*d) {
		return page.Answer{Go: "/tag/" + d.ID.String() + back}, nil
	}
	if len(state.Owed) > 0 {
		return page.Answer{Go: "/tag/" + state.Owed[0].Run.String() + back}, nil
	}
	return page.Answer{}, page.Wrong(v.Say("print.none"))
}

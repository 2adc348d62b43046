// Package desk is where units that came back are worked with: the cases, the stages
// and checks of each, and the life of one unit on one page.
package desk

import (
	"errors"
	"net/url"
	"slices"
	"strconv"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/store"
	"padjig/sequence/product"
)

// People work with units that came back.
var People = page.Roles(account.Desk)

// Set is what there is to see and to do.
func Set(store *results.Store, lanes *control.Lanes, where Where) page.Set {
	find := finder{store}
	cases, stage := &cases{finder: find, lanes: lanes}, stages{find, lanes}
	check, key, files := checks{find, lanes}, &watches{finder: find, lanes: lanes}, &files{finder: find}
	life := lives{store, lanes, check, stage, where}
	return page.Set{
		Pages: []page.Page{
			{Path: "/returns", Name: "returns", Menu: "menu.returns", Who: People, View: cases.list},
			{Path: "/unit", Name: "unit", Who: People, View: life.page},
			{Path: "/returns/check", Name: checkPage, Who: People, Lane: true, View: of(find.asked, check.page)},
			{Path: "/returns/ohms", Name: "ohms", Who: People, Lane: true, View: key.page},
			{Path: "/returns/report/{case}", Name: "unit", Who: People, View: of(find.placed, files.report)},
			{Path: "/returns/photo/{case}/{sum}", Name: "unit", Who: People, View: of(find.placed, files.photo)},
		},
		Actions: []page.Action{
			{Path: "/returns", Who: People, Leads: true, Do: look},
			{Path: "/returns/intake", Who: People, Do: cases.intake},
			{Path: "/returns/dispose", Who: People, Do: of(find.asked, cases.dispose)},
			{Path: "/returns/nophoto", Who: People, Do: of(find.asked, cases.nophoto)},
			{Path: "/returns/unlock", Who: page.Engineers, Do: of(find.asked, cases.unlock)},
			{Path: "/returns/rework", Who: People, Do: cases.rework},
			{Path: "/returns/photo", Who: People, Files: true, Do: of(find.asked, cases.photo)},
			{Path: "/returns/stage", Who: People, Do: of(find.asked, stage.begin)},
			{Path: "/returns/start", Who: People, Do: of(find.asked, stage.start)},
			{Path: "/returns/stop", Who: People, Do: of(find.asked, stage.stop)},
			{Path: "/returns/giveback", Who: People, Do: of(find.asked, stage.giveBack)},
			{Path: "/returns/check", Who: People, Do: of(find.asked, check.do)},
			{Path: "/returns/ohms", Who: People, Do: key.permit},
			{Path: "/returns/ohms/reset", Who: People, Do: key.reset},
		},
		Streams: []page.Stream{
			{Path: "/returns/ohms/{watch}/live", Who: People, Run: key.live},
			{Path: "/returns/case/{case}/live", Who: People, Run: stage.live},
		},
	}
}

// finder finds the case that somebody means.
type finder struct{ store *results.Store }

// of makes a page or an action of one that is about a case.
func of[T any](find func(*page.Visit) (returns.Case, error), do func(*page.Visit, returns.Case) (T, error)) func(*page.Visit) (T, error) {
	return func(v *page.Visit) (out T, err error) {
		c, err := find(v)
		if err != nil {
			return out, err
		}
		return do(v, c)
	}
}

// placed is the case that the path names.
func (f finder) placed(v *page.Visit) (returns.Case, error) { return f.numbered(v, v.Place("case")) }

// asked is the case that a form is about.
func (f finder) asked(v *page.Visit) (returns.Case, error) { return f.numbered(v, v.Value("case")) }

// numbered finds a case by what was written as its number.
func (f finder) numbered(v *page.Visit, text string) (returns.Case, error) {
	number, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return returns.Case{}, page.NotFound(v.Say("error.nowhere"))
	}
	c, err := f.store.Returns.Case(v.Ctx(), number)
	if errors.Is(err, store.ErrNotFound) {
		return c, page.NotFound(v.Say("error.nowhere"))
	}
	return c, err
}

// madeAs is the product of a unit: as it was tested, else the one of a lane whose serial numbers are such.
func (f finder) madeAs(v *page.Visit, lanes *control.Lanes, serial string) (*product.Product, error) {
	p, err := f.store.Returns.ProductOf(v.Ctx(), serial)
	if errors.Is(err, store.ErrNotFound) {
		p, err = lanes.Holding(func(p *product.Product) bool { return station.CheckSerial(p, serial) == nil }), nil
	}
	if p == nil && err == nil {
		err = unknown(v, lanes, serial)
	}
	return p, err
}

// cases takes units in and works them off.
type cases struct {
	finder
	lanes  *control.Lanes
	photos sync.Mutex // one is in memory at a time
}

// look goes to the unit whose number was written.
func look(v *page.Visit) (page.Answer, error) {
	serial := v.Text("serial")
	if serial == "" {
		return page.Answer{}, page.WrongField("serial", v.Say("returns.which"))
	}
	return page.Answer{Go: UnitAddress(serial)}, nil
}

// UnitAddress is the page of a unit; a serial number may hold anything.
func UnitAddress(serial string) string { return "/unit?serial=" + url.QueryEscape(serial) }

// intake opens a case for a unit that came back, or corrects its intake.
func (k *cases) intake(v *page.Visit) (page.Answer, error) {
	serial := v.Text("serial")
	code, err := k.productOf(v, serial)
	if err != nil {
		return page.Answer{}, err
	}
	in := returns.Intake{
		Received: time.Now(), Complaint: v.Value("complaint"), ComplaintText: v.Text("text"),
		Conditions: v.Values("condition"), ConditionText: v.Text("seen"),
		Customer: v.Text("customer"), Lot: v.Text("lot"), By: v.Person.Name,
	}
	if err := page.WrongFields(wrongIntake(v.Words, in)...); err != nil {
		return page.Answer{}, err
	}
	number, err := k.store.Returns.OpenCaseOf(v.Ctx(), serial)
	if err != nil {
		return page.Answer{}, err
	}
	if number == 0 {
		_, err = k.store.Returns.OpenCase(v.Ctx(), serial, code, in)
		return page.Answer{Go: UnitAddress(serial)}, said(v.Words, err)
	}
	c, err := k.store.Returns.Case(v.Ctx(), number)
	if err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: UnitAddress(serial)}, said(v.Words, k.store.Returns.CorrectIntake(v.Ctx(), c, in))
}

// wrongIntake is all that an intake lacks: nothing of it is chosen beforehand.
func wrongIntake(w page.Words, in returns.Intake) (wrong []page.Mistake) {
	say := func(field, key string) { wrong = append(wrong, page.Mistake{Field: field, Say: w.Say(key)}) }
	switch {
	case in.Complaint == "":
		say("complaint", "returns.nocomplaint")
	case in.Complaint == "other" && in.ComplaintText == "":
		say("text", "returns.otherwords")
	}
	switch {
	case len(in.Conditions) == 0:
		say("condition", "returns.nocondition")
	case len(in.Conditions) > 1 && slices.Contains(in.Conditions, returns.NothingVisible):
		say("condition", "returns.nothingandmore")
	case slices.Contains(in.Conditions, "other") && in.ConditionText == "":
		say("seen", "returns.othercondition")
	}
	return wrong
}

// productOfSerial finds what a unit is: as it was tested, else by its number.
func (k *cases) productOf(v *page.Visit, serial string) (string, error) {
	runs, err := k.store.Runs.Unit(v.Ctx(), serial)
	if err != nil {
		return "", err
	}
	if len(runs) > 0 {
		return runs[len(runs)-1].Run.Product, nil
	}
	p := k.lanes.Holding(func(p *product.Product) bool { return station.CheckSerial(p, serial) == nil })
	if p == nil {
		return "", unknown(v, k.lanes, serial)
	}
	return p.Code, nil
}

// unknown is of a number that no product of the station has: one that was misread is not
// blamed on the product.
func unknown(v *page.Visit, lanes *control.Lanes, serial string) error {
	for _, p := range lanes.Products() {
		if r := station.RefusalOf(station.CheckSerial(p, serial)); r != nil && r.Code == station.SerialMisread {
			return control.Refused(v.Words, r)
		}
	}
	return page.Wrong(v.Say("returns.unknown", serial))
}

// dispose closes a case, or opens it again. What its records speak against is
// refused until it is answered, by the records as they are now.
func (k *cases) dispose(v *page.Visit, c returns.Case) (page.Answer, error) {
	d := returns.Disposition{Code: v.Value("code"), Disposal: v.Value("disposal"), Reason: v.Text("reason"), By: v.Person.Name, Answers: map[string]string{}}
	var wrong []page.Mistake
	for _, field := range []string{"code", "disposal"} {
		if v.Value(field) == "" && d.Code != returns.Reopened {
			wrong = append(wrong, page.Mistake{Field: field, Say: v.Say("dispose.choose." + field)})
		}
	}
	if err := page.WrongFields(wrong...); err != nil {
		return page.Answer{}, err
	}
	for _, code := range returns.ContradictionCodes {
		d.Answers[string(code)] = v.Text("answer " + string(code))
	}
	err := k.store.Returns.Dispose(v.Ctx(), c, d)
	if open, is := errors.AsType[*returns.UnansweredError](err); is {
		wrong = nil
		for _, x := range open.Contradictions {
			wrong = append(wrong, page.Mistake{Field: "answer " + string(x.Code), Say: v.Say("dispose.unanswered", v.Facts().Desk(x.Say()))})
		}
		return page.Answer{}, page.WrongFields(wrong...)
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, said(v.Words, err)
}

// nophoto says why a case has no photo.
func (k *cases) nophoto(v *page.Visit, c returns.Case) (page.Answer, error) {
	reason, err := v.Reason()
	if err == nil {
		err = said(v.Words, k.store.Returns.SayNoPhoto(v.Ctx(), c, returns.NoPhoto{Reason: reason, By: v.Person.Name}))
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, err
}

// unlock is an engineer's decision that a damaged unit is tested all the same.
func (k *cases) unlock(v *page.Visit, c returns.Case) (page.Answer, error) {
	reason, err := v.Reason()
	if err == nil {
		err = said(v.Words, k.store.Returns.Unlock(v.Ctx(), c, v.Person.Name, reason))
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, err
}

// rework records what was done to a unit; what it is, is what it was tested as.
func (k *cases) rework(v *page.Visit) (page.Answer, error) {
	r := returns.Rework{Serial: v.Text("serial"), Deed: v.Value("did"), Lot: v.Text("lot"), Note: v.Text("note"), By: v.Person.Name, Done: time.Now()}
	var err error
	if r.Place, err = returns.ReadPlace(v.Text("at")); err != nil {
		return page.Answer{}, page.WrongField("at", v.Facts().Desk(returns.WhyNot(err)))
	}
	p, err := k.madeAs(v, k.lanes, r.Serial)
	if err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: UnitAddress(r.Serial)}, said(v.Words, k.store.Returns.SaveRework(v.Ctx(), r, p))
}

// photo keeps a picture with a case.
func (k *cases) photo(v *page.Visit, c returns.Case) (page.Answer, error) {
	photos := v.Files("photo")
	if len(photos) == 0 {
		return page.Answer{}, page.WrongField("photo", v.Say("returns.nophoto"))
	}
	k.photos.Lock()
	defer k.photos.Unlock()
	for _, header := range photos {
		content, err := readAll(header)
		if err != nil {
			return page.Answer{}, err
		}
		kind, err := returns.KindOf(content)
		if err != nil {
			return page.Answer{}, page.WrongField("photo", v.Say("returns.photorefused", header.Filename, v.Facts().Desk(returns.WhyNot(err))))
		}
		photo := returns.Photo{ContentType: kind, Name: header.Filename, Note: v.Text("note"), By: v.Person.Name}
		_, err = k.store.Returns.AddPhoto(v.Ctx(), c, content, photo)
		switch {
		case errors.Is(err, returns.ErrPictureSize), errors.Is(err, returns.ErrNoPhoto):
			return page.Answer{}, page.WrongField("photo", v.Say("returns.photorefused", header.Filename, err))
		case err != nil:
			return page.Answer{}, err
		}
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, nil
}

// Package desk is where units that came back are worked with: the cases, the stages
// and checks of each, and the life of one unit on one page.
package desk

import (
	"errors"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/product"
)

// People work with units that came back.
var People = page.Roles(account.Desk)

// Set is what there is to see and to do.
func Set(store *results.Store, lanes *control.Lanes) page.Set {
	find := finder{store}
	cases := &cases{finder: find, lanes: lanes}
	check, life, key, files := checks{find, lanes}, lives{store, lanes, checks{find, lanes}}, &watches{finder: find, lanes: lanes}, &files{finder: find}
	return page.Set{
		Pages: []page.Page{
			{Path: "/returns", Name: "returns", Menu: "menu.returns", Who: People, View: cases.list},
			{Path: "/unit", Name: "unit", Who: People, View: life.page},
			{Path: "/returns/check", Name: checkPage, Who: People, View: of(find.asked, check.page)},
			{Path: "/returns/ohms", Name: "ohms", Who: People, View: key.page},
			{Path: "/returns/report/{case}", Name: "unit", Who: People, View: of(find.placed, files.report)},
			{Path: "/returns/photo/{case}/{sum}", Name: "unit", Who: People, View: of(find.placed, files.photo)},
		},
		Actions: []page.Action{
			{Path: "/returns", Who: People, Do: look},
			{Path: "/returns/intake", Who: People, Do: cases.intake},
			{Path: "/returns/dispose", Who: People, Do: of(find.asked, cases.dispose)},
			{Path: "/returns/nophoto", Who: People, Do: of(find.asked, cases.nophoto)},
			{Path: "/returns/unlock", Who: page.Engineers, Do: of(find.asked, cases.unlock)},
			{Path: "/returns/rework", Who: People, Do: cases.rework},
			{Path: "/returns/photo", Who: People, Files: true, Do: of(find.asked, cases.photo)},
			{Path: "/returns/stage", Who: People, Do: of(find.asked, cases.stage)},
			{Path: "/returns/check", Who: People, Do: of(find.asked, check.do)},
			{Path: "/returns/ohms", Who: People, Do: key.permit},
		},
		Streams: []page.Stream{{Path: "/returns/ohms/{watch}/live", Who: People, Run: key.live}},
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

// cases takes units in and works them off.
type cases struct {
	finder
	lanes  *control.Lanes
	photos sync.Mutex // one is in memory at a time
}

// list shows the cases. A unit is scanned on any page but a lane's, or
// its number is written here.
func (k *cases) list(v *page.Visit) (any, error) {
	all, err := k.store.Returns.Cases(v.Ctx(), mostCases)
	if err != nil {
		return nil, err
	}
	view := returnsView{}
	for _, c := range all {
		view.Cases = append(view.Cases, lineOf(v.Words, c))
	}
	return view, nil
}

const mostCases = 50

type returnsView struct {
	Cases []caseLine `json:"cases"`
}

// caseLine is a case in a list.
type caseLine struct {
	Number    int64     `json:"number"`
	Serial    string    `json:"serial"`
	Product   string    `json:"product"`
	Opened    time.Time `json:"opened"`
	Complaint string    `json:"complaint"`
	State     string    `json:"state"`
	Closed    bool      `json:"closed"`
	Simulated bool      `json:"simulated"`
}

func lineOf(v page.Words, c returns.Case) caseLine {
	state := v.Say("case.open")
	if c.Closed() {
		state = v.Say("dispose." + page.Key(c.Disposition().Code))
	}
	return caseLine{c.Number, c.Serial, c.Product, c.Opened, v.Say("complaint." + page.Key(c.Intake().Complaint)), state, c.Closed(), c.Simulated()}
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
		return page.Answer{Go: UnitAddress(serial)}, asStage(err)
	}
	c, err := k.store.Returns.Case(v.Ctx(), number)
	if err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: UnitAddress(serial)}, asStage(k.store.Returns.CorrectIntake(v.Ctx(), c, in))
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
		return "", k.unknown(v, serial)
	}
	return p.Code, nil
}

// unknown is of a number that no product of the station has: one that was misread is not
// blamed on the product.
func (k *cases) unknown(v *page.Visit, serial string) error {
	for _, p := range k.lanes.Products() {
		if r := station.RefusalOf(station.CheckSerial(p, serial)); r != nil && r.Code == station.SerialMisread {
			return page.Wrong(control.Refusal(v.Words, r))
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
		var said []string
		for _, x := range open.Contradictions {
			said = append(said, v.Facts().Desk(x.Say()))
		}
		return page.Answer{}, page.Wrong(v.Say("dispose.unanswered", strings.Join(said, "; ")))
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, asStage(err)
}

// nophoto says why a case has no photo.
func (k *cases) nophoto(v *page.Visit, c returns.Case) (page.Answer, error) {
	reason, err := v.Reason()
	if err == nil {
		err = asStage(k.store.Returns.SayNoPhoto(v.Ctx(), c, returns.NoPhoto{Reason: reason, By: v.Person.Name}))
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, err
}

// unlock is an engineer's decision that a damaged unit is tested all the same.
func (k *cases) unlock(v *page.Visit, c returns.Case) (page.Answer, error) {
	reason, err := v.Reason()
	if err == nil {
		err = asStage(k.store.Returns.Unlock(v.Ctx(), c, v.Person.Name, reason))
	}
	return page.Answer{Go: UnitAddress(c.Serial)}, err
}

// rework records what was done to a unit; what it is, is what it was tested as.
func (k *cases) rework(v *page.Visit) (page.Answer, error) {
	r := returns.Rework{Serial: v.Text("serial"), Deed: v.Value("did"), Lot: v.Text("lot"), Note: v.Text("note"), By: v.Person.Name, Done: time.Now()}
	var err error
	if r.Place, err = returns.ReadPlace(v.Text("at")); err != nil {
		return page.Answer{}, page.WrongField("at", err.Error())
	}
	p, err := k.store.Returns.ProductOf(v.Ctx(), r.Serial)
	if errors.Is(err, store.ErrNotFound) {
		p, err = k.lanes.Holding(func(p *product.Product) bool { return station.CheckSerial(p, r.Serial) == nil }), nil
	}
	switch {
	case err != nil:
		return page.Answer{}, err
	case p == nil:
		return page.Answer{}, k.unknown(v, r.Serial)
	}
	return page.Answer{Go: UnitAddress(r.Serial)}, asStage(k.store.Returns.SaveRework(v.Ctx(), r, p))
}

// The exercise that the page offers: no miss in so many presses bounds how often
// a key misses at 1 % with 95 % confidence; then each key is held and watched.
const (
	boundOfExercise = 0.01
	heldInExercise  = 2 * time.Second
)

// stage makes the next stage of a case on a lane. The store refuses what
// is out of order; the lane shows how far it is.
func (k *cases) stage(v *page.Visit, c returns.Case) (page.Answer, error) {
	n, lane, err := k.lanes.Asked(v)
	if err != nil {
		return page.Answer{}, err
	}
	r := &station.Return{Case: c, Purpose: sequence.Purpose(v.Value("purpose"))}
	if r.Purpose == sequence.Exercise {
		r.Exercising = sequence.Exercising{Presses: decide.PressesFor(boundOfExercise), Hold: heldInExercise}
	}
	if err := asStage(c.Allows(r.Purpose)); err != nil {
		return page.Answer{}, err
	}
	if at := k.lanes.With(c.Serial); at > 0 && at != n {
		return page.Answer{}, page.Wrong(v.Say("stage.runs", at))
	}
	if c.Done(r.Purpose) { // from a page that was loaded before: the page itself offers it no more
		return page.Answer{}, page.Wrong(v.Say("stage.made", v.Say("purpose."+page.Key(string(r.Purpose)))))
	}
	if err := k.lanes.UseAtDesk(v, n); err != nil {
		return page.Answer{}, err
	}
	lane.Scan(station.Scan{Serial: c.Serial, Operator: v.Person.Name, Return: r})
	return page.Answer{Go: "/lane/" + strconv.Itoa(n)}, nil
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
		photo := returns.Photo{ContentType: http.DetectContentType(content), Name: header.Filename, Note: v.Text("note"), By: v.Person.Name}
		if !strings.HasPrefix(photo.ContentType, "image/") {
			return page.Answer{}, page.WrongField("photo", v.Say("returns.nopicture", header.Filename))
		}
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

package web

import (
	"errors"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/results/returns"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/product"
)

// desk is who works with units that came back.
var desk = may{account.Returns, account.Quality, account.Engineer}

// returnsPage lists the cases. A unit is scanned on any page but a lane's, or
// its number is written here.
var returnsPage = page{path: "/returns", name: "returns", menu: "menu.returns", who: desk, view: func(v *visit) (any, error) {
	cases, err := v.site.Store.Returns.Cases(v.ctx(), mostCases)
	if err != nil {
		return nil, err
	}
	view := returnsView{}
	for _, c := range cases {
		view.Cases = append(view.Cases, v.caseLine(c))
	}
	return view, nil
}}

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

func (v *visit) caseLine(c returns.Case) caseLine {
	state := v.say("case.open")
	if c.Closed() {
		state = v.say("dispose." + word(c.Disposition().Code))
	}
	return caseLine{c.Number, c.Serial, c.Product, c.Opened, v.say("complaint." + word(c.Intake().Complaint)), state, c.Closed(), c.Simulated()}
}

// word makes a word of the records one for keys of the catalogue.
func word(text string) string { return strings.ReplaceAll(text, " ", "-") }

// lookAction goes to the unit whose number was written.
var lookAction = action{path: "/returns", who: desk, do: func(v *visit) (answer, error) {
	serial := strings.TrimSpace(v.r.FormValue("serial"))
	if serial == "" {
		return answer{}, wrong(v.say("returns.which"))
	}
	return answer{Go: unitAddress(serial)}, nil
}}

// unitAddress is the page of a unit; a serial number may hold anything.
func unitAddress(serial string) string { return "/unit?serial=" + queryOf(serial) }

// intakeAction opens a case for a unit that came back, or corrects its intake.
var intakeAction = action{path: "/returns/intake", who: desk, do: func(v *visit) (answer, error) {
	serial := strings.TrimSpace(v.r.FormValue("serial"))
	code, err := v.productOfSerial(serial)
	if err != nil {
		return answer{}, err
	}
	in := returns.Intake{
		Received: time.Now(), Complaint: v.r.FormValue("complaint"), ComplaintText: strings.TrimSpace(v.r.FormValue("text")),
		Conditions: v.r.Form["condition"], ConditionText: strings.TrimSpace(v.r.FormValue("seen")),
		Customer: strings.TrimSpace(v.r.FormValue("customer")), Lot: strings.TrimSpace(v.r.FormValue("lot")), By: v.Person.Name,
	}
	in.EndsTesting = slices.ContainsFunc(in.Conditions, returns.IsDamage)
	if in.Complaint == "other" && in.ComplaintText == "" {
		return answer{}, wrong(v.say("returns.otherwords"))
	}
	number, err := v.site.Store.Returns.OpenCaseOf(v.ctx(), serial)
	if err != nil {
		return answer{}, err
	}
	if number == 0 {
		_, err = v.site.Store.Returns.OpenCase(v.ctx(), serial, code, in)
		return answer{Go: unitAddress(serial)}, v.asStage(err)
	}
	c, err := v.site.Store.Returns.Case(v.ctx(), number)
	if err != nil {
		return answer{}, err
	}
	return answer{Go: unitAddress(serial)}, v.asStage(v.site.Store.Returns.CorrectIntake(v.ctx(), c, in))
}}

// productOfSerial finds what a unit is: as it was tested, else by its number.
func (v *visit) productOfSerial(serial string) (string, error) {
	runs, err := v.site.Store.Runs.Unit(v.ctx(), serial)
	if err != nil {
		return "", err
	}
	if len(runs) > 0 {
		return runs[len(runs)-1].Run.Product, nil
	}
	i := slices.IndexFunc(v.products(), func(p *product.Product) bool { return bench.AdmitSerial(p, serial) == nil })
	if i < 0 {
		return "", wrong(v.say("returns.unknown", serial))
	}
	return v.products()[i].Code, nil
}

// caseOfForm is the case a form is about.
func (v *visit) caseOfForm() (returns.Case, error) { return v.caseNumbered(v.r.FormValue("case")) }

// caseNumbered finds a case by what was written as its number.
func (v *visit) caseNumbered(text string) (returns.Case, error) {
	number, err := strconv.ParseInt(text, 10, 64)
	if err != nil {
		return returns.Case{}, notFound(v.say("error.nowhere"))
	}
	c, err := v.site.Store.Returns.Case(v.ctx(), number)
	if errors.Is(err, store.ErrNotFound) {
		return c, notFound(v.say("error.nowhere"))
	}
	return c, err
}

// disposeAction closes a case, or opens it again. What its stages do not support
// is refused.
var disposeAction = action{path: "/returns/dispose", who: desk, do: func(v *visit) (answer, error) {
	c, err := v.caseOfForm()
	if err != nil {
		return answer{}, err
	}
	d := returns.Disposition{Code: v.r.FormValue("code"), Reason: strings.TrimSpace(v.r.FormValue("reason")), By: v.Person.Name}
	return answer{Go: unitAddress(c.Serial)}, v.asStage(v.site.Store.Returns.Dispose(v.ctx(), c, d))
}}

// The exercise that the page offers: no miss in so many presses bounds how often
// a key misses at 1 % with 95 % confidence; then each key is held and watched.
const (
	boundOfExercise = 0.01
	heldInExercise  = 2 * time.Second
)

// stageAction makes the next stage of a case on a lane. The store refuses what
// is out of order; the lane shows how far it is.
var stageAction = action{path: "/returns/stage", who: desk, do: func(v *visit) (answer, error) {
	c, err := v.caseOfForm()
	if err != nil {
		return answer{}, err
	}
	n, lane, err := v.laneOfForm()
	if err != nil {
		return answer{}, err
	}
	r := &bench.Return{Case: c, Purpose: sequence.Purpose(v.r.FormValue("purpose"))}
	if r.Purpose == sequence.Exercise {
		r.Exercising = sequence.Exercising{Presses: decide.PressesFor(boundOfExercise), Hold: heldInExercise}
	}
	if err := v.asStage(c.Allows(r.Purpose)); err != nil {
		return answer{}, err
	}
	if at := v.laneWith(c.Serial); at > 0 && at != n {
		return answer{}, wrong(v.say("stage.runs", at))
	}
	if c.Done(r.Purpose) { // from a page that was loaded before: the page itself offers it no more
		return answer{}, wrong(v.say("stage.made", v.say("purpose."+word(string(r.Purpose)))))
	}
	if !v.site.controls[n-1].use("desk "+v.Person.Name, v.Person.Name) {
		return answer{}, v.held(n)
	}
	lane.Scan(bench.Scan{Serial: c.Serial, Operator: v.Person.Name, Return: r})
	return answer{Go: "/lane/" + strconv.Itoa(n)}, nil
}}

// photoAction keeps a picture with a case.
var photoAction = action{path: "/returns/photo", who: desk, files: true, do: func(v *visit) (answer, error) {
	c, err := v.caseOfForm()
	if err != nil {
		return answer{}, err
	}
	if v.r.MultipartForm == nil || len(v.r.MultipartForm.File["photo"]) == 0 {
		return answer{}, wrong(v.say("returns.nophoto"))
	}
	v.site.photos.Lock()
	defer v.site.photos.Unlock()
	for _, header := range v.r.MultipartForm.File["photo"] {
		content, err := readAll(header)
		if err != nil {
			return answer{}, err
		}
		photo := returns.Photo{ContentType: http.DetectContentType(content), Name: header.Filename, Note: strings.TrimSpace(v.r.FormValue("note")), By: v.Person.Name}
		if !strings.HasPrefix(photo.ContentType, "image/") {
			return answer{}, wrong(v.say("returns.nopicture", header.Filename))
		}
		_, err = v.site.Store.Returns.AddPhoto(v.ctx(), c, content, photo)
		switch {
		case errors.Is(err, returns.ErrPictureSize), errors.Is(err, returns.ErrNoPhoto):
			return answer{}, wrong(v.say("returns.photorefused", header.Filename, err))
		case err != nil:
			return answer{}, err
		}
	}
	return answer{Go: unitAddress(c.Serial)}, nil
}}

package page

import (
	"net/http"
	"strings"
)

// Problem is an error a person is told, with the status that fits it.
type Problem struct {
	Status int
	Say    string
	Fields []Mistake // what is wrong with what was typed; none: it concerns no field
	Code   string    // of what a lane or the records refused; empty where the sentence has a key, see [Visit.Code]
}

// Mistake is what is wrong with a field of a form, by the name the form has for it.
type Mistake struct {
	Field string `json:"field"`
	Say   string `json:"say"`
}

func (p *Problem) Error() string { return p.Say }

// Fail is a problem with its status.
func Fail(status int, say string) error { return &Problem{Status: status, Say: say} }

// NotFound is of what there is nothing.
func NotFound(say string) error { return Fail(http.StatusNotFound, say) }

// Wrong is what was asked for in a way that cannot be.
func Wrong(say string) error { return Fail(http.StatusUnprocessableEntity, say) }

// Refused is what this person may not do.
func Refused(say string) error { return Fail(http.StatusForbidden, say) }

// Conflict is what cannot be done as things stand.
func Conflict(say string) error { return Fail(http.StatusConflict, say) }

// WrongField is what is wrong with one field of a form.
func WrongField(field, say string) error { return WrongFields(Mistake{field, say}) }

// WrongFields is all that is wrong with the fields of a form, at once; nil when nothing is.
func WrongFields(mistakes ...Mistake) error {
	if len(mistakes) == 0 {
		return nil
	}
	says := make([]string, len(mistakes))
	for i, m := range mistakes {
		says[i] = m.Say
	}
	return &Problem{Status: http.StatusUnprocessableEntity, Say: strings.Join(says, " "), Fields: mistakes}
}

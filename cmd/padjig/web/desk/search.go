package desk

import (
	"errors"
	"net/url"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results/returns"
)

// mostCases is how many cases stand on the page.
const mostCases = 50

// list shows the cases that the address asks for. A unit is scanned on any page but a
// lane's, or its number is written here.
func (k *cases) list(v *page.Visit) (any, error) {
	q := returns.Search{Serial: v.Text("serial"), Customer: v.Text("customer"), Complaint: v.Value("complaint"), Words: v.Text("words"),
		State: v.Value("state"), Sort: v.Value("sort"), Most: mostCases}
	var err error
	if older := v.Text("older"); older != "" {
		if q.Older, err = strconv.Atoi(older); err != nil {
			return nil, page.Wrong(v.Say("search.days", older))
		}
	}
	found, err := k.store.Returns.Find(v.Ctx(), q)
	if errors.Is(err, returns.ErrSearch) {
		return nil, page.Wrong(v.Say("search.refused", err))
	}
	if err != nil {
		return nil, err
	}
	view := returnsView{Found: found.All, Shown: len(found.Cases), Search: q, Any: q != (returns.Search{Sort: q.Sort, Most: mostCases})}
	for _, c := range found.Cases {
		view.Cases = append(view.Cases, lineOf(v.Words, c))
	}
	view.form(v, q)
	return view, nil
}

// returnsView is the list of cases, and how it was asked for.
type returnsView struct {
	Found      int            `json:"found"`
	Cases      []caseLine     `json:"cases"`
	Shown      int            `json:"-"`
	Any        bool           `json:"-"` // something is asked for
	Search     returns.Search `json:"-"`
	Older      string         `json:"-"`
	Complaints []page.Option  `json:"-"`
	States     []chip         `json:"-"`
	Ages       []chip         `json:"-"`
	Heads      []head         `json:"-"`
}

// chip is one of several answers to a question, an address each.
type chip struct {
	Text, Href string
	Here       bool
}

// ages are those that are asked for often, in days.
var ages = []int{0, 7, 14, 30}

// form fills in what can be asked for, each with its address.
func (view *returnsView) form(v *page.Visit, q returns.Search) {
	if q.Older > 0 {
		view.Older = strconv.Itoa(q.Older)
	}
	for _, c := range returns.Complaints {
		view.Complaints = append(view.Complaints, page.Option{Value: c, Text: v.Say("complaint." + page.Key(c)), Chosen: c == q.Complaint})
	}
	for _, state := range []struct{ code, key string }{{"", "search.all"}, {returns.Open, "search.open"}, {returns.Closed, "search.closed"}} {
		to := q
		to.State = state.code
		view.States = append(view.States, chip{v.Say(state.key), searched(to), q.State == state.code})
	}
	for _, days := range ages {
		to, text := q, v.Say("search.anyage")
		if to.Older = days; days > 0 {
			text = v.Say("search.older", days)
		}
		view.Ages = append(view.Ages, chip{text, searched(to), q.Older == days})
	}
	by, down := strings.CutPrefix(q.Sort, "-")
	for _, name := range returns.SortedBy {
		to, h := q, head{Name: name, Text: v.Say("search.by." + name)}
		if to.Sort = name; by == name {
			h.Sort = map[bool]string{true: "descending", false: "ascending"}[down]
			if !down {
				to.Sort = "-" + name
			}
		}
		h.Href = searched(to)
		view.Heads = append(view.Heads, h)
	}
}

// searched is the address of a search.
func searched(q returns.Search) string {
	values := url.Values{}
	for name, value := range map[string]string{"serial": q.Serial, "customer": q.Customer, "complaint": q.Complaint, "words": q.Words, "state": q.State, "sort": q.Sort} {
		if value != "" {
			values.Set(name, value)
		}
	}
	if q.Older > 0 {
		values.Set("older", strconv.Itoa(q.Older))
	}
	if len(values) == 0 {
		return "/returns"
	}
	return "/returns?" + values.Encode()
}

// caseLine is a case in a list.
type caseLine struct {
	Number    int64     `json:"number"`
	Serial    string    `json:"serial"`
	Product   string    `json:"product"`
	Received  time.Time `json:"received,omitzero"`
	Customer  string    `json:"customer"`
	Complaint string    `json:"complaint"`
	Words     string    `json:"words,omitempty"` // the customer's own
	State     string    `json:"state"`
	Closed    bool      `json:"closed"`
	Simulated bool      `json:"simulated"`
}

func lineOf(v page.Words, c returns.Case) caseLine {
	in, state := c.Intake(), v.Say("case.open")
	if c.Closed() {
		state = v.Say("dispose." + page.Key(c.Disposition().Code))
	}
	return caseLine{c.Number, c.Serial, c.Product, in.Received, in.Customer, v.Say("complaint." + page.Key(in.Complaint)), in.ComplaintText,
		state, c.Closed(), c.Simulated()}
}

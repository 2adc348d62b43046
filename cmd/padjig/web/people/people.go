// Package people is who may use the station: accounts, their roles, passwords and badges,
// and the sessions that are open. What is decided here is recorded with who decided it.
package people

import (
	"errors"
	"fmt"
	"html/template"
	"slices"
	"strings"
	"time"
	"unicode"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/report/barcode"
)

// Where the accounts are, and the sheet of a badge.
const (
	path      = "/accounts"
	badgePage = "badge"
)

type pages struct{ store *results.Store }

// Set is what there is to see and to do, for engineers who came by a password.
func Set(store *results.Store) page.Set {
	p := &pages{store}
	set := page.Set{
		Pages: []page.Page{
			{Path: path, Name: "accounts", Menu: "menu.accounts", Who: page.Engineers, View: p.list},
			// A badge is shown in answer to its making, and never again.
			{Path: path + "/badge", Name: badgePage, Who: page.Engineers, Bare: true,
				View: func(*page.Visit) (any, error) { return page.Elsewhere(path), nil }},
		},
	}
	for name, do := range map[string]func(*page.Visit) (page.Answer, error){
		"/add": p.add, "/role": p.role, "/password": p.password, "/badge": p.badge, "/end": p.end,
		"/lock": p.decided(accounts.AccountLocked), "/unlock": p.decided(accounts.AccountUnlocked), "/close": p.decided(accounts.AccountClosed),
	} {
		set.Actions = append(set.Actions, page.Action{Path: path + name, Who: page.Engineers, Do: func(v *page.Visit) (page.Answer, error) {
			if !v.Person.Strong {
				return page.Answer{}, page.Refused(v.Say("error.weak"))
			}
			return do(v)
		}})
	}
	return set
}

// List is all accounts, the open sessions, and what was decided.
type List struct {
	Accounts []Row         `json:"accounts"`
	Sessions []Session     `json:"sessions"`
	Decided  []Decision    `json:"decided"`
	Roles    []page.Option `json:"-"`
	Strong   bool          `json:"-"`
}

// Row is an account.
type Row struct {
	Name     string        `json:"name"`
	Role     string        `json:"role"`
	Password bool          `json:"password"`
	Badge    bool          `json:"badge"`
	Locked   bool          `json:"locked"`
	Since    time.Time     `json:"since,omitzero"`
	Last     bool          `json:"last"` // engineer with a password: stays one
	Own      bool          `json:"own"`
	Roles    []page.Option `json:"-"`
}

// Session is a browser that somebody is signed in with.
type Session struct {
	Seq  int64     `json:"seq"`
	Name string    `json:"name"`
	How  string    `json:"how"`
	At   time.Time `json:"at,omitzero"`
	Own  bool      `json:"own"`
}

// Decision is one thing that was decided about an account.
type Decision struct {
	At   time.Time `json:"at,omitzero"`
	Name string    `json:"name"`
	What string    `json:"what"`
	By   string    `json:"by"`
}

// shownDecisions are the newest.
const shownDecisions = 50

func (p *pages) list(v *page.Visit) (any, error) {
	all, err := p.store.Accounts.Accounts(v.Ctx())
	if err != nil {
		return nil, err
	}
	out := List{Accounts: []Row{}, Sessions: []Session{}, Decided: []Decision{}, Roles: roles(v, account.Operator), Strong: v.Person.Strong}
	answer := slices.DeleteFunc(slices.Clone(all), func(a accounts.Account) bool { return !a.Answers() })
	for _, a := range all {
		out.Accounts = append(out.Accounts, Row{a.Name, a.Role, a.Password != "", a.Badge != "", a.Locked, a.Since,
			len(answer) == 1 && answer[0].Name == a.Name, a.Name == v.Person.Name, roles(v, account.Role(a.Role))})
	}
	open, err := p.store.Accounts.OpenSessions(v.Ctx(), time.Now().Add(-door.LongestSession))
	if err != nil {
		return nil, err
	}
	for _, s := range open {
		out.Sessions = append(out.Sessions, Session{s.Seq, s.Name, s.How, s.At, s.Seq == v.Person.Session})
	}
	said, err := p.store.Accounts.Decided(v.Ctx(), shownDecisions)
	for _, e := range said {
		role := ""
		if e.Role != "" {
			role = v.Say("role." + e.Role)
		}
		out.Decided = append(out.Decided, Decision{e.At, e.Name, v.Say("accounts.did."+string(e.Kind), role), e.By})
	}
	return out, err
}

func roles(v *page.Visit, chosen account.Role) (out []page.Option) {
	for _, r := range account.Roles {
		out = append(out, page.Option{Value: string(r), Text: v.Say("role." + string(r)), Chosen: r == chosen})
	}
	return out
}

// decide records what is decided about an account, and shows the accounts again.
func (p *pages) decide(v *page.Visit, events ...accounts.AccountEvent) (page.Answer, error) {
	for i := range events {
		events[i].By = v.Person.Name
	}
	err := p.store.Accounts.Decide(v.Ctx(), events...)
	name := events[0].Name
	if like, is := errors.AsType[*accounts.LikeAnother](err); is {
		return page.Answer{}, page.WrongField("name", v.Say("accounts.like", like.Name))
	}
	if of, is := errors.AsType[*accounts.OfPlantError](err); is {
		return page.Answer{}, page.Conflict(v.Say("accounts.plant", of.Name))
	}
	switch {
	case errors.Is(err, accounts.ErrLastEngineer):
		return page.Answer{}, page.Conflict(v.Say("accounts.last", name))
	case errors.Is(err, accounts.ErrNoAccount):
		return page.Answer{}, page.NotFound(v.Say("accounts.none", name))
	}
	return page.Answer{Go: path}, err
}

// decided is one decision without anything beside it.
func (p *pages) decided(kind accounts.AccountEventKind) func(*page.Visit) (page.Answer, error) {
	return func(v *page.Visit) (page.Answer, error) {
		return p.decide(v, accounts.AccountEvent{Name: v.Value("name"), Kind: kind})
	}
}

// longestName is in characters.
const longestName = 60

// add makes an account, with a password or with a badge.
func (p *pages) add(v *page.Visit) (page.Answer, error) {
	name := strings.Join(strings.Fields(v.Value("name")), " ")
	if n := len([]rune(name)); n == 0 || n > longestName || strings.ContainsFunc(name, unicode.IsControl) {
		return page.Answer{}, page.WrongField("name", v.Say("accounts.name", longestName))
	}
	role, err := roleOf(v)
	if err != nil {
		return page.Answer{}, err
	}
	all, err := p.store.Accounts.Accounts(v.Ctx())
	if err != nil {
		return page.Answer{}, err
	}
	if slices.ContainsFunc(all, func(a accounts.Account) bool { return a.Name == name }) { // the terminal changes it: here that has its own forms
		return page.Answer{}, page.WrongField("name", v.Say("accounts.known", name))
	}
	made := accounts.AccountEvent{Name: name, Kind: accounts.AccountRole, Role: string(role)}
	if v.Value("way") == "badge" {
		return p.print(v, made)
	}
	hash, err := passwordOf(v)
	if err != nil {
		return page.Answer{}, err
	}
	return p.decide(v, made, accounts.AccountEvent{Name: name, Kind: accounts.AccountPassword, Secret: hash})
}

func roleOf(v *page.Visit) (account.Role, error) {
	role := account.Role(v.Value("role"))
	if !slices.Contains(account.Roles, role) {
		return "", page.WrongField("role", v.Say("accounts.norole"))
	}
	return role, nil
}

// passwordOf is a password that was typed twice, as it is kept.
func passwordOf(v *page.Visit) (hash string, err error) {
	if v.Value("password") != v.Value("again") {
		return "", page.WrongField("again", v.Say("accounts.differ"))
	}
	hash, err = account.HashPassword(v.Value("password"))
	if refused, is := errors.AsType[*account.PasswordRefused](err); is {
		err = page.WrongField("password", v.Say("accounts.password."+refused.Why, refused.Have, refused.Bound))
	}
	return hash, err
}

func (p *pages) role(v *page.Visit) (page.Answer, error) {
	role, err := roleOf(v)
	if err != nil {
		return page.Answer{}, err
	}
	all, err := p.store.Accounts.Accounts(v.Ctx())
	if name := v.Value("name"); err == nil && !slices.ContainsFunc(all, func(a accounts.Account) bool { return a.Name == name }) {
		err = page.NotFound(v.Say("accounts.none", name)) // a role would make one
	}
	if err != nil {
		return page.Answer{}, err
	}
	return p.decide(v, accounts.AccountEvent{Name: v.Value("name"), Kind: accounts.AccountRole, Role: string(role)})
}

func (p *pages) password(v *page.Visit) (page.Answer, error) {
	hash, err := passwordOf(v)
	if err != nil {
		return page.Answer{}, err
	}
	return p.decide(v, accounts.AccountEvent{Name: v.Value("name"), Kind: accounts.AccountPassword, Secret: hash})
}

func (p *pages) badge(v *page.Visit) (page.Answer, error) {
	return p.print(v, accounts.AccountEvent{Name: v.Value("name")})
}

// Badge is a badge to be printed: whoever makes it sees its code, once.
type Badge struct {
	Name string        `json:"name"`
	Code string        `json:"code"`
	Bars template.HTML `json:"-"`
}

// module is how many millimetres wide the finest bar of a badge is at most.
const module = 0.4

// print gives an account a new badge, after what makes the account if it is new.
func (p *pages) print(v *page.Visit, of accounts.AccountEvent) (page.Answer, error) {
	code := account.NewBadge()
	events := []accounts.AccountEvent{{Name: of.Name, Kind: accounts.AccountBadge, Secret: account.HashBadge(code)}}
	if of.Kind != "" {
		events = append([]accounts.AccountEvent{of}, events...)
	}
	if _, err := p.decide(v, events...); err != nil {
		return page.Answer{}, err
	}
	bars, err := barcode.Of(code)
	return page.Answer{Show: badgePage, View: Badge{of.Name, code, bars.SVG(v.Say("codes.bars", code), module)}}, err
}

// end ends a session, whoever's.
func (p *pages) end(v *page.Visit) (page.Answer, error) {
	var seq int64
	if _, err := fmt.Sscan(v.Value("session"), &seq); err != nil {
		return page.Answer{}, page.NotFound(v.Say("accounts.nosession"))
	}
	open, err := p.store.Accounts.OpenSessions(v.Ctx(), time.Time{})
	if err == nil && !slices.ContainsFunc(open, func(s accounts.SessionStart) bool { return s.Seq == seq }) {
		err = page.NotFound(v.Say("accounts.nosession"))
	}
	if err != nil {
		return page.Answer{}, err
	}
	return page.Answer{Go: path}, p.store.Accounts.EndSession(v.Ctx(), seq, v.Person.Name)
}
